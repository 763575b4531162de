#include "cli/sizing.hpp"

#include "cli/joined.hpp"
#include "cli/text_layout.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::size_t screen_columns = 80;

std::string percent(double share) {
  return fmt::format("{:.0f} %", 100.0 * share);
}

/// "16.2 t" or "17.9 short tons"
std::string shown(double value, std::string_view metric_unit, DisplayUnits units) {
  const DisplayUnit unit = display_unit(metric_unit, units);
  return fmt::format("{:.3g} {}{}", unit(value), unit.name, unit.name == "short ton" ? "s" : "");
}

/// What is said of a sizing, in one kind of units.
struct Wording {
  const Sizing& sizing;
  DisplayUnits units;

  [[nodiscard]] std::string size(double value) const {
    return shown(value, size_unit(sizing.request.by), units);
  }
  [[nodiscard]] std::string volume(const TriedSize& tried) const {
    return shown(tried.volume_m3, "m3", units);
  }
  [[nodiscard]] std::string mass(const TriedSize& tried) const {
    return shown(tried.mass_kg / 1000.0, "t", units);
  }
};

std::string chance(const RunsMet& met) {
  const ShareInterval interval = share_interval(met.count(), met.by_run.size());
  return fmt::format("in {} of {} runs, with more runs likely {:.0f} to {:.0f} %", met.count(),
                     met.by_run.size(), 100.0 * interval.low, 100.0 * interval.high);
}

/// The runs of what is asked, goal or limit.
const RunsMet& asked_of(const TriedSize& tried, bool goal) {
  return goal ? tried.goal : tried.limit;
}

const std::string& asked_text(const Sizing& sizing, bool goal) {
  return goal ? sizing.request.goal : sizing.request.limit;
}

const TriedSize& best(const SizeSearch& search, bool goal) {
  const auto count = [goal](const TriedSize& tried) { return asked_of(tried, goal).count(); };
  return *std::ranges::max_element(search.sizes, {}, count);
}

std::string not_found(const Wording& words, const SizeSearch& search, bool goal) {
  const Sizing& sizing = words.sizing;
  const TriedSize& tried = best(search, goal);
  const RunsMet& met = asked_of(tried, goal);
  const std::string text = fmt::format(
      "No {} from {} to {} {} \"{}\" with a probability of {}", size_name(sizing.request.by),
      words.size(sizing.from), words.size(sizing.to), goal ? "reaches" : "keeps to",
      asked_text(sizing, goal), percent(sizing.request.probability));
  return met.count() == 0 ? fmt::format("{}: none does in a single run.", text)
                          : fmt::format("{}: the best is {} at {} ({}).", text,
                                        percent(met.share()), words.size(tried.size), chance(met));
}

/// A place of the search as a size.
double as_size(double place, bool goal) {
  return std::exp(goal ? place : -place);
}

std::string not_monotone(const Wording& words, const SizeAnswer& answer, bool goal) {
  if (!answer.search.falls_at) {
    return "";
  }
  return fmt::format(" But not every {} one does: {} does not.", goal ? "larger" : "smaller",
                     words.size(as_size(*answer.search.falls_at, goal)));
}

std::string answer_of(const Wording& words, const SizeSearch& search, bool goal) {
  const Sizing& sizing = words.sizing;
  const SizeAnswer& answer = goal ? search.smallest : search.largest;
  if (!answer.search.found) {
    return not_found(words, search, goal);
  }
  const TriedSize& tried = search.sizes[answer.tried];
  std::string text = fmt::format(
      "The {} {} that {} \"{}\" with a probability of {} is {} ({} of materials, {}): {}.",
      goal ? "smallest" : "largest", size_name(sizing.request.by), goal ? "reaches" : "keeps to",
      asked_text(sizing, goal), percent(sizing.request.probability), words.size(tried.size),
      words.volume(tried), words.mass(tried), chance(asked_of(tried, goal)));
  if (answer.search.at_low_end) {
    text += fmt::format(" It is the {} that was tried: a {} one may do as well.",
                        goal ? "smallest" : "largest", goal ? "smaller" : "larger");
  }
  return text + not_monotone(words, answer, goal);
}

/// Whether there is a size that does both, when both were asked and found.
std::string both_of(const Wording& words, const SizeSearch& search) {
  if (!search.smallest.search.found || !search.largest.search.found) {
    return "";
  }
  return search.contradicts() ? std::string("No size does both.")
                              : fmt::format("Between {} and {} it does both.",
                                            words.size(search.sizes[search.smallest.tried].size),
                                            words.size(search.sizes[search.largest.tried].size));
}

