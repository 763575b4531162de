#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
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

/// How the values of a streamed variable are stored.
enum class Storage {
  real,   ///< double precision
  single, ///< single precision
  whole,  ///< 32-bit whole numbers
  text
};

/// A variable whose values come later, by rows of its first dimension.
struct StreamedVariable {
  std::string name;
  std::vector<std::string> dimensions;
  Attributes attributes;
  Storage storage = Storage::real;
};

/// Writes a results file that is larger than memory. The same calls give the same bytes.
class ResultsStream {
public:
  /// `frame` is all that is known at once: attributes, every dimension, other variables.
  /// `block_rows`, a power of 2, is how many rows are written at a time: chunks are made of so many
  /// or a part of them.
  ResultsStream(const std::string& path, const Dataset& frame,
                std::vector<StreamedVariable> variables, std::size_t block_rows);
  ResultsStream(const ResultsStream&) = delete;
  ResultsStream& operator=(const ResultsStream&) = delete;
  ResultsStream(ResultsStream&&) = delete;
  ResultsStream& operator=(ResultsStream&&) = delete;
  ~ResultsStream(); ///< without `finish` nothing is left

  /// Rows from `first_row` on. Rows that are never written are NaN, 0 or empty.
  void write(std::size_t variable, std::size_t first_row, std::span<const double> values);
  void write(std::size_t variable, std::size_t first_row, std::span<const std::string> texts);

  /// Gives the file its check sum and its name.
  void finish();

private:
  struct Open;
  template <class Body> void guarded(const Body& body);
  void abandon();

  std::string path_;
  std::vector<StreamedVariable> variables_;
  std::unique_ptr<Open> open_;
};

/// The attributes of a results file, without reading the rest into memory. Throws FileError for a
/// missing, foreign or damaged file.
[[nodiscard]] Attributes read_results_attributes(const std::string& path);

/// Reads a file written by `write_results_file` or `ResultsStream`. Throws FileError for a missing,
/// foreign or damaged file, and for one that another program has changed: such a file has no check
/// sum at its end, and only a file that matches its own is given to HDF5.
[[nodiscard]] Dataset read_results_file(const std::string& path);

} // namespace heapcast::engine
