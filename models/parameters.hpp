#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <string_view>

namespace heapcast::models {

/// Shape of a parameter's prior, for sampling between `low` and `high`; see `prior_quantile`.
enum class Prior { fixed, uniform, normal, lognormal };

/// Every model parameter, by name. `parameter_table()` has one row for each, in this order.
enum class Parameter : std::size_t {
#define HEAPCAST_PARAMETER(name, symbol, unit, si_factor, value, low, high, prior, status, source, \
                           meaning)                                                                \
  name,
#include "models/parameters.def"
#undef HEAPCAST_PARAMETER
  count
};

inline constexpr std::size_t parameter_count = static_cast<std::size_t>(Parameter::count);

/// One parameter: what `heapcast parameters` lists, what is checked, sampled and written.
struct ParameterRow {
  std::string_view name;   ///< as in files and options, e.g. `fast_rate`
  std::string_view symbol; ///< as in the equations, e.g. k_F
  std::string_view unit;   ///< as shown; `si_factor` turns it into SI
  double si_factor;
  double value; ///< default, in `unit`
  double low;   ///< plausible range, in `unit`
  double high;
  Prior prior;
  std::string_view status; ///< published | memory | judgement
  std::string_view source;
  std::string_view meaning;
};

[[nodiscard]] std::span<const ParameterRow> parameter_table();

/// Two parameters that are not drawn independently.
struct ParameterCorrelation {
  Parameter first;
  Parameter second;
  double coefficient;      ///< of their normal scores (Gaussian copula), -1..1
  std::string_view status; ///< published | memory | judgement
  std::string_view reason;
};

/// Every pair that is drawn together; all others are independent. The matrix of all parameters is
/// positive definite.
[[nodiscard]] std::span<const ParameterCorrelation> parameter_correlations();

/// Index of the parameter with this name, or `parameter_count`.
[[nodiscard]] std::size_t find_parameter(std::string_view name);

/// One value for every parameter, in the units of the table; SI through `si()`.
class ParameterSet {
public:
  ParameterSet(); ///< the defaults
  [[nodiscard]] double operator[](Parameter p) const {
    return values_[static_cast<std::size_t>(p)];
  }
  [[nodiscard]] double si(Parameter p) const;
  /// Sets a value in the table's unit. Throws InputError outside the table's range or for NaN.
  void set(std::size_t index, double value);

private:
  std::array<double, parameter_count> values_;
};

} // namespace heapcast::models