/// What was asked, as far as it was.
std::vector<std::string> answers(const Wording& words, const SizeSearch& search) {
  const Sizing& sizing = words.sizing;
  std::vector<std::string> parts;
  for (const bool goal : {true, false}) {
    if (!asked_text(sizing, goal).empty()) {
      parts.push_back(answer_of(words, search, goal));
    }
  }
  if (std::string both = both_of(words, search); !both.empty()) {
    parts.push_back(std::move(both));
  }
  return parts;
}

/// A bar of up to ten characters.
std::string bar(double share, bool utf8) {
  std::string text;
  for (int i = 0; i < static_cast<int>(std::lround(10.0 * share)); ++i) {
    text += utf8 ? "\u2588" : "#";
  }
  return padded(text, 10);
}

std::string row(const RunsMet& met, bool utf8) {
  return met.asked() ? fmt::format("{:>6} {}", percent(met.share()), bar(met.share(), utf8)) : "";
}

std::string table(const Wording& words, const SizeSearch& search, bool utf8) {
  const Sizing& sizing = words.sizing;
  const bool goal = !sizing.request.goal.empty();
  const bool limit = !sizing.request.limit.empty();
  const std::size_t mass_columns = words.units == DisplayUnits::us ? 15 : 8;
  std::vector<std::string> lines = {fmt::format(
      "{:>9} {:>9} {:>{}}   {}{}", size_name(sizing.request.by), "volume", "mass", mass_columns,
      goal ? padded("reaches the goal", 20) : "", limit ? "keeps to the limit" : "")};
  for (const TriedSize& tried : search.sizes) {
    lines.push_back(fmt::format(
        "{:>9} {:>9} {:>{}}   {}{}", words.size(tried.size), words.volume(tried), words.mass(tried),
        mass_columns, goal ? padded(row(tried.goal, utf8), 20) : "", row(tried.limit, utf8)));
  }
  for (std::string& line : lines) {
    line.erase(line.find_last_not_of(' ') + 1);
  }
  return joined(lines, "\n") + '\n';
}

/// "0.84 in the middle run, 0.72 to 0.91 in most", or how often there is no value.
std::string in_the_middle(const std::vector<double>& values) {
  const models::Spread found = models::spread(values);
  if (std::isinf(found.mid)) {
    return fmt::format("there is no value in {} of {} runs", found.missing, values.size());
  }
  return fmt::format("{:.3g} in the middle run, {:.3g} to {} in 8 of 10", found.mid, found.low,
                     std::isinf(found.high) ? "no value at all"
                                            : fmt::format("{:.3g}", found.high));
}

/// What each condition comes to at the size that comes nearest.
std::string how_near(const Wording& words, bool utf8) {
  const Sizing& sizing = words.sizing;
  const TriedSize& tried = sizing.written.sizes[sizing.nearest];
  std::string text = fmt::format("\nHow near it comes at {}:\n", words.size(tried.size));
  for (const RunsMet* met : {&tried.goal, &tried.limit}) {
    for (const ConditionMet& one : met->conditions) {
      std::string line = fmt::format("\"{}\" holds in {} of {} runs", one.condition.text, one.kept,
                                     met->by_run.size());
      if (!one.condition.measured.empty()) {
        line += fmt::format("; {}: {}", one.condition.measured, in_the_middle(one.values));
      }
      text += wrapped(clean(line + '.', utf8), 2, screen_columns);
    }
  }
  return text;
}

/// "0.84", "none" of a number that the middle run does not have.
std::string middle(const RunsMet& met) {
  const ConditionMet* one = met.one_measured();
  if (one == nullptr) {
    return "";
  }
  const double value = models::spread(one->values).mid;
  return std::isfinite(value) ? fmt::format(" {:.3g}", value) : " none";
}

/// A help, what it makes of the chances, and what the goal comes to in the middle run.
std::string help_row(const Wording& words, const TriedSize& tried, const std::string& name,
                     bool utf8) {
  constexpr std::size_t label = 42;
  std::string text = fmt::format(
      "  {} {}{}", padded(clean(in_display_units(name, words.units), utf8), label),
      tried.goal.asked()
          ? fmt::format("goal {:<5}{:<9}", percent(tried.goal.share()), middle(tried.goal))
          : "",
      tried.limit.asked() ? fmt::format(" limit {}", percent(tried.limit.share())) : "");
  text.erase(text.find_last_not_of(' ') + 1);
  return text + '\n';
}

