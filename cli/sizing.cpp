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

const TriedSize& best(const Sizing& sizing, bool goal) {
  const auto count = [goal](const TriedSize& tried) { return asked_of(tried, goal).count(); };
  return *std::ranges::max_element(sizing.sizes, {}, count);
}

std::string not_found(const Wording& words, bool goal) {
  const Sizing& sizing = words.sizing;
  const TriedSize& tried = best(sizing, goal);
  return fmt::format("No {} from {} to {} {} \"{}\" with a probability of {}: the best is {} at {} "
                     "({}).",
                     size_name(sizing.request.by), words.size(sizing.from), words.size(sizing.to),
                     goal ? "reaches" : "keeps to",
                     goal ? sizing.request.goal : sizing.request.limit,
                     percent(sizing.request.probability), percent(asked_of(tried, goal).share()),
                     words.size(tried.size), chance(asked_of(tried, goal)));
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

std::string answer_of(const Wording& words, const SizeAnswer& answer, bool goal) {
  if (!answer.search.found) {
    return not_found(words, goal);
  }
  const Sizing& sizing = words.sizing;
  const TriedSize& tried = sizing.sizes[answer.tried];
  std::string text = fmt::format(
      "The {} {} that {} \"{}\" with a probability of {} is {} ({} of materials, {}): {}.",
      goal ? "smallest" : "largest", size_name(sizing.request.by), goal ? "reaches" : "keeps to",
      goal ? sizing.request.goal : sizing.request.limit, percent(sizing.request.probability),
      words.size(tried.size), words.volume(tried), words.mass(tried),
      chance(asked_of(tried, goal)));
  if (answer.search.at_low_end) {
    text += fmt::format(" It is the {} that was tried: a {} one may do as well.",
                        goal ? "smallest" : "largest", goal ? "smaller" : "larger");
  }
  return text + not_monotone(words, answer, goal);
}

/// Whether there is a size that does both, when both were asked and found.
std::string both_of(const Wording& words) {
  const Sizing& sizing = words.sizing;
  if (!sizing.smallest.search.found || !sizing.largest.search.found) {
    return "";
  }
  return sizing.contradicts() ? std::string("No size does both.")
                              : fmt::format("Between {} and {} it does both.",
                                            words.size(sizing.sizes[sizing.smallest.tried].size),
                                            words.size(sizing.sizes[sizing.largest.tried].size));
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

std::string table(const Wording& words, bool utf8) {
  const Sizing& sizing = words.sizing;
  const std::size_t mass_columns = words.units == DisplayUnits::us ? 15 : 8;
  const bool goal = !sizing.request.goal.empty();
  const bool limit = !sizing.request.limit.empty();
  std::string text = fmt::format(
      "{:>9} {:>9} {:>{}}   {}{}\n", size_name(sizing.request.by), "volume", "mass", mass_columns,
      goal ? padded("reaches the goal", 20) : "", limit ? "keeps to the limit" : "");
  for (const TriedSize& tried : sizing.sizes) {
    text += fmt::format("{:>9} {:>9} {:>{}}   {}{}", words.size(tried.size), words.volume(tried),
                        words.mass(tried), mass_columns,
                        goal ? padded(row(tried.goal, utf8), 20) : "", row(tried.limit, utf8));
    text.erase(text.find_last_not_of(' ') + 1);
    text += '\n';
  }
  return text;
}

std::string helps_text(const Wording& words, bool utf8) {
  const Sizing& sizing = words.sizing;
  if (sizing.helps.empty() && sizing.cannot.empty()) {
    return "";
  }
  std::string text =
      fmt::format("\nTried as a help, each by itself, at {}:\n",
                  words.size(sizing.helps.empty() ? best(sizing, !sizing.request.goal.empty()).size
                                                  : sizing.helps.front().size));
  constexpr std::size_t label = 40;
  for (const TriedSize& tried : sizing.helps) {
    text += fmt::format(
        "  {} {}{}", padded(clean(in_display_units(tried.help, words.units), utf8), label),
        tried.goal.asked() ? fmt::format("goal {:<6}", percent(tried.goal.share())) : "",
        tried.limit.asked() ? fmt::format(" limit {}", percent(tried.limit.share())) : "");
    text.erase(text.find_last_not_of(' ') + 1);
    text += '\n';
  }
  for (const std::string& one : sizing.cannot) {
    text += wrapped(clean(in_display_units(one, words.units), utf8), 2, screen_columns);
  }
  return text;
}

} // namespace

std::size_t RunsMet::count() const {
  return static_cast<std::size_t>(std::ranges::count(by_run, true));
}

double RunsMet::share() const {
  return by_run.empty() ? 0.0 : static_cast<double>(count()) / static_cast<double>(by_run.size());
}

bool Sizing::contradicts() const {
  return smallest.search.found && largest.search.found &&
         sizes[smallest.tried].size > sizes[largest.tried].size;
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

std::string sizing_answer(const Sizing& sizing) {
  const Wording words{sizing, DisplayUnits::metric};
  std::vector<std::string> parts;
  if (!sizing.request.goal.empty()) {
    parts.push_back(answer_of(words, sizing.smallest, true));
  }
  if (!sizing.request.limit.empty()) {
    parts.push_back(answer_of(words, sizing.largest, false));
  }
  if (const std::string both = both_of(words); !both.empty()) {
    parts.push_back(both);
  }
  return joined(parts, " ");
}

std::string sizing_text(const Sizing& sizing, const std::vector<std::string>& saved, bool utf8,
                        DisplayUnits units) {
  const Wording words{sizing, units};
  std::string text = wrapped(clean(sizing.title, utf8), 0, screen_columns);
  text += fmt::format("{} runs of each size with the same draws\n\n", sizing.runs);
  if (!sizing.request.goal.empty()) {
    text += wrapped(clean(answer_of(words, sizing.smallest, true), utf8), 0, screen_columns);
  }
  if (!sizing.request.limit.empty()) {
    text += wrapped(clean(answer_of(words, sizing.largest, false), utf8), 0, screen_columns);
  }
  text += wrapped(both_of(words), 0, screen_columns);
  text += '\n' + table(words, utf8) + helps_text(words, utf8) + '\n';
  for (const TriedSize& tried : sizing.sizes) {
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
