#include "models/materials/material_property.hpp"

#include <limits>
#include <set>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

using ::testing::HasSubstr;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

TEST(MaterialProperties, HaveEachKeyAndMemberOnce) {
  std::set<std::string_view> keys;
  std::set<const double*> members;
  const Material material;
  for (const MaterialProperty& property : material_properties()) {
    EXPECT_TRUE(keys.insert(property.key).second) << property.key;
    EXPECT_TRUE(members.insert(&(material.*property.member)).second) << property.key;
    EXPECT_EQ(find_material_property(property.key), &property);
  }
  EXPECT_EQ(find_material_property("colour"), nullptr);
}

TEST(MaterialProperties, CoverEveryNumberOfAMaterial) {
  // A Material without its four leading text members holds nothing but doubles.
  const Material material;
  const auto* first = reinterpret_cast<const char*>(&material.moisture_wet_basis);
  const auto* end = reinterpret_cast<const char*>(&material) + sizeof(Material);
  EXPECT_EQ(material_properties().size(), static_cast<std::size_t>(end - first) / sizeof(double));
}

TEST(MaterialProperties, ConvertToTheirUnit) {
  Material material;
  material.nitrogen_dry_basis = 0.021;
  material.flow_size_m = 0.003;
  material.ageing_fast_1_d = 0.05;
  // One multiplication and one division: 4 units in the last place are enough.
  EXPECT_DOUBLE_EQ(value_in_unit(material, *find_material_property("nitrogen")), 2.1);
  EXPECT_DOUBLE_EQ(value_in_unit(material, *find_material_property("flow_size")), 3);
  EXPECT_DOUBLE_EQ(value_in_unit(material, *find_material_property("ageing_fast")), 5);
}

TEST(MaterialFaults, DefaultMaterialIsSound) {
  EXPECT_TRUE(material_faults(Material{}, "here").empty());
}

TEST(MaterialFaults, EveryPropertyRefusesNanAndValuesOutsideItsRange) {
  for (const MaterialProperty& property : material_properties()) {
    for (const double value : {nan, property.low - 1e-3, property.high * 1.001,
                               -std::numeric_limits<double>::infinity()}) {
      Material material;
      material.*property.member = value * property.factor;
      const auto faults = material_faults(material, "here");
      ASSERT_EQ(faults.size(), 1U) << property.key << " = " << value;
      EXPECT_EQ(faults[0].where, "here");
      EXPECT_THAT(faults[0].what, HasSubstr(std::string(property.key)));
      EXPECT_THAT(faults[0].remedy, HasSubstr(std::string(property.unit)));
    }
  }
}

TEST(MaterialFaults, RangesIncludeTheirEnds) {
  for (const MaterialProperty& property : material_properties()) {
    for (const double value : {property.low, property.high}) {
      Material material;
      material.*property.member = value * property.factor;
      for (const Fault& fault : material_faults(material, "here")) {
        // A range fault explains the property; the others (pools, carbon, volume) do not.
        EXPECT_THAT(fault.remedy, ::testing::Not(HasSubstr(std::string(property.meaning))))
            << value;
      }
    }
  }
}

TEST(MaterialFaults, RefusesPoolsThatDoNotMakeAWhole) {
  Material material;
  material.fast_fraction = 0.25; // + 0.35 + 0.3 + 0.2 = 1.1
  const auto faults = material_faults(material, "here");
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("make 110 % of carbon"));
}

TEST(MaterialFaults, RefusesMoreCarbonThanTheAshLeavesRoomFor) {
  Material material;
  material.volatile_solids_dry_basis = 0.6;
  material.carbon_dry_basis = 0.4; // above 0.58 x 0.6 = 0.348
  const auto faults = material_faults(material, "here");
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("0.58 x 60 = 34.8 % dry"));
}

TEST(MaterialFaults, TellsTheAshThatLeavesNoRoomForTheCarbon) {
  Material material;
  material.volatile_solids_dry_basis = 0.8;
  material.carbon_dry_basis = 0.62;
  const auto faults = material_faults(material, "here");
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("carbon is 62 % dry, but ash of 20 % leaves 80 % dry"));
  EXPECT_THAT(faults[0].what, HasSubstr("0.58 x 80 = 46.4 % dry"));
}

