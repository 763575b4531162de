#include "cli/report/results_reader.hpp"

#include "models/ensemble/ensemble.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace heapcast::cli {

namespace {

std::size_t product(const engine::Dataset& data, const std::vector<std::string>& dimensions) {
  std::size_t size = 1;
  for (const auto& name : dimensions) {
    const auto* dimension = data.dimension(name);
    size *= dimension == nullptr ? 0 : dimension->size;
  }
  return size;
}

bool is_over(const engine::Variable& variable, const std::vector<std::string>& dimensions) {
  return variable.dimensions == dimensions;
}

} // namespace

const engine::AttributeValue* find_attribute(const engine::Attributes& attributes,
                                             const std::string& name) {
  const auto found = std::find_if(attributes.begin(), attributes.end(),
                                  [&](const auto& entry) { return entry.first == name; });
  return found == attributes.end() ? nullptr : &found->second;
}

std::string attribute_text(const engine::AttributeValue* value) {
  if (value == nullptr) {
    return {};
  }
  if (const auto* text = std::get_if<std::string>(value)) {
    return *text;
  }
  if (const auto* number = std::get_if<double>(value)) {
    return fmt::format("{}", *number);
  }
  return fmt::format("{}", std::get<std::int64_t>(*value));
}

DisplayUnit shown_unit(const engine::Variable& variable, DisplayUnits units) {
  struct Shown {
    std::string text;
    double factor = 1.0;
  };
  static const std::map<std::string, Shown> shown = {{"1", {"%", 100.0}},
                                                     {"-", {""}},
                                                     {"percent", {"%"}},
                                                     {"degC", {"°C"}},
                                                     {"degF", {"°F"}},
                                                     {"m3", {"m³"}},
                                                     {"yd3", {"yd³"}},
                                                     {"m3/h", {"m³/h"}},
                                                     {"m3 h-1", {"m³/h"}},
                                                     {"mm h-1", {"mm/h"}},
                                                     {"in h-1", {"in/h"}},
                                                     {"L", {"litres"}},
                                                     {"litre", {"litres"}},
                                                     {"gal", {"gallons"}},
                                                     {"d", {"days"}},
                                                     {"day", {"days"}},
                                                     {"h", {"hours"}},
                                                     {"mmol O2/kg OM/h", {"mmol O₂/kg OM/h"}},
                                                     {"mmol kg-1 h-1", {"mmol/kg/h"}},
                                                     {"mg CO2-C/g OM/d", {"mg CO₂-C/g OM/d"}}};
  auto unit = attribute_text(find_attribute(variable.attributes, "display_units"));
  if (unit.empty()) {
    unit = attribute_text(find_attribute(variable.attributes, "units"));
  }
  const bool is_fraction = variable.name.ends_with("_fraction") ||
                           variable.name == "moisture_wet_basis" ||
                           variable.name == "free_air_space" || variable.name.ends_with("oxygen") ||
                           variable.name.starts_with("hygiene_volume_share_");
  if (unit == "1" && !is_fraction) {
    return {""};
  }
  DisplayUnit display = display_unit(unit, units);
  if (const auto found = shown.find(display.name); found != shown.end()) {
    display.name = found->second.text;
    display.factor *= found->second.factor;
  }
  return display;
}

std::string with_signs(std::string text) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 3> signs = {
      {{"degC", "°C"}, {"degF", "°F"}, {"O2", "O₂"}}};
  for (const auto& [spelt, sign] : signs) {
    for (auto at = text.find(spelt); at != std::string::npos; at = text.find(spelt, at)) {
      text.replace(at, spelt.size(), sign);
      at += sign.size();
    }
  }
  return text;
}

ResultsReader::ResultsReader(const engine::Dataset& data, DisplayUnits units)
    : data_(data), units_(units) {
  if (const auto* run = data.dimension("run"); run != nullptr && run->size > 0) {
    runs_ = run->size;
  }
  for (std::size_t run = 0; run < runs_; ++run) {
    failed_runs_ += failed(run) ? 1 : 0;
  }
}

const std::vector<double>& ResultsReader::axis_h(const std::string& name) const {
  static const std::vector<double> none;
  const auto* dimension = data_.dimension(name);
  return dimension == nullptr ? none : dimension->values;
}

double smallest(const std::vector<double>& values) {
  double result = std::numeric_limits<double>::quiet_NaN();
  for (const double value : values) {
    if (std::isfinite(value) && !(value >= result)) {
      result = value;
    }
  }
  return result;
}

double largest(const std::vector<double>& values) {
  double result = std::numeric_limits<double>::quiet_NaN();
  for (const double value : values) {
    if (std::isfinite(value) && !(value <= result)) {
      result = value;
    }
  }
  return result;
}

