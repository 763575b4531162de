#include "models/materials/bulk_density.hpp"

#include "models/properties/free_air_space.hpp"

#include <algorithm>

namespace heapcast::models {

namespace {

constexpr double air_left = 0.10; ///< m3/m3 that water does not fill before the volume grows

double water_kgW_kgDM(double moisture_wet_basis) {
  return moisture_wet_basis / (1 - moisture_wet_basis);
}

} // namespace

double bulk_density_at_moisture_kg_m3(const Material& material, double moisture_wet_basis) {
  const double own_water = water_kgW_kgDM(material.moisture_wet_basis);
  const double water = water_kgW_kgDM(moisture_wet_basis);
  const double own_volume_m3 = (1 + own_water) / material.bulk_density_wet_kg_m3; // per kg dry
  double volume_m3 = own_volume_m3;
  if (water < own_water) {
    const double held = std::max(water, material.water_holding_kgW_kgDM);
    volume_m3 -= std::max(0.0, own_water - held) / water_density_kg_m3;
  } else {
    const double solids_m3 =
        1 / particle_density_kg_m3({.ash_dry_basis = 1 - material.volatile_solids_dry_basis});
    const double own_air = 1 - (solids_m3 + own_water / water_density_kg_m3) / own_volume_m3;
    const double air = std::clamp(own_air, 0.0, air_left);
    volume_m3 = std::max(own_volume_m3, (solids_m3 + water / water_density_kg_m3) / (1 - air));
  }
  return (1 + water) / volume_m3;
}

} // namespace heapcast::models
