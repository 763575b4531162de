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

} // namespace

struct Goal::Run {
  const models::ForecastResult& result;
  double fire_risk;

  /// The curve, or the picture's values of one cell in time.
  [[nodiscard]] double at(const std::string& name, bool of_cell, std::size_t cell,
                          std::size_t time) const {
    if (!of_cell) {
      return result.find_series(name)->values[time];
    }
    const auto field = std::ranges::find(result.fields, name, &models::Field::name);
    return field->values[time * result.cell_volume_m3.size() + cell];
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
    : text_(text), needs_pictures_(text.find(volume_share) != std::string_view::npos),
      formula_(read(without_dates(text_, start), Over::run, sample)) {}

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
      met += holds(*part.over_cells, run, i) ? volumes[i] : 0.0;
      all += volumes[i];
    }
    return met / all;
  }
  const std::vector<double>& times = part.of_cell ? run.result.field_time_h : run.result.time_h;
  const std::vector<std::string>& names = part.over_time->names();
  std::vector<double> values;
  std::vector<double> inputs(names.size());
  for (std::size_t time = 0; time < times.size(); ++time) {
    for (std::size_t i = 0; i < names.size(); ++i) {
      inputs[i] = run.at(names[i], part.of_cell, cell, time);
    }
    values.push_back(part.over_time->value(inputs));
  }
  constexpr double hours_a_day = 24.0;
  return values.empty() ? missing
                        : part.function->of(
                              values, times.size() > 1 ? (times[1] - times[0]) / hours_a_day : 0.0);
}

bool Goal::holds(const Formula& formula, const Run& run, std::size_t cell) {
  std::vector<double> values;
  for (const std::string& name : formula.expression.names()) {
    const auto part = std::ranges::find(formula.part_names, name);
    values.push_back(
        part == formula.part_names.end()
            ? run.number(name)
            : value(formula.parts[static_cast<std::size_t>(part - formula.part_names.begin())], run,
                    cell));
  }
  return formula.expression.holds(values);
}

bool Goal::met(const models::PileDescription& pile, const models::ForecastResult& result) const {
  const auto all = models::cautions(models::caution_figures(pile, result));
  const auto fire = std::ranges::find(all, "Fire", &models::Caution::title);
  if (fire == all.end()) {
    throw std::logic_error("there is no caution of fire");
  }
  return holds(*formula_, {result, fire->applies ? 1.0 : 0.0}, 0);
}

} // namespace heapcast::cli
