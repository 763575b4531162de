#pragma once

#include "models/materials/material.hpp"

namespace heapcast::models {

/// What microbes and tough tissue hold on to: with more carbon than this for its nitrogen rotting
/// matter gives none off (common practice, no source: net release begins below 20 to 25).
inline constexpr double binding_carbon_to_nitrogen = 20;

/// Moisture of hay and straw that lie under a roof, kg water per kg wet (common practice, no
/// source: 0.10 to 0.15). What is drier stays so.
inline constexpr double air_dry_moisture = 0.12;

/// A material after it has waited, and what is left of an amount of it.
struct AgedMaterial {
  Material material;
  double wet_mass_factor = 1.0; ///< kg wet after waiting per kg wet fresh, above 0 to 1
  double dry_mass_factor =
      1.0; ///< kg dry after waiting per kg dry fresh, above 0 to 1; also m3 per m3
};

/// What `fresh` has become after `days` of waiting in the open before it is used.
///
/// Each of nitrogen N, fast carbon F and water W falls first order at the material's own rate,
/// X = X0 exp(-rate days). Nitrogen stops where the carbon that is not fast binds the rest, at a
/// C:N of `binding_carbon_to_nitrogen`, and water where the material is air dry. Volatile solids
/// leave with the carbon in the material's own proportion (kg VS per kg C), ash stays, and the
/// other carbon pools, the living biomass and the ammoniacal share of nitrogen keep their kilograms
/// or share. The dry mass in a cubic metre stays while the water has room, so volume falls with dry
/// mass. Not modelled: heating of the waiting heap, rain, a change of pH or of piece length.
///
/// days: 0 to 3650; throws InputError outside or for NaN.
[[nodiscard]] AgedMaterial aged(const Material& fresh, double days);

} // namespace heapcast::models
