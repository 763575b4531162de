#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace heapcast::engine {

using AttributeValue = std::variant<std::string, double, std::int64_t>;
using Attributes = std::vector<std::pair<std::string, AttributeValue>>;

/// A named axis of the results file. With values it is a coordinate variable.
struct Dimension {
  std::string name;
  std::size_t size = 0;
  std::vector<double> values; ///< empty, or `size` coordinate values
  Attributes attributes;      ///< units, long_name, …
};

/// A named array over dimensions, row-major in the order of `dimensions`.
/// A scalar has no dimensions. Exactly one of `values` and `texts` is used.
struct Variable {
  std::string name;
  std::vector<std::string> dimensions;
  std::vector<double> values;
  std::vector<std::string> texts; ///< for text variables (e.g. the reason a day is missing)
  Attributes attributes;
  /// Names of the values 0, 1, … of a variable that holds one of a few states (CF `flag_values` and
  /// `flag_meanings`; at most 127, without spaces). Stored as small integers; NaN where unknown.
  std::vector<std::string> flags = {};
};

/// Everything a results file holds, in memory: HDF5 that is valid netCDF-4 with CF-1.8 attributes.
struct Dataset {
  Attributes attributes;
  std::vector<Dimension> dimensions;
  std::vector<Variable> variables;

  /// nullptr when there is no such name.
  [[nodiscard]] const Variable* variable(const std::string& name) const;
  [[nodiscard]] const Dimension* dimension(const std::string& name) const;
  [[nodiscard]] const AttributeValue* attribute(const std::string& name) const;
};

/// Writes `data` to `path`: to a temporary name in the same folder, flushed, then renamed, so that
/// a killed run or a full disk leaves either the old file or none. The same data gives the same
/// bytes. Throws FileError; std::invalid_argument for data that contradicts itself (an array whose
/// size is not that of its dimensions, a name used twice, NaN as a coordinate value).
void write_results_file(const std::string& path, const Dataset& data);

/// Reads a file written by `write_results_file`. Attributes that a Dataset cannot hold (arrays that
/// another program added) are left out. Throws FileError for a missing, foreign or damaged file.
[[nodiscard]] Dataset read_results_file(const std::string& path);

} // namespace heapcast::engine
