#include "models/properties/gas_diffusion.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(GasDiffusion, SeriesFollowsThePower) {
  // 2e-4 is what the header promises from 210 to 365 K.
  for (const double T : tests::steps(210.0, 365.0, 1.0)) {
    EXPECT_NEAR(diffusivity_temperature_factor(T) / std::pow(T / 273.15, 1.81), 1.0, 2e-4) << T;
  }
}

TEST(GasDiffusion, EveryGasHasADiffusivityOfItsKind) {
  // All trace gases but hydrogen and helium lie between 0.1 and 0.3 cm2/s in air at 0 °C.
  for (const Gas gas : {Gas::oxygen, Gas::carbon_dioxide, Gas::methane, Gas::ammonia, Gas::water,
                        Gas::nitrous_oxide}) {
    EXPECT_GT(diffusivity_m2_s(gas, freezing_K), 0.1e-4);
    EXPECT_LT(diffusivity_m2_s(gas, freezing_K), 0.3e-4);
  }
}

TEST(GasDiffusion, PoresLetPassTheSquareOfTheirShare) {
  EXPECT_DOUBLE_EQ(relative_pore_diffusivity(0.5), 0.25);
  EXPECT_DOUBLE_EQ(relative_pore_diffusivity(1.0), 1.0);
}

TEST(GasDiffusion, ClosedPoresDoNotDiffuse) {
  EXPECT_EQ(relative_pore_diffusivity(0.0), 0.0);
  EXPECT_EQ(relative_pore_diffusivity(-0.1), 0.0);
}

TEST(GasDiffusion, OxygenFluxIntoALayerFeedsItsUptake) {
  // The profile C (1 − x/d)² has the flux 2 D C / d at the surface, which must equal r d.
  const ConstantUptake layer{4e-6, 8.0, 2e-3};
  const double depth_m = oxygen_penetration_m(layer);
  EXPECT_DOUBLE_EQ(2.0 * layer.diffusivity_m2_s * layer.concentration_mol_m3 / depth_m,
                   layer.uptake_mol_m3_s * depth_m);
}

TEST(GasDiffusion, PoreOxygenLastsAsLongAsItsAmountOverItsUptake) {
  EXPECT_DOUBLE_EQ(oxygen_exhaustion_s({0.25, 8.0, 2e-3}), 1000.0);
}

} // namespace
} // namespace heapcast::models
