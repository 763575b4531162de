#include "models/properties/composition.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(Composition, MassAddedForAMoistureGivesThatMoisture) {
  const WetPortion dry_leaves{40.0, 0.20};
  const double water_kg = mass_to_reach_moisture_kg({dry_leaves, 1.0, 0.60});
  EXPECT_DOUBLE_EQ(water_kg, 40.0); // 40 (0.6 − 0.2) / (1 − 0.6)
  EXPECT_DOUBLE_EQ(mixed_moisture(dry_leaves, {water_kg, 1.0}), 0.60);
}

TEST(Composition, UnreachableMoistureGivesANegativeMass) {
  EXPECT_LT(mass_to_reach_moisture_kg({{10.0, 0.70}, 0.65, 0.60}), 0.0);
}

TEST(Composition, MoreLigninDegradesLess) {
  EXPECT_DOUBLE_EQ(biodegradable_fraction(0.0), 0.830);
  EXPECT_LT(biodegradable_fraction(0.2), biodegradable_fraction(0.1));
}

} // namespace
} // namespace heapcast::models
