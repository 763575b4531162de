#pragma once

namespace heapcast::models {

/// Biodegradable share of volatile solids: 0.830 − 2.8 × lignin.
///
/// @param lignin_of_volatile_solids kg lignin per kg volatile solids, 0..0.29; above, the result is
/// negative.
/// Chandler et al. 1980, with lignin in per cent 0.830 − 0.028 LC.
[[nodiscard]] inline double biodegradable_fraction(double lignin_of_volatile_solids) {
  return 0.830 - 2.8 * lignin_of_volatile_solids;
}

/// Carbon, kg per kg dry matter, when only the ash is known: (1 − ash) / 1.8.
///
/// Good to 2–10 %. Gotaas 1956.
[[nodiscard]] inline double carbon_from_ash(double ash_dry_basis) {
  return (1.0 - ash_dry_basis) / 1.8;
}

/// Nitrogen content and C:N of one sample. From different samples the two can imply an impossible
/// carbon content (sawdust averages: 106 %).
struct NitrogenAndRatio {
  double nitrogen_dry_basis; ///< kg N per kg dry matter
  double carbon_to_nitrogen; ///< kg C per kg N
};

/// Carbon, kg per kg dry matter: N × C:N.
[[nodiscard]] inline double carbon_from_nitrogen(const NitrogenAndRatio& sample) {
  return sample.nitrogen_dry_basis * sample.carbon_to_nitrogen;
}

/// A sample weighed before and after the oven.
struct OvenSample {
  double wet_mass_kg; ///< above 0
  double dry_mass_kg;
};

/// Moisture, kg water per kg wet: (wet − dry) / wet.
[[nodiscard]] inline double moisture_wet_basis(const OvenSample& sample) {
  return (sample.wet_mass_kg - sample.dry_mass_kg) / sample.wet_mass_kg;
}

/// One part of a mix.
struct WetPortion {
  double wet_mass_kg;
  double moisture_wet_basis;
};

/// Moisture of two portions together, kg water per kg wet: Σ Q M / Σ Q.
[[nodiscard]] inline double mixed_moisture(const WetPortion& first, const WetPortion& second) {
  return (first.wet_mass_kg * first.moisture_wet_basis +
          second.wet_mass_kg * second.moisture_wet_basis) /
         (first.wet_mass_kg + second.wet_mass_kg);
}

/// A portion to be brought to a moisture by adding something drier or wetter (water has 1).
struct MoistureGoal {
  WetPortion portion;
  double added_moisture_wet_basis;
  double goal_moisture_wet_basis;
};

/// Wet mass to add, kg: Q1 (G − M1) / (M2 − G). Negative when no amount reaches the goal.
[[nodiscard]] inline double mass_to_reach_moisture_kg(const MoistureGoal& mix) {
  return mix.portion.wet_mass_kg * (mix.goal_moisture_wet_basis - mix.portion.moisture_wet_basis) /
         (mix.added_moisture_wet_basis - mix.goal_moisture_wet_basis);
}

} // namespace heapcast::models
