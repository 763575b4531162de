#include "models/materials/ageing.hpp"

#include "engine/errors.hpp"
#include "models/materials/bulk_density.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

/// What is left of `amount` after first-order loss that stops at `floor`.
double left(double amount, double rate_1_d, double days, double floor) {
  return std::max(std::min(amount, floor), amount * std::exp(-rate_1_d * days));
}

} // namespace

AgedMaterial aged(const Material& fresh, double days) {
  if (!(days >= 0 && days <= 3650)) {
    throw InputError(fresh.name, fmt::format("an age of {:g} days is outside 0 to 3650 days", days),
                     "write how long the material has waited, for example \"3 days\"");
  }
  // Everything below is per kg of fresh dry matter.
  const double fresh_carbon_kgC = fresh.carbon_dry_basis;
  const double fresh_fast_kgC = fresh.fast_fraction * fresh_carbon_kgC;
  const double fresh_water_kgW = fresh.moisture_wet_basis / (1 - fresh.moisture_wet_basis);

  const double carbon_lost_kgC = fresh_fast_kgC * -std::expm1(-fresh.ageing_fast_1_d * days);
  const double carbon_kgC = fresh_carbon_kgC - carbon_lost_kgC;
  const double carbon_left = fresh_carbon_kgC > 0 ? carbon_kgC / fresh_carbon_kgC : 1.0;
  const double bound_kgN = (fresh_carbon_kgC - fresh_fast_kgC) / binding_carbon_to_nitrogen;
  const double nitrogen_kgN =
      left(fresh.nitrogen_dry_basis, fresh.ageing_nitrogen_1_d, days, bound_kgN);
  const double volatile_solids_kg = fresh.volatile_solids_dry_basis * carbon_left;
  const double ash_kg = 1 - fresh.volatile_solids_dry_basis;
  const double dry_kg = volatile_solids_kg + ash_kg;
  const double air_dry_kgW = dry_kg * air_dry_moisture / (1 - air_dry_moisture);
  const double water_kgW = left(fresh_water_kgW, fresh.ageing_water_1_d, days, air_dry_kgW);

  AgedMaterial after{.material = fresh,
                     .wet_mass_factor = (dry_kg + water_kgW) / (1 + fresh_water_kgW),
                     .dry_mass_factor = dry_kg};
  Material& material = after.material;
  material.moisture_wet_basis = water_kgW / (water_kgW + dry_kg);
  material.volatile_solids_dry_basis = volatile_solids_kg / dry_kg;
  material.carbon_dry_basis = carbon_kgC / dry_kg;
  material.nitrogen_dry_basis = nitrogen_kgN / dry_kg;
  if (carbon_kgC > 0) {
    material.fast_fraction = (fresh_fast_kgC - carbon_lost_kgC) / carbon_kgC;
    for (double Material::*pool :
         {&Material::medium_fraction, &Material::slow_fraction, &Material::resistant_fraction,
          &Material::humus_fraction, &Material::active_biomass_fraction}) {
      material.*pool = fresh.*pool / carbon_left;
    }
  }
  // A slurry that loses more dry matter than water cannot keep its dry mass in a cubic metre.
  material.bulk_density_wet_kg_m3 =
      material.moisture_wet_basis > fresh.moisture_wet_basis
          ? bulk_density_at_moisture_kg_m3(fresh, material.moisture_wet_basis)
          : fresh.bulk_density_wet_kg_m3 * (1 - fresh.moisture_wet_basis) /
                (1 - material.moisture_wet_basis);
  return after;
}

} // namespace heapcast::models
