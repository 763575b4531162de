#include "cli/goal.hpp"

#include "cli/input/units.hpp"
#include "cli/joined.hpp"
#include "models/cautions.hpp"
#include "models/weather/calendar.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr std::string_view fire_risk = "fire_risk";
constexpr std::string_view volume_share = "volume_share";

/// Values of a formula at steps of `step_days`, and what a function makes of them.
double lowest(std::span<const double> values, double /*step_days*/) {
  return *std::ranges::min_element(values);
}
double highest(std::span<const double> values, double /*step_days*/) {
  return *std::ranges::max_element(values);
}
double mean(std::span<const double> values, double /*step_days*/) {
  double sum = 0.0;
  for (const double value : values) {
    sum += value;
  }
  return sum / static_cast<double>(values.size());
}
double final_value(std::span<const double> values, double /*step_days*/) {
  return values.back();
}
double days(std::span<const double> values, double step_days) {
  return step_days * static_cast<double>(std::ranges::count_if(values, is_true));
}
double days_in_a_row(std::span<const double> values, double step_days) {
  std::size_t longest = 0;
  std::size_t now = 0;
  for (const double value : values) {
    now = is_true(value) ? now + 1 : 0;
    longest = std::max(longest, now);
  }
  return step_days * static_cast<double>(longest);
}
double first_day(std::span<const double> values, double step_days) {
  const auto first = std::ranges::find_if(values, is_true);
  return first == values.end() ? missing : step_days * static_cast<double>(first - values.begin());
}

struct TimeFunction {
  std::string_view name;
  double (*of)(std::span<const double> values, double step_days);
};

constexpr std::array<TimeFunction, 7> time_functions = {{{"lowest", lowest},
                                                         {"highest", highest},
                                                         {"mean", mean},
                                                         {"final", final_value},
                                                         {"days", days},
                                                         {"days_in_a_row", days_in_a_row},
                                                         {"first_day", first_day}}};

const TimeFunction* find_function(std::string_view name) {
  const auto found = std::ranges::find(time_functions, name, &TimeFunction::name);
  return found == time_functions.end() ? nullptr : &*found;
}

bool in_name(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
         c == '.';
}

/// A name with a bracket behind it: where it begins, and what the bracket holds.
struct Call {
  std::size_t begin, end; ///< of all of it
  std::string_view name, inside;
};

/// The first call of one of our functions at or after `from`.
std::optional<Call> find_call(std::string_view text, std::size_t from) {
  for (std::size_t at = from; at < text.size();) {
    if (!in_name(text[at])) {
      ++at;
      continue;
    }
    std::size_t end = at;
    while (end < text.size() && in_name(text[end])) {
      ++end;
    }
    const std::string_view name = text.substr(at, end - at);
    std::size_t open = end;
    while (open < text.size() && text[open] == ' ') {
      ++open;
    }
    if (open < text.size() && text[open] == '(' &&
        (name == volume_share || find_function(name) != nullptr)) {
      int depth = 0;
      for (std::size_t close = open; close < text.size(); ++close) {
        depth += text[close] == '(' ? 1 : text[close] == ')' ? -1 : 0;
        if (depth == 0) {
          return Call{at, close + 1, name, text.substr(open + 1, close - open - 1)};
        }
      }
      throw UnitError(fmt::format("\"{}\": the \"(\" behind {} is not closed", text, name),
                      "write the \")\"");
    }
    at = end;
  }
  return std::nullopt;
}

/// Reads a formula in which something was replaced by as many other characters; a fault shows it as
/// it was written.
Expression read_as(std::string_view written, const std::string& replaced,
                   std::span<const std::string> names) {
  try {
    return {replaced, names};
  } catch (const UnitError& error) {
    std::string what = error.what();
    if (const auto at = what.find(replaced); at != std::string::npos) {
      what.replace(at, replaced.size(), written);
    }
    throw UnitError(what, error.remedy());
  }
}