std::optional<Curve> ResultsReader::curve(const std::string& name, const std::string& axis) const {
  const auto* variable = data_.variable(name);
  const auto& time_h = axis_h(axis);
  if (variable == nullptr || time_h.empty() ||
      variable->values.size() != product(data_, variable->dimensions)) {
    return std::nullopt;
  }
  const bool spread = is_over(*variable, {"quantile", axis}) &&
                      variable->values.size() == models::spread_shares.size() * time_h.size();
  const bool single =
      is_over(*variable, {axis}) || (is_over(*variable, {"run", axis}) && runs_ == 1);
  if (!spread && !single) {
    return std::nullopt;
  }
  const auto unit = shown_unit(*variable, units_);
  const auto row = [&](std::size_t index) {
    const auto size = static_cast<std::ptrdiff_t>(time_h.size());
    const auto first = variable->values.begin() + static_cast<std::ptrdiff_t>(index) * size;
    std::vector<double> values(first, first + size);
    for (auto& value : values) {
      value = unit(value);
    }
    return values;
  };
  if (single) {
    return Curve{unit.name, row(0), {}, {}};
  }
  return Curve{unit.name, row(1), row(0), row(2)};
}

bool ResultsReader::failed(std::size_t run) const {
  const auto* failures = data_.variable("run_failure");
  return failures != nullptr && run < failures->texts.size() && !failures->texts[run].empty();
}

std::optional<Number> ResultsReader::number(const std::string& name) const {
  const auto* variable = data_.variable(name);
  if (variable == nullptr || variable->values.empty() ||
      !(variable->dimensions.empty() || is_over(*variable, {"run"})) ||
      variable->values.size() != product(data_, variable->dimensions)) {
    return std::nullopt;
  }
  const auto unit = shown_unit(*variable, units_);
  Number number;
  number.name = name;
  number.unit = unit.name;
  number.long_name = attribute_text(find_attribute(variable->attributes, "long_name"));
  if (number.long_name.empty()) {
    number.long_name = name;
  }
  const auto* reasons = data_.variable(name + "_reason");
  std::vector<double> values;
  for (std::size_t run = 0; run < variable->values.size(); ++run) {
    if (failed(run)) {
      continue;
    }
    const double value = unit(variable->values[run]);
    values.push_back(std::isfinite(value) ? value : std::numeric_limits<double>::quiet_NaN());
    if (std::isfinite(value)) {
      number.largest_size = std::max(number.largest_size, std::abs(value));
    } else if (number.reason.empty() && reasons != nullptr && run < reasons->texts.size()) {
      number.reason = reasons->texts[run];
    }
  }
  const models::Spread points = models::spread(std::move(values));
  number.low = points.low;
  number.mid = points.mid;
  number.high = points.high;
  number.missing_runs = points.missing;
  return number;
}

std::vector<Number> ResultsReader::numbers() const {
  std::vector<Number> all;
  for (const auto& variable : data_.variables) {
    if ((is_over(variable, {"run"}) || variable.dimensions.empty()) &&
        !variable.name.starts_with("parameter_")) {
      if (auto found = number(variable.name)) {
        all.push_back(std::move(*found));
      }
    }
  }
  return all;
}

std::vector<double> ResultsReader::field(const std::string& name) const {
  const auto* variable = data_.variable(name);
  if (variable == nullptr || variable->dimensions.size() < 2 ||
      variable->values.size() != product(data_, variable->dimensions)) {
    return {};
  }
  const bool of_one_run =
      variable->dimensions.size() == 3 && variable->dimensions.front() == "run" && runs_ == 1;
  if (!of_one_run && variable->dimensions.size() != 2) {
    return {};
  }
  const auto unit = shown_unit(*variable, units_);
  std::vector<double> values = variable->values;
  for (auto& value : values) {
    value = unit(value);
  }
  return values;
}

std::string ResultsReader::in_words(std::string_view text) const {
  return with_signs(in_display_units(text, units_));
}

std::string ResultsReader::text(const std::string& attribute) const {
  return attribute_text(data_.attribute(attribute));
}

template <typename Item>
std::vector<Item> ResultsReader::of_finished(const std::vector<Item>& by_run) const {
  std::vector<Item> finished;
  for (std::size_t run = 0; run < by_run.size() && by_run.size() == runs_; ++run) {
    if (!failed(run)) {
      finished.push_back(by_run[run]);
    }
  }
  return finished;
}

std::vector<std::string> ResultsReader::run_texts(const std::string& name) const {
  const auto* variable = data_.variable(name);
  return variable == nullptr ? std::vector<std::string>() : of_finished(variable->texts);
}

std::vector<double> ResultsReader::run_values(const std::string& name) const {
  const auto* variable = data_.variable(name);
  return variable == nullptr ? std::vector<double>() : of_finished(variable->values);
}

} // namespace heapcast::cli