std::string helps_text(const Wording& words, bool utf8) {
  const Sizing& sizing = words.sizing;
  if (sizing.is_answered()) {
    return "";
  }
  const TriedSize& tried = sizing.written.sizes[sizing.nearest];
  const std::string size = words.size(tried.size);
  std::string text = how_near(words, utf8);
  text += fmt::format("\nTried as a help, each by itself, at {}:\n", size);
  text += help_row(words, tried, "as written", utf8);
  for (const TriedSize& one : sizing.helps) {
    text += help_row(words, one, one.help, utf8);
  }
  for (const std::string& one : sizing.cannot) {
    text += wrapped(clean(in_display_units(one, words.units), utf8), 2, screen_columns);
  }
  if (sizing.helped.sizes.empty()) {
    return text + (tried.goal.asked() && tried.limit.asked()
                       ? "None of them brings it nearer, nor do two together: one that does most\n"
                         "for the goal with one that does most for the limit.\n"
                       : "None of them brings it nearer.\n");
  }
  if (!sizing.together.empty()) {
    text += fmt::format("\nPut together as far as it helps, at {}:\n", size);
    std::size_t told = 0; // of the names
    if (sizing.best_help) {
      const TriedSize& best_one = sizing.helps[*sizing.best_help];
      text += help_row(words, best_one, best_one.help, utf8);
      told = best_one.help.size() + help_between.size();
    }
    for (const TriedSize& one : sizing.together) {
      std::string more = one.help.substr(told);
      if (const auto two = more.find(help_between); two != std::string::npos) {
        text +=
            fmt::format("  {}\n", clean(in_display_units(more.substr(0, two), words.units), utf8));
        more.erase(0, two + help_between.size());
      }
      text += help_row(words, one, "and " + more, utf8);
      told = one.help.size() + help_between.size();
    }
  }
  text += '\n' + wrapped(clean(fmt::format("With this ({}): {}",
                                           in_display_units(sizing.helped.help, words.units),
                                           joined(answers(words, sizing.helped), " ")),
                               utf8),
                         0, screen_columns);
  return text + '\n' + table(words, sizing.helped, utf8);
}

} // namespace

std::size_t RunsMet::count() const {
  return static_cast<std::size_t>(std::ranges::count(by_run, true));
}

double RunsMet::share() const {
  return by_run.empty() ? 0.0 : static_cast<double>(count()) / static_cast<double>(by_run.size());
}

const ConditionMet* RunsMet::one_measured() const {
  return conditions.size() == 1 && !conditions.front().condition.measured.empty()
             ? &conditions.front()
             : nullptr;
}

bool SizeSearch::contradicts() const {
  return smallest.search.found && largest.search.found &&
         sizes[smallest.tried].size > sizes[largest.tried].size;
}

bool Sizing::is_answered() const {
  return (request.goal.empty() || written.smallest.search.found) &&
         (request.limit.empty() || written.largest.search.found) && !written.contradicts();
}

std::string_view size_unit(models::SizeBy by) {
  return by == models::SizeBy::volume ? "m3" : "m";
}

std::string_view size_name(models::SizeBy by) {
  return by == models::SizeBy::height   ? "height"
         : by == models::SizeBy::length ? "length"
                                        : "volume";
}

ShareInterval share_interval(std::size_t met, std::size_t runs) {
  constexpr double z = 1.2815515655446004; // 90 % of the normal distribution lie below
  const auto n = static_cast<double>(runs);
  const double p = static_cast<double>(met) / n;
  const double middle = p + z * z / (2.0 * n);
  const double width = z * std::sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n));
  const double scale = 1.0 + z * z / n;
  return {std::max(0.0, (middle - width) / scale), std::min(1.0, (middle + width) / scale)};
}

std::string sizing_answer(const Sizing& sizing, const SizeSearch& search) {
  return joined(answers({sizing, DisplayUnits::metric}, search), " ");
}

std::string sizing_text(const Sizing& sizing, const std::vector<std::string>& saved, bool utf8,
                        DisplayUnits units) {
  const Wording words{sizing, units};
  std::string text = wrapped(clean(sizing.title, utf8), 0, screen_columns);
  text += fmt::format("{} runs of each size with the same draws\n\n", sizing.runs);
  for (const std::string& answer : answers(words, sizing.written)) {
    text += wrapped(clean(answer, utf8), 0, screen_columns);
  }
  text += '\n' + table(words, sizing.written, utf8) + helps_text(words, utf8) + '\n';
  for (const TriedSize& tried : sizing.written.sizes) {
    if (const std::size_t failed = tried.runs.result.failed.size(); failed > 0) {
      text += wrapped(fmt::format("At {} {} of the {} runs failed and count as not reaching "
                                  "anything; the first: {}",
                                  words.size(tried.size), failed, sizing.runs,
                                  clean(tried.runs.result.failed.front().reason, utf8)),
                      0, screen_columns);
    }
  }
  text += wrapped("A model's estimate: the runs span what is uncertain in the parameters and the "
                  "weather, not the errors of the model itself. Leave a margin, measure, and "
                  "follow local rules: what is said of heat is no proof of hygiene.",
                  0, screen_columns);
  if (!saved.empty()) {
    text += fmt::format("Saved      {}\n", clean(joined(saved), utf8));
  }
  return text;
}

} // namespace heapcast::cli