/// Every date of the form 2026-04-01 as days since `start` at the end of that date, in as many
/// characters.
std::string without_dates(std::string text, const std::string& start) {
  namespace chrono = std::chrono;
  const auto build = models::parse_time(start);
  constexpr std::size_t length = 10;
  for (std::size_t at = 0; at + length <= text.size(); ++at) {
    const std::string_view word = std::string_view(text).substr(at, length);
    const auto is_digit = [&](std::size_t i) { return word[i] >= '0' && word[i] <= '9'; };
    bool date = word[4] == '-' && word[7] == '-' && (at == 0 || !in_name(text[at - 1])) &&
                (at + length == text.size() || !in_name(text[at + length]));
    for (const std::size_t i : {0U, 1U, 2U, 3U, 5U, 6U, 8U, 9U}) {
      date = date && is_digit(i);
    }
    if (!date) {
      continue;
    }
    const auto midnight = models::parse_time(std::string(word) + "T00:00");
    if (!midnight || !build) {
      throw UnitError(fmt::format("\"{}\": there is no {}", text, word),
                      "write a date of the calendar, for example 2026-04-01");
    }
    const double hours = static_cast<double>((*midnight + chrono::hours{24} - *build).count());
    if (!(hours >= 0.0)) {
      throw UnitError(fmt::format("\"{}\": {} is before the build", text, word),
                      fmt::format("write a date from {} on", start.substr(0, length)));
    }
    text.replace(at, length, fmt::format("{:<10.6g}", hours / 24.0));
  }
  return text;
}

/// Refuses a curve or a picture where one number is needed.
void refuse_outside_time(std::string_view text, const std::string& replaced,
                         const std::vector<std::string>& numbers,
                         const std::vector<std::string>& in_time) {
  for (std::size_t at = 0; at < replaced.size(); ++at) {
    std::size_t end = at;
    while (end < replaced.size() && in_name(replaced[end])) {
      ++end;
    }
    const std::string name = replaced.substr(at, end - at);
    if (std::ranges::count(in_time, name) > 0 && std::ranges::count(numbers, name) == 0) {
      throw UnitError(
          fmt::format("\"{}\", at character {}: {} is a curve, not one number", text, at + 1, name),
          fmt::format("say what of it: lowest({0}), highest({0}), mean({0}), final({0}), or for "
                      "how long: days({0} > 5)",
                      name));
    }
    at = std::max(at, end);
  }
}

template <class Named> std::vector<std::string> names_of(const std::vector<Named>& all) {
  std::vector<std::string> names;
  names.reserve(all.size());
  for (const Named& one : all) {
    names.push_back(one.name);
  }
  return names;
}

/// A stretch of the text.
struct Stretch {
  std::size_t begin, end;
};

Stretch trimmed(std::string_view text, Stretch one) {
  while (one.begin < one.end && text[one.begin] == ' ') {
    ++one.begin;
  }
  while (one.end > one.begin && text[one.end - 1] == ' ') {
    --one.end;
  }
  return one;
}

/// Words and signs outside of brackets, in order.
std::vector<Stretch> outer_words(std::string_view text) {
  std::vector<Stretch> words;
  constexpr std::string_view signs = "<>=!&|";
  int depth = 0;
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = at + 1;
    if (in_name(text[at])) {
      while (end < text.size() && in_name(text[end])) {
        ++end;
      }
    } else if (signs.find(text[at]) != std::string_view::npos) {
      while (end < text.size() && signs.find(text[end]) != std::string_view::npos) {
        ++end;
      }
    } else {
      depth += text[at] == '(' ? 1 : text[at] == ')' ? -1 : 0;
      at = end;
      continue;
    }
    if (depth == 0) {
      words.push_back({at, end});
    }
    at = end;
  }
  return words;
}

/// What is joined by `and`; all of it where there is an `or`.
std::vector<Stretch> conditions_in(std::string_view text) {
  std::vector<Stretch> found;
  std::size_t begin = 0;
  for (const Stretch& one : outer_words(text)) {
    const std::string_view word = text.substr(one.begin, one.end - one.begin);
    if (word == "or" || word == "||") {
      return {trimmed(text, {0, text.size()})};
    }
    if (word == "and" || word == "&&") {
      found.push_back(trimmed(text, {begin, one.begin}));
      begin = one.end;
    }
  }
  found.push_back(trimmed(text, {begin, text.size()}));
  return found;
}

/// A side of a comparison.
struct Side {
  Stretch at;
  int wanted; ///< 1 when more of it is better, -1 when less is, else 0
};

