#pragma once

#include "models/pile.hpp"

#include <array>
#include <cstddef>
#include <limits>
#include <span>
#include <string_view>

namespace heapcast::models {

/// What kind of pile a rule is about.
enum class RuleScope {
  any_pile,
  turned_windrow,   ///< a free-standing pile that is turned
  vessel_or_static, ///< a bin, or a pile that is never turned
  vessel            ///< a bin
};

/// How the hot hours of a profile add up.
enum class HotCount {
  unbroken,        ///< "maintained", "remains": a break starts the count again
  added_up,        ///< need not be consecutive
  before_each_turn ///< unbroken before each turn that counts; met at the last turn asked
};

/// One way to be hot enough for long enough. `hours` 0: no profile.
struct HotProfile {
  double degC = 0.0;
  double hours = 0.0;
  HotCount count = HotCount::unbroken;
  bool above = false; ///< the text says "exceeds" or "higher than", not "or higher"
};

/// Hotter hours asked within a part of the profile's stretch. `hours` 0: none.
struct HotSpell {
  double above_degC = 0.0;
  double hours = 0.0;
  double within_hours = 0.0;
};

/// Turns asked while the profile runs.
struct TurnDemand {
  int least = 0;
  double gap_hours = 0.0;      ///< shortest time between two that count
  double recovery_hours = 0.0; ///< after a turn, cooler time neither counts nor breaks
};

/// Time asked at a constant temperature T, hours · 10^(−slope (T − degC)). At a varying temperature
/// the score is the sum of time over time asked; it is an equivalence, 1 is enough. `hours` 0:
/// none.
struct HeatLine {
  double hours = 0.0;
  double degC = 0.0;
  double slope_1_K = 0.0;
  double from_degC = 0.0;   ///< cooler time does not count
  double least_hours = 0.0; ///< no less time is asked however hot
};

/// Hours that a line asks for at a constant temperature, °C.
[[nodiscard]] double hours_asked(const HeatLine& line, double temperature_degC);

inline constexpr std::size_t most_profiles = 4;

/// One published rule: what it asks and the numbers of its clock.
struct HygieneRule {
  std::string_view key; ///< in names of results and in pile files
  std::string_view title;
  std::string_view asks; ///< in one plain sentence
  std::string_view source;
  std::string_view provenance; ///< read | memory
  RuleScope scope = RuleScope::any_pile;
  std::array<HotProfile, most_profiles> profiles{}; ///< any one is enough
  HeatLine line{};                                  ///< instead of profiles
  HotSpell spell{};
  TurnDemand turns{};
  double highest_degC = std::numeric_limits<double>::infinity(); ///< hotter time does not count
  double average_above_degC =
      -std::numeric_limits<double>::infinity(); ///< of the whole stretch, from its start
  double least_moisture_wet_basis = 0.0;        ///< drier time does not count
  double lowest_carbon_nitrogen = 0.0;          ///< of the mix at the build
  double highest_carbon_nitrogen = std::numeric_limits<double>::infinity();
  double largest_particle_m = std::numeric_limits<double>::infinity();
};

/// Every rule with a clock.
[[nodiscard]] std::span<const HygieneRule> hygiene_rules();

/// A rule by its key; null for a key that is not in the table.
[[nodiscard]] const HygieneRule* find_hygiene_rule(std::string_view key);

/// What rules ask of the mix itself.
struct MixFacts {
  double carbon_nitrogen_ratio = unset; ///< by mass, of what the pile is built from
  double largest_particle_m = unset;
};

/// The mix of a pile: C:N of all ingredients at the build, and the greatest particle length of
/// ingredients and additions. Ingredients below 1 % of the dry matter of their lot do not count for
/// the length (judgement: a few stalks do not make the mix coarse); lengths are the materials'
/// usual ones, so that single pieces may be longer.
[[nodiscard]] MixFacts mix_facts(const PileDescription& pile);

} // namespace heapcast::models
