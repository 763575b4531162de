#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

struct PileDescription;

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
  /// Key of the hygiene rule that must be met, or empty. Only asked of piles that hold manure or
  /// food waste when `hygiene_if_needed`.
  std::string hygiene_rule;
  bool hygiene_if_needed = true;
};

/// A published or usual limit, for help texts and reports.
struct UseRow {
  std::string_view name;  ///< of the use, as in pile files
  std::string_view title; ///< as read by people
  Measure measure;
  double limit;
  std::string_view source;     ///< reference ids stand in brackets
  std::string_view provenance; ///< read | memory | common practice | judgement
};

/// How far the core may stand above the air is judgement beyond the usual 8 to 10 K, which are
/// those of potting mix: a large pile holds what little heat stable compost still makes (5 mmol
/// O2/kg/h in a heap of 3 m3 keep its core some 20 K above the air), and the vessel test tells the
/// same whatever the size.
///
/// The built-in uses, the least demanding first: one row for each criterion. Each use asks more
/// than the one before: every limit is lower, none is left out.
[[nodiscard]] std::span<const UseRow> use_table();

/// The use that a pile without one is judged for.
inline constexpr std::string_view default_use = "garden_bed";

/// What a regulation takes a pile for when it asks for heat.
enum class HeatTreatment {
  windrow, ///< open and turned
  vessel   ///< in walls, or blown through
};
[[nodiscard]] HeatTreatment heat_treatment(const PileDescription& pile);

/// The hygiene rule that a use asks of piles with manure or food waste; empty when it asks none.
///
/// Judgement: mulch touches nothing that is eaten and asks none; a field where compost is worked in
/// before sowing asks for `us503_psrp`; a garden bed for `eu1009_cmc3`, heat and time alone;
/// potting mix, which is handled and sold, for the heat of 40 CFR 503 PFRP, which 7 CFR 205.203
/// asks of manure compost for food crops as well: `us503_pfrp_windrow` (55 degC for 15 days with 5
/// turns) or, in walls or with a fan, `us503_pfrp_vessel` (55 degC for 3 days). What holds is the
/// rule of the place: pile files can name it.
[[nodiscard]] std::string_view hygiene_rule_of(std::string_view use, HeatTreatment treatment);

/// A built-in use. Throws InputError for a name that is not in the table.
[[nodiscard]] Use built_in_use(std::string_view name,
                               HeatTreatment treatment = HeatTreatment::windrow);

/// The limit of this measure in a built-in use; NaN when the use does not ask for it.
[[nodiscard]] double built_in_limit(std::string_view use, Measure measure);

/// How a use is called in text: the title of a built-in one, otherwise its name.
[[nodiscard]] std::string use_title(const Use& use);

/// What the pile is judged for: its own use, or a garden bed when it has none.
[[nodiscard]] Use judged_use(const PileDescription& pile);

/// Whether anything in the pile or added to it is of the group `manure` or `food`.
[[nodiscard]] bool holds_manure_or_food(const PileDescription& pile);

/// Whether the use's hygiene rule counts for this pile.
[[nodiscard]] bool asks_for_hygiene(const Use& use, const PileDescription& pile);

/// How a measure is named in results (`ready_day_oxygen_uptake`), in text, and its unit.
struct MeasureRow {
  std::string_view key, title, unit;
};
[[nodiscard]] const MeasureRow& measure_row(Measure measure);

} // namespace heapcast::models
