#pragma once

namespace heapcast::models {

inline constexpr double organic_density_kg_m3 = 1450.0; ///< of ash-free solids; published 1300–1600
inline constexpr double ash_density_kg_m3 = 2500.0;     ///< of mineral solids (Haug 1993)
inline constexpr double water_density_kg_m3 = 1000.0;

/// Solids as organic and mineral matter.
struct Solids {
  double ash_dry_basis;                           ///< kg ash per kg dry matter, 0..1
  double organic_density = organic_density_kg_m3; ///< kg/m3
};

/// Density of the solids themselves, kg/m3, volumes added: 1 / ((1 − ash)/ρ_o + ash/2500).
///
/// Two conventions are in use: an organic density of 1300–1600 (measured, default here) and
/// Haug's (1993) 1000. They move free air space by about 0.07, so a published number needs its own.
[[nodiscard]] inline double particle_density_kg_m3(const Solids& solids) {
  return 1.0 / ((1.0 - solids.ash_dry_basis) / solids.organic_density +
                solids.ash_dry_basis / ash_density_kg_m3);
}

/// Masses in a volume of pile.
struct PackedMasses {
  double dry_mass_kg; ///< ash included
  double ash_mass_kg;
  double water_mass_kg;                           ///< ice counts as water
  double volume_m3;                               ///< above 0
  double organic_density = organic_density_kg_m3; ///< kg/m3
};

/// Share of the volume that solids take up: organic matter and ash, volumes added.
[[nodiscard]] inline double solids_fraction(const PackedMasses& pile) {
  return ((pile.dry_mass_kg - pile.ash_mass_kg) / pile.organic_density +
          pile.ash_mass_kg / ash_density_kg_m3) /
         pile.volume_m3;
}

/// Free air space, m3 air per m3 pile: 1 − solids_fraction − water/(1000 V).
///
/// Negative when more is in the volume than fits: the pile is waterlogged, and the laws of gas and
/// flow take that as closed pores. The 9 % by which ice swells is not modelled.
[[nodiscard]] inline double free_air_space(const PackedMasses& pile) {
  return 1.0 - solids_fraction(pile) - pile.water_mass_kg / (water_density_kg_m3 * pile.volume_m3);
}

} // namespace heapcast::models
