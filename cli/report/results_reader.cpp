#include "cli/report/results_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace heapcast::cli {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Nearest-rank percentile of sorted values: the smallest with at least `share` of them at or
/// below.
double percentile(const std::vector<double>& sorted, double share) {
  const auto count = static_cast<double>(sorted.size());
  const double rank = std::clamp(std::ceil(share * count), 1.0, count);
  return sorted[static_cast<std::size_t>(rank) - 1];
}

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

ShownUnit shown_unit(const engine::Variable& variable) {
  static const std::map<std::string, ShownUnit> shown = {{"1", {"%", 100.0}},
                                                         {"-", {""}},
                                                         {"percent", {"%"}},
                                                         {"degC", {"°C"}},
                                                         {"m3", {"m³"}},
                                                         {"m3/h", {"m³/h"}},
                                                         {"m3 h-1", {"m³/h"}},
                                                         {"mm h-1", {"mm/h"}},
                                                         {"L", {"litres"}},
                                                         {"litre", {"litres"}},
                                                         {"d", {"days"}},
                                                         {"day", {"days"}},
                                                         {"h", {"hours"}},
                                                         {"mmol O2/kg OM/h", {"mmol O₂/kg OM/h"}},
                                                         {"mmol kg-1 h-1", {"mmol/kg/h"}}};
  auto unit = attribute_text(find_attribute(variable.attributes, "display_units"));
  if (unit.empty()) {
    unit = attribute_text(find_attribute(variable.attributes, "units"));
  }
  const bool is_fraction = variable.name.ends_with("_fraction") ||
                           variable.name == "moisture_wet_basis" ||
                           variable.name == "free_air_space" || variable.name.ends_with("oxygen");
  const auto found = shown.find(unit);
  if (found == shown.end()) {
    return {unit, 1.0};
  }
  if (unit == "1" && !is_fraction) {
    return {"", 1.0};
  }
  return found->second;
}

ResultsReader::ResultsReader(const engine::Dataset& data) : data_(data) {
  if (const auto* run = data.dimension("run"); run != nullptr && run->size > 0) {
    runs_ = run->size;
  }
  if (const auto* time = data.dimension("time"); time != nullptr) {
    time_h_ = time->values;
  }
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

std::optional<Curve> ResultsReader::curve(const std::string& name) const {
  const auto* variable = data_.variable(name);
  const std::size_t times = time_h_.size();
  if (variable == nullptr || times == 0) {
    return std::nullopt;
  }
  const bool by_run = is_over(*variable, {"run", "time"});
  const std::size_t runs = by_run ? runs_ : 1;
  if ((!by_run && !is_over(*variable, {"time"})) || variable->values.size() != runs * times) {
    return std::nullopt;
  }
  const auto unit = shown_unit(*variable);
  Curve curve;
  curve.unit = unit.text;
  curve.mid.resize(times);
  if (runs > 1) {
    curve.low.resize(times);
    curve.high.resize(times);
  }
  std::vector<double> sorted;
  for (std::size_t t = 0; t < times; ++t) {
    if (runs == 1) {
      curve.mid[t] = unit.factor * variable->values[t];
      continue;
    }
    sorted.clear();
    for (std::size_t run = 0; run < runs; ++run) {
      const double value = variable->values[run * times + t];
      if (std::isfinite(value)) {
        sorted.push_back(unit.factor * value);
      }
    }
    if (sorted.empty()) {
      curve.low[t] = curve.mid[t] = curve.high[t] = std::numeric_limits<double>::quiet_NaN();
      continue;
    }
    std::sort(sorted.begin(), sorted.end());
    curve.low[t] = percentile(sorted, 0.05);
    curve.mid[t] = percentile(sorted, 0.5);
    curve.high[t] = percentile(sorted, 0.95);
  }
  return curve;
}

std::optional<Number> ResultsReader::number(const std::string& name) const {
  const auto* variable = data_.variable(name);
  if (variable == nullptr || variable->values.empty() ||
      !(variable->dimensions.empty() || is_over(*variable, {"run"})) ||
      variable->values.size() != product(data_, variable->dimensions)) {
    return std::nullopt;
  }
  const auto unit = shown_unit(*variable);
  Number number;
  number.name = name;
  number.unit = unit.text;
  number.long_name = attribute_text(find_attribute(variable->attributes, "long_name"));
  if (number.long_name.empty()) {
    number.long_name = name;
  }
  const auto* reasons = data_.variable(name + "_reason");
  std::vector<double> sorted;
  for (std::size_t run = 0; run < variable->values.size(); ++run) {
    const double value = unit.factor * variable->values[run];
    if (std::isfinite(value)) {
      sorted.push_back(value);
      number.largest_size = std::max(number.largest_size, std::abs(value));
      continue;
    }
    sorted.push_back(infinity);
    ++number.missing_runs;
    if (number.reason.empty() && reasons != nullptr && run < reasons->texts.size()) {
      number.reason = reasons->texts[run];
    }
  }
  std::sort(sorted.begin(), sorted.end());
  number.low = percentile(sorted, 0.05);
  number.mid = percentile(sorted, 0.5);
  number.high = percentile(sorted, 0.95);
  return number;
}

std::vector<Number> ResultsReader::numbers() const {
  std::vector<Number> all;
  for (const auto& variable : data_.variables) {
    if (is_over(variable, {"run"}) || variable.dimensions.empty()) {
      if (auto found = number(variable.name)) {
        all.push_back(std::move(*found));
      }
    }
  }
  return all;
}

std::vector<double> ResultsReader::first_run_field(const std::string& name) const {
  const auto* variable = data_.variable(name);
  if (variable == nullptr || variable->dimensions.size() < 2 ||
      variable->values.size() != product(data_, variable->dimensions)) {
    return {};
  }
  const bool by_run = variable->dimensions.size() == 3 && variable->dimensions.front() == "run";
  if (!by_run && variable->dimensions.size() != 2) {
    return {};
  }
  const auto size = static_cast<std::ptrdiff_t>(variable->values.size() / (by_run ? runs_ : 1));
  const auto unit = shown_unit(*variable);
  std::vector<double> values(variable->values.begin(), variable->values.begin() + size);
  for (auto& value : values) {
    value *= unit.factor;
  }
  return values;
}

std::string ResultsReader::text(const std::string& attribute) const {
  return attribute_text(data_.attribute(attribute));
}

} // namespace heapcast::cli
