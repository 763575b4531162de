#include "models/materials/ageing.hpp"

#include "engine/errors.hpp"
#include "models/materials/material_property.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

/// Kilograms in one kilogram of wet material, times a factor.
struct Contents {
  double water, ash, volatile_solids, carbon, nitrogen, fast, medium, slow, resistant, humus,
      biomass;
};

Contents contents(const Material& material, double wet_kg) {
  const double dry = wet_kg * (1 - material.moisture_wet_basis);
  const double carbon = dry * material.carbon_dry_basis;
  return {.water = wet_kg * material.moisture_wet_basis,
          .ash = dry * (1 - material.volatile_solids_dry_basis),
          .volatile_solids = dry * material.volatile_solids_dry_basis,
          .carbon = carbon,
          .nitrogen = dry * material.nitrogen_dry_basis,
          .fast = carbon * material.fast_fraction,
          .medium = carbon * material.medium_fraction,
          .slow = carbon * material.slow_fraction,
          .resistant = carbon * material.resistant_fraction,
          .humus = carbon * material.humus_fraction,
          .biomass = carbon * material.active_biomass_fraction};
}

Material clippings() {
  Material material;
  material.moisture_wet_basis = 0.8;
  material.volatile_solids_dry_basis = 0.9;
  material.carbon_dry_basis = 0.45;
  material.nitrogen_dry_basis = 0.034;
  material.fast_fraction = 0.3;
  material.medium_fraction = 0.4;
  material.slow_fraction = 0.18;
  material.resistant_fraction = 0.1;
  material.humus_fraction = 0.02;
  material.bulk_density_wet_kg_m3 = 210;
  material.ageing_nitrogen_1_d = 0.02;
  material.ageing_fast_1_d = 0.05;
  material.ageing_water_1_d = 0.03;
  return material;
}

// All quantities are below 1 kg and come out of some ten operations: 1e-14 kg is rounding.
constexpr double rounding_kg = 1e-14;

