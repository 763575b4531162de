#include "models/materials/material_property.hpp"

#include "models/properties/free_air_space.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

constexpr auto property_table = std::to_array<MaterialProperty>({
    {"moisture", "% wet", 0.01, 0, 98, "water, of the wet mass as received",
     &Material::moisture_wet_basis},
    {"volatile_solids", "% dry", 0.01, 0, 100, "what burns off, of the dry matter; the rest is ash",
     &Material::volatile_solids_dry_basis},
    {"carbon", "% dry", 0.01, 0, 95, "organic carbon, of the dry matter",
     &Material::carbon_dry_basis},
    {"nitrogen", "% dry", 0.01, 0, 20, "total nitrogen, of the dry matter",
     &Material::nitrogen_dry_basis},
    {"fast", "% of carbon", 0.01, 0, 100, "carbon in sugars, starch, protein and fat",
     &Material::fast_fraction},
    {"medium", "% of carbon", 0.01, 0, 100, "carbon in hemicellulose and the like",
     &Material::medium_fraction},
    {"slow", "% of carbon", 0.01, 0, 100, "carbon in cellulose and what lignin protects",
     &Material::slow_fraction},
    {"resistant", "% of carbon", 0.01, 0, 100, "carbon in lignin", &Material::resistant_fraction},
    {"humus", "% of carbon", 0.01, 0, 100, "carbon that is humus already",
     &Material::humus_fraction},
    {"bulk_density", "kg/m3", 1, 5, 1600, "wet mass in a cubic metre as received, loosely heaped",
     &Material::bulk_density_wet_kg_m3},
    {"water_holding", "kg/kg", 1, 0.1, 20, "water held against drainage, per dry matter",
     &Material::water_holding_kgW_kgDM},
    {"flow_size", "mm", 1e-3, 0.05, 50, "effective flow size: how freely air passes",
     &Material::flow_size_m},
    {"chop_size", "mm", 1e-3, 0.1, 5000, "length of the pieces as supplied",
     &Material::chop_size_m},
    {"ph", "pH", 1, 3, 12, "acidity", &Material::ph},
    {"active_biomass", "% of carbon", 0.01, 0, 10, "carbon in living microbes",
     &Material::active_biomass_fraction},
    {"ammoniacal", "% of nitrogen", 0.01, 0, 95, "nitrogen that is ammonia or ammonium",
     &Material::ammoniacal_fraction},
    {"free_ammonia", "%", 0.01, 0, 100, "ammoniacal nitrogen that is not bound to the material",
     &Material::free_ammonia_share},
    {"settling", "%", 0.01, 0, 80, "volume lost by settling under its own weight",
     &Material::settling_fraction},
    {"ageing_nitrogen", "%/day", 0.01, 0, 50, "nitrogen lost while it waits to be used",
     &Material::ageing_nitrogen_1_d},
    {"ageing_fast", "%/day", 0.01, 0, 50, "fast carbon lost while it waits to be used",
     &Material::ageing_fast_1_d},
    {"ageing_water", "%/day", 0.01, 0, 50, "water lost while it waits to be used",
     &Material::ageing_water_1_d},
});

// Densest solids there are in compost materials (MODEL: organic 1300-1600, ash 2500 kg/m3), so that
// only what cannot lie in a cubic metre at all is refused.
constexpr double densest_organic_kg_m3 = 1600;
constexpr double densest_ash_kg_m3 = 2500;

void check_ranges(const Material& material, const std::string& where, std::vector<Fault>& faults) {
  for (const MaterialProperty& property : property_table) {
    const double value = value_in_unit(material, property);
    // A value of exactly the limit may come out a rounding above it after conversion.
    const double rounding = 1e-12 * property.high;
    if (!(value >= property.low - rounding && value <= property.high + rounding)) {
      faults.push_back({where, fmt::format("{} is {:.6g} {}", property.key, value, property.unit),
                        fmt::format("write {} to {} {} ({})", property.low, property.high,
                                    property.unit, property.meaning)});
    }
  }
}

void check_pools(const Material& material, const std::string& where, std::vector<Fault>& faults) {
  const double sum = material.fast_fraction + material.medium_fraction + material.slow_fraction +
                     material.resistant_fraction + material.humus_fraction;
  if (!(std::abs(sum - 1) <= 1e-6)) {
    faults.push_back({where,
                      fmt::format("the carbon pools fast {:g} + medium {:g} + slow {:g} + "
                                  "resistant {:g} + humus {:g} make {:g} % of carbon",
                                  100 * material.fast_fraction, 100 * material.medium_fraction,
                                  100 * material.slow_fraction, 100 * material.resistant_fraction,
                                  100 * material.humus_fraction, 100 * sum),
                      "the five pools must make 100 % of carbon"});
  }
}

