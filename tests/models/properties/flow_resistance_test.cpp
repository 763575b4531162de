#include "models/properties/flow_resistance.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace heapcast::models {
namespace {

TEST(FlowResistance, PermeabilityGoesWithTheSquareOfTheFlowSize) {
  EXPECT_DOUBLE_EQ(permeability_m2({2e-3, 0.4}), 4.0 * permeability_m2({1e-3, 0.4}));
}

TEST(FlowResistance, WaterloggedPoresAreTightAndEmptySpaceIsFinite) {
  EXPECT_EQ(permeability_m2({1e-3, 0.0}), 0.0);
  EXPECT_EQ(permeability_m2({1e-3, -0.2}), 0.0);
  EXPECT_TRUE(std::isfinite(permeability_m2({1e-3, 1.0})));
}

TEST(FlowResistance, PermeabilityRisesWithFreeAirSpace) {
  for (const double e : tests::steps(0.0, 0.98, 0.01)) {
    EXPECT_LT(permeability_m2({1e-3, e}), permeability_m2({1e-3, e + 0.01}));
  }
}

TEST(FlowResistance, SlowErgunFlowIsDarcyFlow) {
  const PoreFlow flow{{1e-3, 0.4}, 1e-6, 1.8e-5, 1.2};
  const double darcy_Pa_m = 1.8e-5 * 1e-6 / permeability_m2(flow.pores);
  // 1.75 ρ v d / (150 μ (1 − ε)) = 1.75·1.2·1e-6·1e-3 / (150·1.8e-5·0.6) = 1.3e-6 beside it.
  EXPECT_NEAR(ergun_gradient_Pa_m(flow) / darcy_Pa_m, 1.0, 1.4e-6);
}

TEST(FlowResistance, NaturalDraughtIsLinear) {
  // The header's claim: 1 % at most up to 5e-4 m/s with 10 mm and 60 % free air space.
  const PoreFlow flow{{0.010, 0.6}, 5e-4, 1.8e-5, 1.2};
  const double darcy_Pa_m = 1.8e-5 * 5e-4 / permeability_m2(flow.pores);
  EXPECT_LT(ergun_gradient_Pa_m(flow) / darcy_Pa_m, 1.01);
}

} // namespace
} // namespace heapcast::models
