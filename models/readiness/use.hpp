#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// What can be asked of compost before it is used. Each is met when its number is at or below a
/// limit.
enum class Measure {
  oxygen_uptake,          ///< mmol O2 per kg organic matter and hour, at 30 degC, largest of a test
  carbon_dioxide,         ///< mg CO2-C per g organic matter and day, at 37 degC
  self_heating,           ///< K above 20 degC in the virtual self-heating vessel
  reheating,              ///< K that the core warms within the days after a turn
  above_air,              ///< K of the core above the air of the last days
  carbon_nitrogen_ratio,  ///< by mass
  ammonium_nitrate_ratio, ///< NH4-N over NO3-N by mass
  count
};

/// A measure and its limit, in the measure's unit.
struct Criterion {
  Measure measure;
  double limit;
};

/// What the compost is for, and so what it must fulfil.
struct Use {
  std::string name; ///< `garden_bed`, or what the user calls it; empty: no use is given
  std::vector<Criterion> criteria;
  /// Key of the hygiene rule that must be met, or empty. Only asked of piles that hold manure, food
  /// or the like when `hygiene_if_needed`.
  std::string hygiene_rule;
  bool hygiene_if_needed = true;
};

/// A published or usual limit, for help texts and reports.
struct UseRow {
  std::string_view name;  ///< of the use, as in pile files
  std::string_view title; ///< as read by people
  Measure measure;
  double limit;
  std::string_view source;
  std::string_view provenance; ///< read | memory | common practice | judgement
};

/// The built-in uses: one row for each criterion.
[[nodiscard]] std::span<const UseRow> use_table();

/// A built-in use. Throws InputError for a name that is not in the table.
[[nodiscard]] Use built_in_use(std::string_view name);

/// How a measure is named in results (`ready_day_oxygen_uptake`), in text, and its unit.
struct MeasureRow {
  std::string_view key, title, unit;
};
[[nodiscard]] const MeasureRow& measure_row(Measure measure);

} // namespace heapcast::models