/// Both sides of a condition that is one comparison; none of one that is not.
std::vector<Side> sides_of(std::string_view text, Stretch condition) {
  const std::string_view inside = text.substr(condition.begin, condition.end - condition.begin);
  std::vector<Side> sides;
  for (const Stretch& one : outer_words(inside)) {
    const std::string_view word = inside.substr(one.begin, one.end - one.begin);
    if (word == "not" || word == "or" || word == "||" || word == "!") {
      return {};
    }
    if (word.find_first_of("<>=") != std::string_view::npos) {
      const int left = word.front() == '>' ? 1 : word.front() == '<' ? -1 : 0;
      sides = {{trimmed(text, {condition.begin, condition.begin + one.begin}), left},
               {trimmed(text, {condition.begin + one.end, condition.end}), -left}};
    }
  }
  return sides;
}

} // namespace

struct Goal::Run {
  const models::ForecastResult& result;
  double fire_risk;

  /// The first value of a curve, or of a picture's cell.
  [[nodiscard]] const double* first(const std::string& name, bool of_cell, std::size_t cell) const {
    return of_cell
               ? std::ranges::find(result.fields, name, &models::Field::name)->values.data() + cell
               : result.find_series(name)->values.data();
  }
  [[nodiscard]] double number(const std::string& name) const {
    return name == heapcast::cli::fire_risk ? fire_risk : result.find_scalar(name)->value;
  }
};

struct Goal::Part {
  const TimeFunction* function = nullptr;    ///< null: the share of the volume
  std::optional<Expression> over_time;       ///< of curves or pictures
  std::shared_ptr<const Formula> over_cells; ///< of the share
  bool of_cell = false;
};

struct Goal::Formula {
  Over over;
  Expression expression;
  std::vector<std::string> part_names; ///< in the expression
  std::vector<Part> parts;
};

Goal::Goal(std::string_view text, const models::ForecastResult& sample, const std::string& start)
    : needs_pictures_(text.find(volume_share) != std::string_view::npos) {
  const std::string dated = without_dates(std::string(text), start);
  // All of it first: faults are told by their place in it.
  [[maybe_unused]] const auto whole = read(dated, Over::run, sample);
  const auto part = [&](std::string_view of, Stretch one) {
    return of.substr(one.begin, one.end - one.begin);
  };
  for (const Stretch& condition : conditions_in(text)) { // dates take as much place in both
    Formulas formulas{read(part(dated, condition), Over::run, sample), nullptr};
    Condition& told = conditions_.emplace_back();
    told.text = part(text, condition);
    for (const Side& side : sides_of(text, condition)) {
      auto formula = read(part(dated, side.at), Over::run, sample);
      if (!formulas.measured && !formula->expression.names().empty()) {
        formulas.measured = std::move(formula);
        told.measured = part(text, side.at);
        told.wanted = side.wanted;
      }
    }
    formulas_.push_back(std::move(formulas));
  }
}

std::shared_ptr<const Goal::Formula> Goal::read(std::string_view text, Over over,
                                                const models::ForecastResult& sample) {
  std::vector<std::string> names;
  if (over == Over::run) {
    names = names_of(sample.scalars);
    names.emplace_back(fire_risk);
  }
  const std::vector<std::string> in_time =
      over == Over::run ? names_of(sample.series) : names_of(sample.fields);
  std::string replaced(text);
  std::vector<std::string> part_names;
  std::vector<Part> parts;
  for (std::size_t from = 0;;) {
    const std::optional<Call> call = find_call(text, from);
    if (!call) {
      break;
    }
    from = call->end;
    Part& part = parts.emplace_back();
    part.of_cell = over == Over::cell;
    if (call->name == volume_share) {
      if (over == Over::cell) {
        throw UnitError(fmt::format("\"{}\": volume_share inside volume_share", text),
                        "use it once");
      }
      part.over_cells = read(call->inside, Over::cell, sample);
    } else {
      if (const auto nested = find_call(call->inside, 0)) {
        throw UnitError(fmt::format("\"{}\": {} inside {}", text, nested->name, call->name),
                        "give it a formula over curves, for example days(core_temperature >= 55)");
      }
      part.function = find_function(call->name);
      part.over_time.emplace(call->inside, in_time);
    }
    part_names.push_back(fmt::format("_{}", parts.size()));
    replaced.replace(call->begin, call->end - call->begin,
                     fmt::format("{:<{}}", part_names.back(), call->end - call->begin));
  }
  if (over == Over::run) {
    refuse_outside_time(text, replaced, names, in_time);
  }
  if (over == Over::cell && parts.empty()) {
    throw UnitError(fmt::format("volume_share({}): nothing says when", text),
                    "write for example volume_share(days(temperature >= 55) >= 3), or "
                    "volume_share(highest(temperature) > 60)");
  }
  names.insert(names.end(), part_names.begin(), part_names.end());
  return std::make_shared<const Formula>(
      Formula{over, read_as(text, replaced, names), std::move(part_names), std::move(parts)});
}

