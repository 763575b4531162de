#include "models/properties/oxidation.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(Oxidation, CarbohydrateTakesOneOxygenPerCarbon) {
  constexpr Compound glucose{6, 12, 6};
  EXPECT_DOUBLE_EQ(oxygen_demand_mol_mol(glucose), 6.0);
  EXPECT_NEAR(oxygen_per_carbon_kg_kgC, 2.664, 0.0005); // printed to three decimals
}

TEST(Oxidation, MassIsConserved) {
  // Compound and oxygen go in, CO2 and water come out; hydrogen makes half a water each. The molar
  // mass of water is of its own source, good to 1e-5.
  for (const Compound& compound : {Compound{6, 10, 5}, Compound{16, 32, 2}, Compound{1, 4, 0}}) {
    const double in = 1.0 + oxygen_demand_kg_kg(compound);
    const double water =
        0.5 * compound.hydrogen * molar_mass_water_kg_mol / molar_mass_kg_mol(compound);
    EXPECT_NEAR(carbon_dioxide_kg_kg(compound) + water, in, 1e-5 * in);
  }
}

} // namespace
} // namespace heapcast::models
