#pragma once

#include "cli/input/expression.hpp"
#include "cli/input/pile_file.hpp"
#include "cli/input/site_weather.hpp"
#include "engine/errors.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// One value of a factor.
struct FactorValue {
  std::string toml; ///< as it stands to the right of `key =` in a pile file
  double number;    ///< in the factor's unit; NaN for one that is no number
  std::string text; ///< of one that is no number
};

/// What differs between the runs of a study: a key of the pile file, and what it may be.
struct Factor {
  std::string name;    ///< in constraints and results
  std::string key;     ///< dotted, as for --set
  std::string unit;    ///< of the numbers, as written; "" without one
  std::string meaning; ///< of the key
  std::optional<std::size_t> parameter;
  bool numeric = true;             ///< every value is a number in `unit`
  std::vector<FactorValue> levels; ///< empty for a range that is sampled
  std::size_t base = 0;            ///< level while others change one at a time

  double low = 0.0, high = 0.0; ///< of a range
  bool logarithmic = false;
  bool whole = false;        ///< whole numbers alone
  bool quoted = false;       ///< numbers stand in quotes, with their unit
  bool prior = false;        ///< of the parameter, around `prior_centre`
  double prior_centre = 0.0; ///< the pile's own value

  /// The value with `share` (0 < share < 1) of the factor below it.
  [[nodiscard]] FactorValue at(double share) const;
  /// A number of a range.
  [[nodiscard]] FactorValue of_number(double number) const;
  /// The number of a range or prior with `share` of it below.
  [[nodiscard]] double quantile(double share) const;
};

enum class DesignKind { grid, one_at_a_time, latin_hypercube, sobol, saltelli, morris };

/// What a study file says, with the pile it names.
struct Study {
  std::string title;
  std::string text;      ///< the study file as read
  std::string pile_path; ///< as to be opened
  std::string pile_text;
  std::string pile_folder;
  /// Of all values of the factors: own material files by name, check sums of the weather.
  std::map<std::string, std::string> material_files;
  std::set<std::string> weather_checksums;
  std::vector<std::string> overrides; ///< `--set` options, for every run
  PileFile pile;                      ///< as written, with `overrides`
  std::string kind_name;
  DesignKind kind = DesignKind::grid;
  std::size_t points = 0; ///< points, blocks or trajectories asked for
  std::size_t morris_levels = 4;
  std::uint64_t seed = 1;
  std::size_t weather_years = 1;
  std::vector<Expression> constraints;
  std::vector<Factor> factors;
  std::vector<std::string> daily, fields;
  std::shared_ptr<SiteWeatherCache> weather; ///< for reading the pile again

  /// The pile with other values. Throws InputError.
  [[nodiscard]] PileFile pile_with(const std::vector<std::string>& more) const;
};

/// Whether a TOML text looks like a study file rather than a pile file.
[[nodiscard]] bool is_study(std::string_view text);

/// Reads a study file and the pile file it names, and tries every value of every list and both ends
/// of every range by itself. Throws InputError with every fault, each with its place; FileError
/// when a file cannot be read.
[[nodiscard]] Study read_study_file(const std::string& path,
                                    const std::vector<std::string>& overrides);

} // namespace heapcast::cli
