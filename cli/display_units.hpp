#pragma once

#include <string>
#include <string_view>

namespace heapcast::cli {

/// The units in which people read numbers. Results files, CSV and JSON stay in the units that they
/// are labelled with.
enum class DisplayUnits { metric, us };

/// A unit for people, and how a value gets there: shown = value * factor + offset.
struct DisplayUnit {
  std::string name; ///< in ASCII, as a pile file may have it: "degF", "yd3"
  double factor = 1.0;
  double offset = 0.0; ///< of a temperature; a difference of temperatures (K) has none

  [[nodiscard]] double operator()(double value) const { return value * factor + offset; }
};

/// The unit to show a value in that models and results have in `unit`: "degC", "K" (a difference),
/// "kg", "m3", "L", "mm h-1". Every number that is shown goes through here. A unit that has no US
/// counterpart stays as it is.
[[nodiscard]] DisplayUnit display_unit(std::string_view unit, DisplayUnits units);

/// A sentence with every quantity in it shown likewise: "hottest place 69 °C" becomes "hottest
/// place 156 °F", "9.1 K" (a difference) "16.4 °F", "55.0 to 76.7 degC" "131.0 to 170.1 degF".
/// Numbers keep their digits, two at least. For what models and results say in words.
[[nodiscard]] std::string in_display_units(std::string_view text, DisplayUnits units);

/// "degC" as "°C", "m3" as "m³" in a unit; plain letters when not `utf8`.
[[nodiscard]] std::string unit_sign(std::string_view unit, bool utf8);

} // namespace heapcast::cli
