#pragma once

#include "models/materials/material.hpp"

namespace heapcast::models {

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
/// X = X0 exp(-rate days). Volatile solids leave with the carbon in the material's own proportion
/// (kg VS per kg C), ash stays, and the other carbon pools, the living biomass and the ammoniacal
/// share of nitrogen keep their kilograms or share. The dry mass in a cubic metre stays, so volume
/// falls with dry mass. Not modelled: heating of the waiting heap, rain, a change of pH or of piece
/// length.
///
/// days: 0 to 3650; throws InputError outside or for NaN.
[[nodiscard]] AgedMaterial aged(const Material& fresh, double days);

} // namespace heapcast::models
