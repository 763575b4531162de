#pragma once

#include "cli/display_units.hpp"
#include "engine/results_file.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// A quantity through time as the report shows it. One run: `low` and `high` are empty. Several
/// runs: `mid` is the median over the runs, `low` and `high` their 10 % and 90 % points.
struct Curve {
  std::string unit; ///< as printed: "°C", "m³/h"
  std::vector<double> mid, low, high;
};

/// One number of a run, or its median and 10 % and 90 % points over the runs (`models::spread`). A
/// run without the number (NaN: not within the horizon) counts as later or larger than every run
/// that has it; a run that failed does not count.
struct Number {
  std::string name;
  std::string long_name; ///< the name when the file gives none
  std::string unit;
  double mid = 0.0, low = 0.0, high = 0.0; ///< low and high equal mid for one run
  double largest_size = 0.0;               ///< largest absolute value of any run
  std::size_t missing_runs = 0;
  std::string reason; ///< of the first run that lacks the number
};

/// Reads a results file's Dataset for the report. Nothing is required: what is missing, or does
/// not have the size its dimensions say, is absent. Values come in the units people read: fractions
/// (unit "1") in percent, and all in US units where `units` says so.
class ResultsReader {
public:
  explicit ResultsReader(const engine::Dataset& data, DisplayUnits units = DisplayUnits::metric);

  [[nodiscard]] std::size_t runs() const { return runs_; }
  /// Of the runs, those that came to an end.
  [[nodiscard]] std::size_t finished_runs() const { return runs_ - failed_runs_; }
  [[nodiscard]] const std::vector<double>& time_h() const { return axis_h("time"); }
  [[nodiscard]] const engine::Dataset& data() const { return data_; }
  [[nodiscard]] DisplayUnits units() const { return units_; }
  /// A sentence of the models or of the file, with its quantities in these units and with signs.
  [[nodiscard]] std::string in_words(std::string_view text) const;

  /// Values of a dimension; empty when there is none of this name.
  [[nodiscard]] const std::vector<double>& axis_h(const std::string& name) const;

  /// A (run,time) variable of one run, (time), or (quantile,time) with three quantiles; over
  /// another dimension than time when `axis` names it.
  [[nodiscard]] std::optional<Curve> curve(const std::string& name,
                                           const std::string& axis = "time") const;
  /// A (run) or scalar variable.
  [[nodiscard]] std::optional<Number> number(const std::string& name) const;
  /// Every number over runs, in the order of the file, but for the parameters drawn for each run.
  [[nodiscard]] std::vector<Number> numbers() const;
  /// The values of a (outer,inner) variable, or of one over (run,outer,inner) with one run,
  /// outer-major. Of several runs the file holds the fields of the pile as given.
  [[nodiscard]] std::vector<double> field(const std::string& name) const;
  /// A root attribute as text; empty when there is none.
  [[nodiscard]] std::string text(const std::string& attribute) const;
  /// The texts of a (run) variable, of the runs that came to an end; empty when there is none.
  [[nodiscard]] std::vector<std::string> run_texts(const std::string& name) const;
  /// The values of a (run) variable likewise, in the unit of the file.
  [[nodiscard]] std::vector<double> run_values(const std::string& name) const;

private:
  [[nodiscard]] bool failed(std::size_t run) const;
  template <typename Item>
  [[nodiscard]] std::vector<Item> of_finished(const std::vector<Item>& by_run) const;

  const engine::Dataset& data_;
  DisplayUnits units_;
  std::size_t runs_ = 1;
  std::size_t failed_runs_ = 0;
};

/// An attribute's value as text, "" for nullptr.
[[nodiscard]] std::string attribute_text(const engine::AttributeValue* value);

/// The attribute of this name in a list, or nullptr.
[[nodiscard]] const engine::AttributeValue* find_attribute(const engine::Attributes& attributes,
                                                           const std::string& name);

/// Smallest and largest of the finite values, NaN when there is none.
[[nodiscard]] double smallest(const std::vector<double>& values);
[[nodiscard]] double largest(const std::vector<double>& values);

/// A unit of the file as people read it ("degC" is "°C" or "°F"), and how values get there.
[[nodiscard]] DisplayUnit shown_unit(const engine::Variable& variable, DisplayUnits units);

/// A text of the models with signs in place of their ASCII spelling: °C, CO₂, O₂.
[[nodiscard]] std::string with_signs(std::string text);

} // namespace heapcast::cli
