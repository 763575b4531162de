#include "models/properties/growth.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <utility>

namespace heapcast::models {
namespace {

constexpr CardinalTemperatures thermophiles{freezing_K - 2.0, freezing_K + 58.0, freezing_K + 72.0};

TEST(Growth, TemperatureResponseHasItsCheckValues) {
  // Rosso et al. 1993 for (−2, 58, 72) °C, worked out by hand to three decimals, hence half a unit.
  // At 20 °C: (20 − 72)(22)² / (60 [60 (20 − 58) − (58 − 72)(56 − 40)]) = 25168 / 123360 = 0.204.
  constexpr std::pair<double, double> check_values[] = {
      {20.0, 0.204}, {40.0, 0.664}, {55.0, 0.983}, {65.0, 0.850}, {70.0, 0.379}};
  for (const auto& [celsius, expected] : check_values) {
    EXPECT_NEAR(temperature_response(thermophiles, freezing_K + celsius), expected, 0.0005);
  }
}

TEST(Growth, TemperatureResponseIsOneAtTheOptimumAndNowhereMore) {
  EXPECT_NEAR(temperature_response(thermophiles, freezing_K + 58.0), 1.0, 1e-12); // rounding
  for (const double T : tests::steps(260.0, 359.9, 0.1)) {
    EXPECT_LE(temperature_response(thermophiles, T), 1.0 + 1e-12);
    EXPECT_GE(temperature_response(thermophiles, T), 0.0);
  }
}

TEST(Growth, TemperatureResponseReachesZeroAtTheLimits) {
  for (const double limit_K : {thermophiles.min_K, thermophiles.max_K}) {
    EXPECT_EQ(temperature_response(thermophiles, limit_K), 0.0);
    // Continuous: 1e-6 K inside, the steepest slope (0.25 1/K at the maximum) leaves 2.5e-7.
    EXPECT_NEAR(temperature_response(thermophiles, limit_K - 1e-6), 0.0, 3e-7);
    EXPECT_NEAR(temperature_response(thermophiles, limit_K + 1e-6), 0.0, 3e-7);
  }
  EXPECT_EQ(temperature_response(thermophiles, 200.0), 0.0);
  EXPECT_EQ(temperature_response(thermophiles, 400.0), 0.0);
  EXPECT_EQ(temperature_response(thermophiles, std::numeric_limits<double>::quiet_NaN()), 0.0);
}

/// Both communities at a temperature in degC, mesophiles with this share.
double communities(double share, double celsius) {
  const double kelvin = freezing_K + celsius;
  return community_response(temperature_response(thermophiles, kelvin),
                            share * mesophile_response(thermophiles.min_K, kelvin));
}

TEST(Growth, CommunitiesWorkAsTheThermophilesAloneAbove48AndWithoutMesophiles) {
  for (const double t : tests::steps(48.0, 71.9, 0.1)) {
    EXPECT_NEAR(communities(0.6, t), temperature_response(thermophiles, freezing_K + t),
                1e-15); // rounding near 1
  }
  for (const double t : tests::steps(-10.0, 80.0, 0.5)) {
    EXPECT_NEAR(communities(0.0, t), temperature_response(thermophiles, freezing_K + t),
                1e-15); // rounding near 1
  }
}

TEST(Growth, CommunitiesShareOneSubstrate) {
  // At 37 °C mesophiles are at their best, and thermophiles at
  // (37 − 72) 39² / (60 [60 (37 − 58) + 14 (56 − 74)]) = 53235/90720 = 0.5868; 1 − 0.4132·0.4.
  EXPECT_NEAR(communities(0.6, 37.0), 1.0 - 0.41319 * 0.4, 1e-5);
  // Never above one, and level within 0.06 from 37 to 46 °C.
  double least = 1.0;
  double most = 0.0;
  for (const double t : tests::steps(37.0, 46.0, 0.1)) {
    const double f = communities(0.6, t);
    least = std::min(least, f);
    most = std::max(most, f);
  }
  EXPECT_LT(most, 1.0);
  EXPECT_LT(most - least, 0.06);
}

TEST(Growth, MesophilesHaveNoCorner) {
  const double min_K = thermophiles.min_K;
  EXPECT_EQ(mesophile_response(min_K, freezing_K + 48.0), 0.0);
  EXPECT_NEAR(mesophile_response(min_K, freezing_K + 37.0), 1.0, 1e-12); // rounding
  // Slopes over 0.01 K next to each other differ by a curvature of at most 6/11² 1/K² (that of the
  // smooth step) times 0.01 K.
  for (const double t : tests::steps(0.0, 50.0, 0.01)) {
    const auto f = [&](double celsius) { return mesophile_response(min_K, freezing_K + celsius); };
    EXPECT_LT(std::abs(f(t + 0.02) - 2.0 * f(t + 0.01) + f(t)), 6.0 / 121.0 * 1e-4 + 1e-12) << t;
  }
}

TEST(Growth, MoistureResponseIsOneHalfAtTheMiddle) {
  EXPECT_DOUBLE_EQ(moisture_response({0.40, 0.40, 17.7}), 0.5);
  // Haug 1993 with 7.06 and 17.68 as printed gives 1/(1 + exp(−3.548)) = 0.972 at 60 %. The rounded
  // midpoint and slope move the exponent by 17.7·0.2 − 3.548 = −0.008, and with it the value by
  // 0.008·0.972·0.028 = 2.2e-4.
  EXPECT_NEAR(moisture_response({0.60, 0.40, 17.7}), 1.0 / (1.0 + std::exp(7.06 - 17.68 * 0.60)),
              2.5e-4);
}

TEST(Growth, OxygenHalfSaturationFallsWithWarmthToItsFloor) {
  // 0.79 − 0.041·20 + 0.040·60 = 2.37 vol %.
  EXPECT_NEAR(oxygen_half_saturation({freezing_K + 20.0, 0.60}), 0.0237, 1e-12);
  // 0.79 − 0.041·70 + 0.040·50 = −0.08: the floor.
  EXPECT_DOUBLE_EQ(oxygen_half_saturation({freezing_K + 70.0, 0.50}), 0.003);
}

TEST(Growth, ParticleSizeFactorIsOneAt15MillimetresAndHeld) {
  EXPECT_DOUBLE_EQ(particle_size_factor({0.015, 0.35}), 1.0);
  // Four times as long: 4^−0.5.
  EXPECT_DOUBLE_EQ(particle_size_factor({0.060, 0.5}), 0.5);
  EXPECT_DOUBLE_EQ(particle_size_factor({1e-4, 0.35}), 1.6);
  EXPECT_DOUBLE_EQ(particle_size_factor({10.0, 0.35}), 0.4);
}

TEST(Growth, AcidSlowsOnlyWhenHot) {
  EXPECT_EQ(acid_inhibition({4.5, freezing_K + 38.0, 6.0}), 1.0);
  EXPECT_EQ(acid_inhibition({4.5, freezing_K + 10.0, 6.0}), 1.0);
  EXPECT_EQ(acid_inhibition({7.0, freezing_K + 60.0, 6.0}), 1.0);
  EXPECT_DOUBLE_EQ(acid_inhibition({6.0, freezing_K + 45.0, 6.0}), 0.5);
  EXPECT_EQ(acid_inhibition({5.0, freezing_K + 45.0, 6.0}), 0.0);
  // Half way between 38 and 44 °C half of the effect at pH_half: 1 − 0.5·0.5.
  EXPECT_DOUBLE_EQ(acid_inhibition({6.0, freezing_K + 41.0, 6.0}), 0.75);
}

TEST(Growth, AcidInhibitionIsSmooth) {
  // The steepest slope of a smooth step is 1.5 over its width: 1.5/6 per K and 1.5/2 per pH unit.
  for (const double t : tests::steps(30.0, 59.9, 0.1)) {
    EXPECT_LE(acid_inhibition({4.0, freezing_K + t, 6.0}) -
                  acid_inhibition({4.0, freezing_K + t + 0.1, 6.0}),
              0.1 * 0.25 + 1e-12);
  }
  for (const double ph : tests::steps(4.0, 7.9, 0.1)) {
    EXPECT_LE(acid_inhibition({ph + 0.1, freezing_K + 50.0, 6.0}) -
                  acid_inhibition({ph, freezing_K + 50.0, 6.0}),
              0.1 * 0.75 + 1e-12);
  }
}

TEST(Growth, DecayFactorIsOneAt20AndStopsRisingAt60) {
  EXPECT_DOUBLE_EQ(decay_temperature_factor({1.05, freezing_K + 20.0}), 1.0);
  // 1.05^10; 30 °C in kelvin is exact to 6e-14.
  EXPECT_NEAR(decay_temperature_factor({1.05, freezing_K + 30.0}), 1.628894626777442, 1e-12);
  EXPECT_EQ(decay_temperature_factor({1.05, freezing_K + 75.0}),
            decay_temperature_factor({1.05, freezing_K + 60.0}));
}

} // namespace
} // namespace heapcast::models
