#pragma once

#include "models/materials/material.hpp"

namespace heapcast::models {

/// Bulk density of a material at another moisture than its own, kg/m3 wet.
///
/// With w water and V volume per kg of dry matter, h the water it holds against drainage, and V0,
/// w0 those of `material`:
///
///   drier:   V = V0 - (w0 - max(w, h)) / 1000 while w0 > h, else V0
///   wetter:  V = max(V0, (solids + w/1000) / (1 - a))
///
/// Water beyond what a material holds lies between the solids, as in slurry, and its volume goes
/// with it; water that is held leaves pores, so a drier straw or manure keeps its dry mass in a
/// cubic metre. Water that is added fills pores first. When no more than the air share
/// a = min(0.10, the air share of `material`) is left, the volume grows with the water.
///
/// The volume of solids is that of `particle_density_kg_m3`. The rule is judgement; left out:
/// swelling and shrinking of the pieces, matting, and that wet material packs under its weight.
/// \param moisture_wet_basis 0 to below 1
[[nodiscard]] double bulk_density_at_moisture_kg_m3(const Material& material,
                                                    double moisture_wet_basis);

} // namespace heapcast::models