TEST(MaterialFaults, LetCharAndNothingElseBeMostlyCarbon) {
  Material material;
  material.volatile_solids_dry_basis = 0.9;
  material.carbon_dry_basis = 0.75;
  EXPECT_EQ(material_faults(material, "here").size(), 1U);
  material.fast_fraction = material.medium_fraction = material.slow_fraction = 0;
  material.resistant_fraction = 0.05;
  material.humus_fraction = 0.95;
  EXPECT_TRUE(material_faults(material, "here").empty());
  material.carbon_dry_basis = 0.87; // above 0.95 x 0.9 = 0.855
  EXPECT_EQ(material_faults(material, "here").size(), 1U);
}

TEST(MaterialFaults, RefusesMoreOrganicNitrogenThanProteinHas) {
  Material material;
  material.volatile_solids_dry_basis = 0.5;
  material.carbon_dry_basis = 0.25;
  material.nitrogen_dry_basis = 0.12; // 3 % ammoniacal: 11.64 % above 0.19 x 50 = 9.5 %
  const auto faults = material_faults(material, "here");
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("leaves 11.64 % dry as organic nitrogen"));
  EXPECT_THAT(faults[0].what, HasSubstr("0.19 x 50 = 9.5 % dry"));
  material.ammoniacal_fraction = 0.5; // 6 % are left
  EXPECT_TRUE(material_faults(material, "here").empty());
}

TEST(MaterialFaults, RefusesTheImpossibleCarbonOfAveragedSawdust) {
  // Reference ids sawdust.N (0.24 % dry) times sawdust.CN (442) are 106 % carbon.
  Material material;
  material.volatile_solids_dry_basis = 0.985;
  material.nitrogen_dry_basis = 0.0024;
  material.carbon_dry_basis = 0.0024 * 442;
  EXPECT_EQ(material_faults(material, "here").size(), 1U);
}

TEST(MaterialFaults, RefusesMoreMassThanACubicMetreHolds) {
  Material material;
  material.volatile_solids_dry_basis = 0.9;
  material.moisture_wet_basis = 0.5;
  // 1300 kg: 650 kg of solids in (0.9/1600 + 0.1/2500) x 650 = 0.392 m3, 0.65 m3 of water.
  material.bulk_density_wet_kg_m3 = 1300;
  const auto faults = material_faults(material, "here");
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("1.04 m3"));
  // 1200 kg: 0.3615 + 0.6 m3 fit.
  material.bulk_density_wet_kg_m3 = 1200;
  EXPECT_TRUE(material_faults(material, "here").empty());
}

TEST(PoolsFromLignin, FollowThePublishedDegradableShare) {
  struct Row {
    double lignin, degradable;
  };
  // Reference ids chandler_0 to chandler_4 of recipe.csv; the formula is exact there, so only
  // rounding is allowed.
  for (const Row& row :
       {Row{0.004, 0.8188}, Row{0.219, 0.2168}, Row{0.129, 0.4688}, Row{0.041, 0.7152}}) {
    const PoolShares pools = pools_from_lignin(row.lignin);
    EXPECT_NEAR(pools.fast + pools.medium, row.degradable, 1e-12);
  }
}

TEST(PoolsFromLignin, AreSharesOfAWholeForAnyLignin) {
  for (int percent = 0; percent <= 50; ++percent) {
    const PoolShares pools = pools_from_lignin(percent / 100.0);
    // Four terms near 1: a few roundings of 1e-16.
    EXPECT_NEAR(pools.fast + pools.medium + pools.slow + pools.resistant, 1, 1e-14);
    for (const double share : {pools.fast, pools.medium, pools.slow, pools.resistant}) {
      EXPECT_GE(share, 0) << percent;
      EXPECT_LE(share, 1) << percent;
    }
  }
  EXPECT_THROW((void)pools_from_lignin(-0.01), InputError);
  EXPECT_THROW((void)pools_from_lignin(0.51), InputError);
  EXPECT_THROW((void)pools_from_lignin(nan), InputError);
}

} // namespace
} // namespace heapcast::models
