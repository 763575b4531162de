#pragma once

#include "engine/errors.hpp"

#include <limits>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// What a written quantity measures. The SI unit that `parse_quantity()` returns stands behind it.
enum class Dimension {
  mass,                   ///< kg
  volume,                 ///< m3
  length,                 ///< m
  area,                   ///< m2
  temperature,            ///< K
  temperature_difference, ///< K
  time,                   ///< s
  volume_flow,            ///< m3/s
  speed,                  ///< m/s
  fraction,               ///< kg/kg, m3/m3 …: "60 %" is 0.6
  mass_density,           ///< kg/m3
  heat_conductance,       ///< W/m2/K
  conductivity,           ///< W/m/K
  angle,                  ///< rad
  depth_of_water,         ///< m
  rate_per_day,           ///< 1/s
  fraction_wet,           ///< kg per kg wet matter
  fraction_dry,           ///< kg per kg dry matter
  fraction_of_solids,     ///< kg per kg volatile solids
  fraction_of_carbon,     ///< kg C per kg organic carbon
  fraction_of_nitrogen,   ///< kg N per kg N
  water_ratio,            ///< kg water per kg dry matter
  respiration,            ///< mol O2 or CO2 per kg organic matter and second
  acidity,                ///< pH; the only dimension besides `ratio` whose unit may be left out
  ratio,                  ///< a bare number, e.g. C:N; "25" or "25:1"
  count
};

/// What there is to say about one dimension in messages, listings and a schema.
struct DimensionInfo {
  std::string_view noun;    ///< "a volume"
  std::string_view si_unit; ///< of the value returned
  std::string_view example; ///< a text that parses
};

[[nodiscard]] const DimensionInfo& dimension_info(Dimension dimension);

/// The units a quantity of this dimension may be written in, as shown to people; the usual first.
[[nodiscard]] std::vector<std::string> unit_names(Dimension dimension);

/// A regular expression (ECMA 262) for the number that a quantity begins with.
[[nodiscard]] std::string_view number_pattern();

/// The same for every unit of this dimension, in all the ways of writing it that are understood.
[[nodiscard]] std::string unit_pattern(Dimension dimension);

/// Whether the unit of this dimension may be left out: a bare number, "25:1" or "7.5 pH".
[[nodiscard]] bool unit_may_be_missing(Dimension dimension);

/// A quantity that cannot be read. `what()` says what was written and what is wrong, `remedy()`
/// what to write. The caller knows where it stands: `throw InputError({error.fault(where)})`.
class UnitError : public std::runtime_error {
public:
  UnitError(const std::string& what, std::string remedy)
      : std::runtime_error(what), remedy_(std::move(remedy)) {}
  [[nodiscard]] const std::string& remedy() const { return remedy_; }
  [[nodiscard]] Fault fault(std::string where) const { return {std::move(where), what(), remedy_}; }

private:
  std::string remedy_;
};

/// An amount of material, by weight or by volume; the other member is NaN.
struct Amount {
  double kg = std::numeric_limits<double>::quiet_NaN();
  double m3 = std::numeric_limits<double>::quiet_NaN();
};

/// Measures of the user's own, such as a barrow of 90 litres or a sack of 25 kg.
class UnitTable {
public:
  /// Adds a measure that holds `size`: exactly one member set, positive and finite. The plural in
  /// -s or -es is understood. Throws UnitError for a bad name or size, for a name that is a unit
  /// already, and for one given twice.
  void add_measure(std::string_view name, Amount size);

  /// The size of this measure (singular or plural), or null.
  [[nodiscard]] const Amount* find(std::string_view name) const;
  [[nodiscard]] std::vector<std::string> names() const;

private:
  struct Measure {
    std::string name;
    Amount size;
  };
  std::vector<Measure> measures_;
};

/// Reads "number unit", e.g. "1.5 m3", "130 degF", "60 %", "3 weeks", and returns the value in SI.
///
/// The number has a decimal point and may have an exponent; nothing but a unit may follow. Metric
/// and US customary units; letter case is forgiven where it is unambiguous; "m³", "m^3", "°C" and
/// spaces inside a unit are understood. A gallon, quart, pint or bushel is the US one; a month is
/// 365.25/12 days. Signs and ranges are the caller's to check; the value is finite.
///
/// Throws UnitError when the number is not one, the unit is missing, unknown, or of another
/// dimension.
[[nodiscard]] double parse_quantity(std::string_view text, Dimension dimension);

/// The same, where a mass or a volume may also be written in the measures of `table`.
[[nodiscard]] double parse_quantity(std::string_view text, Dimension dimension,
                                    const UnitTable& table);

/// Reads a mass or a volume, in units or in the measures of `table`: "420 kg", "12 barrows".
/// Throws UnitError as parse_quantity does, and for a negative amount.
[[nodiscard]] Amount parse_amount(std::string_view text, const UnitTable& table);

/// Reads a number and nothing else. Throws UnitError for anything that is not a finite decimal
/// number; `text` is quoted in the message.
[[nodiscard]] double parse_number(std::string_view text);

} // namespace heapcast::cli