double Goal::value(const Part& part, const Run& run, std::size_t cell) {
  const std::vector<double>& volumes = run.result.cell_volume_m3;
  if (part.over_cells) {
    double met = 0.0;
    double all = 0.0;
    for (std::size_t i = 0; i < volumes.size(); ++i) {
      met += is_true(value(*part.over_cells, run, i)) ? volumes[i] : 0.0;
      all += volumes[i];
    }
    return met / all;
  }
  const std::vector<double>& times = part.of_cell ? run.result.field_time_h : run.result.time_h;
  const std::vector<std::string>& names = part.over_time->names();
  const std::size_t step = part.of_cell ? volumes.size() : 1;
  std::vector<const double*> first(names.size());
  for (std::size_t i = 0; i < names.size(); ++i) {
    first[i] = run.first(names[i], part.of_cell, cell);
  }
  std::vector<double> values(times.size());
  std::vector<double> inputs(names.size());
  for (std::size_t time = 0; time < times.size(); ++time) {
    for (std::size_t i = 0; i < names.size(); ++i) {
      inputs[i] = first[i][time * step];
    }
    values[time] = part.over_time->value(inputs);
  }
  constexpr double hours_a_day = 24.0;
  return values.empty() ? missing
                        : part.function->of(
                              values, times.size() > 1 ? (times[1] - times[0]) / hours_a_day : 0.0);
}

double Goal::value(const Formula& formula, const Run& run, std::size_t cell) {
  std::vector<double> values;
  for (const std::string& name : formula.expression.names()) {
    const auto part = std::ranges::find(formula.part_names, name);
    values.push_back(
        part == formula.part_names.end()
            ? run.number(name)
            : value(formula.parts[static_cast<std::size_t>(part - formula.part_names.begin())], run,
                    cell));
  }
  return formula.expression.value(values);
}

Goal::Outcome Goal::outcome(const models::PileDescription& pile,
                            const models::ForecastResult& result) const {
  const auto all = models::cautions(models::caution_figures(pile, result));
  const auto fire = std::ranges::find(all, models::Danger::fire, &models::Caution::danger);
  if (fire == all.end()) {
    throw std::logic_error("there is no caution of fire");
  }
  const Run run{result, fire->applies ? 1.0 : 0.0};
  Outcome outcome{.met = true, .kept = {}, .measured = {}};
  for (const Formulas& one : formulas_) {
    outcome.kept.push_back(is_true(value(*one.holds, run, 0)));
    outcome.measured.push_back(one.measured ? value(*one.measured, run, 0) : missing);
    outcome.met = outcome.met && outcome.kept.back();
  }
  return outcome;
}

Goals read_goals(const PileFile& file) {
  Goals goals;
  const SizeRequest& size = file.size;
  if (size.goal.empty() && size.limit.empty()) {
    return goals;
  }
  // A day of it: any run of the pile has the names.
  models::PileDescription day = *file.pile;
  day.resolution = models::Resolution::coarse;
  day.horizon_days = std::min(day.horizon_days, 1.0);
  const models::ForecastResult sample = models::run_forecast(day);
  std::vector<Fault> faults;
  const auto read = [&](const std::string& text, const std::string& where) {
    std::unique_ptr<Goal> goal;
    try {
      if (!text.empty()) {
        goal = std::make_unique<Goal>(text, sample, file.pile->start);
      }
    } catch (const UnitError& error) {
      faults.push_back(error.fault(where));
    }
    return goal;
  };
  goals.goal = read(size.goal, size.goal_where);
  goals.limit = read(size.limit, size.limit_where);
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
  return goals;
}

} // namespace heapcast::cli