TEST(Ageing, LosesNitrogenFastCarbonAndWaterFirstOrder) {
  const AgedMaterial after = aged(clippings(), 10);
  const Contents before = contents(clippings(), 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  EXPECT_NEAR(left.nitrogen, before.nitrogen * std::exp(-0.2), rounding_kg);
  EXPECT_NEAR(left.fast, before.fast * std::exp(-0.5), rounding_kg);
  EXPECT_NEAR(left.water, before.water * std::exp(-0.3), rounding_kg);
}

TEST(Ageing, ConservesWhatIsNotLost) {
  const AgedMaterial after = aged(clippings(), 10);
  const Contents before = contents(clippings(), 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  EXPECT_NEAR(left.ash, before.ash, rounding_kg);
  EXPECT_NEAR(left.medium, before.medium, rounding_kg);
  EXPECT_NEAR(left.slow, before.slow, rounding_kg);
  EXPECT_NEAR(left.resistant, before.resistant, rounding_kg);
  EXPECT_NEAR(left.humus, before.humus, rounding_kg);
  EXPECT_NEAR(left.biomass, before.biomass, rounding_kg);
}

TEST(Ageing, LosesVolatileSolidsInProportionToCarbon) {
  const AgedMaterial after = aged(clippings(), 10);
  const Contents before = contents(clippings(), 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  // 0.9 kg of volatile solids for 0.45 kg of carbon: 2 kg per kg.
  EXPECT_NEAR(before.volatile_solids - left.volatile_solids, 2 * (before.carbon - left.carbon),
              rounding_kg);
  EXPECT_NEAR(after.dry_mass_factor, (left.ash + left.volatile_solids) / 0.2, 1e-13);
}

TEST(Ageing, KeepsTheDryMassInACubicMetre) {
  const AgedMaterial after = aged(clippings(), 10);
  EXPECT_NEAR(after.material.bulk_density_wet_kg_m3 * (1 - after.material.moisture_wet_basis),
              210 * 0.2, 1e-12);
  // So one cubic metre of fresh material holds the same kilograms by mass and by volume.
  EXPECT_NEAR(210 * after.wet_mass_factor,
              after.dry_mass_factor * after.material.bulk_density_wet_kg_m3, 1e-11);
}

TEST(Ageing, StopsWhereTheLastingCarbonBindsTheNitrogenAndAtAirDryness) {
  const AgedMaterial after = aged(clippings(), 3650);
  const Contents before = contents(clippings(), 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  EXPECT_NEAR(left.nitrogen, (before.carbon - before.fast) / 20, rounding_kg);
  EXPECT_NEAR(after.material.moisture_wet_basis, 0.12, 1e-14);
}

TEST(Ageing, LosesNoNitrogenWithPlentyOfCarbonAndNoWaterWhenDry) {
  Material stack = clippings();
  stack.nitrogen_dry_basis = 0.01; // 0.315 kg of lasting carbon bind 0.0158 kg
  stack.moisture_wet_basis = 0.1;
  const AgedMaterial after = aged(stack, 100);
  const Contents before = contents(stack, 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  EXPECT_NEAR(left.nitrogen, before.nitrogen, rounding_kg);
  // Without fast carbon the dry matter is 0.73 kg of 1 kg, so 0.111 kg of water are above air
  // dryness (0.1 kg): they evaporate down to it and no further.
  EXPECT_GE(left.water, left.ash * 0.12 / 0.88);
  EXPECT_LE(left.water, before.water);
}

TEST(Ageing, LosesOfSolidManureInFiveMonthsWhatAHeapLost) {
  // Solid cattle manure stored for 5 months as a stockpiled heap lost 21 % of its nitrogen and 14 %
  // of its carbon, under a roof 12 and 17 % (Shah et al. 2015, J. Agric. Sci., abstract read). The
  // numbers are those of the library's cattle_manure. Storage losses differ between trials by more
  // than a half, so that is the tolerance.
  Material manure;
  manure.moisture_wet_basis = 0.81;
  manure.volatile_solids_dry_basis = 0.82;
  manure.carbon_dry_basis = 0.42;
  manure.nitrogen_dry_basis = 0.024;
  manure.fast_fraction = 0.13;
  manure.medium_fraction = 0.35;
  manure.slow_fraction = 0.32;
  manure.resistant_fraction = 0.20;
  manure.ageing_nitrogen_1_d = 0.008;
  manure.ageing_fast_1_d = 0.01;
  manure.ageing_water_1_d = 0.005;
  const AgedMaterial after = aged(manure, 150);
  const Contents before = contents(manure, 1.0);
  const Contents left = contents(after.material, after.wet_mass_factor);
  EXPECT_NEAR(1 - left.nitrogen / before.nitrogen, 0.21, 0.5 * 0.21);
  EXPECT_NEAR(1 - left.carbon / before.carbon, 0.14, 0.5 * 0.14);
}

TEST(Ageing, ASlurryKeepsRoomForItsWater) {
  Material slurry = clippings();
  slurry.moisture_wet_basis = 0.94;
  slurry.bulk_density_wet_kg_m3 = 980;
  slurry.fast_fraction = 0.7;
  slurry.medium_fraction = 0;
  slurry.ageing_water_1_d = 0;
  EXPECT_TRUE(material_faults(aged(slurry, 100).material, "slurry").empty());
}

TEST(Ageing, TwoWaitsAreOneLongWait) {
  const AgedMaterial once = aged(clippings(), 12);
  const AgedMaterial first = aged(clippings(), 5);
  const AgedMaterial second = aged(first.material, 7);
  EXPECT_NEAR(first.wet_mass_factor * second.wet_mass_factor, once.wet_mass_factor, 1e-14);
  EXPECT_NEAR(second.material.nitrogen_dry_basis, once.material.nitrogen_dry_basis, 1e-14);
  EXPECT_NEAR(second.material.fast_fraction, once.material.fast_fraction, 1e-14);
}

TEST(Ageing, ChangesNothingWithoutWaitingOrRates) {
  Material keeps = clippings();
  keeps.ageing_nitrogen_1_d = keeps.ageing_fast_1_d = keeps.ageing_water_1_d = 0;
  for (const AgedMaterial& after : {aged(clippings(), 0), aged(keeps, 365)}) {
    EXPECT_NEAR(after.wet_mass_factor, 1, 1e-15);
    EXPECT_NEAR(after.dry_mass_factor, 1, 1e-15);
    for (const MaterialProperty& property : material_properties()) {
      if (property.key.starts_with("ageing")) {
        continue;
      }
      const double before = clippings().*property.member;
      EXPECT_NEAR(after.material.*property.member, before, 1e-14 * before) << property.key;
    }
  }
}

TEST(Ageing, LeavesASoundMaterialHoweverLong) {
  for (const double days : {1.0, 30.0, 365.0, 3650.0}) {
    EXPECT_TRUE(material_faults(aged(clippings(), days).material, "aged").empty()) << days;
  }
}

TEST(Ageing, TakesAMaterialWithoutOrganicMatter) {
  Material ash = clippings();
  ash.volatile_solids_dry_basis = ash.carbon_dry_basis = ash.nitrogen_dry_basis = 0;
  const AgedMaterial after = aged(ash, 100);
  EXPECT_NEAR(after.dry_mass_factor, 1, 1e-15);
  EXPECT_TRUE(material_faults(after.material, "ash").empty());
}

TEST(Ageing, RefusesTimesOutsideItsRange) {
  for (const double days : {-1.0, 3651.0, std::numeric_limits<double>::quiet_NaN(),
                            std::numeric_limits<double>::infinity()}) {
    EXPECT_THROW((void)aged(clippings(), days), InputError) << days;
  }
}

} // namespace
} // namespace heapcast::models