void check_carbon(const Material& material, const std::string& where, std::vector<Fault>& faults) {
  const double per_volatile = carbon_limit_kgC_kgVS(material);
  const double limit = per_volatile * material.volatile_solids_dry_basis;
  if (!(material.carbon_dry_basis <= limit + 1e-9)) {
    faults.push_back(
        {where,
         fmt::format("carbon is {:.4g} % dry, but ash of {:.4g} % leaves {:.4g} % dry that burns, "
                     "which holds at most {} x {:.4g} = {:.4g} % dry",
                     100 * material.carbon_dry_basis,
                     100 * (1 - material.volatile_solids_dry_basis),
                     100 * material.volatile_solids_dry_basis, per_volatile,
                     100 * material.volatile_solids_dry_basis, 100 * limit),
         fmt::format("lower the carbon (nitrogen {:.4g} % dry times C:N {:.4g}), or raise the "
                     "volatile solids",
                     100 * material.nitrogen_dry_basis, carbon_to_nitrogen(material))});
  }
}

void check_nitrogen(const Material& material, const std::string& where,
                    std::vector<Fault>& faults) {
  const double organic = material.nitrogen_dry_basis * (1 - material.ammoniacal_fraction);
  const double limit = nitrogen_limit_kgN_kgVS * material.volatile_solids_dry_basis;
  if (!(organic <= limit + 1e-9)) {
    faults.push_back(
        {where,
         fmt::format("nitrogen of {:.4g} % dry, {:.4g} % of it ammoniacal, leaves {:.4g} % dry as "
                     "organic nitrogen, but volatile solids of {:.4g} % dry hold at most {} x "
                     "{:.4g} = {:.4g} % dry, as pure protein would",
                     100 * material.nitrogen_dry_basis, 100 * material.ammoniacal_fraction,
                     100 * organic, 100 * material.volatile_solids_dry_basis,
                     nitrogen_limit_kgN_kgVS, 100 * material.volatile_solids_dry_basis,
                     100 * limit),
         "lower the nitrogen, or raise the volatile solids or the ammoniacal share"});
  }
}

void check_volume(const Material& material, const std::string& where, std::vector<Fault>& faults) {
  const double water_kg_m3 = material.bulk_density_wet_kg_m3 * material.moisture_wet_basis;
  const double dry_kg_m3 = material.bulk_density_wet_kg_m3 - water_kg_m3;
  const double solids_m3_kg = material.volatile_solids_dry_basis / densest_organic_kg_m3 +
                              (1 - material.volatile_solids_dry_basis) / densest_ash_kg_m3;
  const double filled = dry_kg_m3 * solids_m3_kg + water_kg_m3 / water_density_kg_m3;
  if (!(filled <= 1)) {
    faults.push_back(
        {where,
         fmt::format("a bulk density of {:.4g} kg/m3 at {:.4g} % moisture puts {:.3g} "
                     "m3 of solids and water into 1 m3",
                     material.bulk_density_wet_kg_m3, 100 * material.moisture_wet_basis, filled),
         "lower the bulk density or correct the moisture"});
  }
}

} // namespace

std::span<const MaterialProperty> material_properties() {
  return property_table;
}

const MaterialProperty* find_material_property(std::string_view key) {
  const auto* const row =
      std::ranges::find_if(property_table, [&](const MaterialProperty& p) { return p.key == key; });
  return row == property_table.end() ? nullptr : row;
}

double value_in_unit(const Material& material, const MaterialProperty& property) {
  return material.*property.member / property.factor;
}

double carbon_to_nitrogen(const Material& material) {
  return material.nitrogen_dry_basis > 0 ? material.carbon_dry_basis / material.nitrogen_dry_basis
                                         : std::numeric_limits<double>::infinity();
}

double carbon_limit_kgC_kgVS(const Material& material) {
  return material.humus_fraction >= charred_humus_fraction ? char_carbon_limit_kgC_kgVS
                                                           : plain_carbon_limit_kgC_kgVS;
}

std::vector<Fault> material_faults(const Material& material, const std::string& where) {
  std::vector<Fault> faults;
  check_ranges(material, where, faults);
  if (faults.empty()) {
    check_pools(material, where, faults);
    check_carbon(material, where, faults);
    check_nitrogen(material, where, faults);
    check_volume(material, where, faults);
  }
  return faults;
}

PoolShares pools_from_lignin(double lignin_kg_kgVS) {
  if (!(lignin_kg_kgVS >= 0 && lignin_kg_kgVS <= 0.5)) {
    throw InputError("lignin",
                     fmt::format("{:g} % of VS is outside 0 to 50 % of VS", 100 * lignin_kg_kgVS));
  }
  const double degradable = std::max(0.0, 0.830 - 2.8 * lignin_kg_kgVS);
  const double resistant = 1.25 * lignin_kg_kgVS;
  return {.fast = 0.25 * degradable,
          .medium = 0.75 * degradable,
          .slow = 1 - degradable - resistant,
          .resistant = resistant};
}

} // namespace heapcast::models
