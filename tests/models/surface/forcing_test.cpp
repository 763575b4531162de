#include "models/surface/forcing.hpp"

#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

/// Rain of 3 mm/h in hours 2 and 3, none before and after, at 10 degC.
ForcingSeries showers() {
  Weather w = *tests::weather(1.0, {.mean_C = 10.0, .daily_swing_K = 4.0});
  w.rain_kg_m2_h.assign(w.size(), 0.0);
  w.rain_kg_m2_h[2] = w.rain_kg_m2_h[3] = 3.0;
  return {w, 0.0};
}

TEST(ForcingSeries, IsLinearBetweenSamples) {
  const ForcingSeries series = showers();
  const double low = series.at(4.0 * 3600.0).air_temperature_K;
  const double high = series.at(5.0 * 3600.0).air_temperature_K;
  ASSERT_NE(low, high);
  // A few roundings of 280 K.
  EXPECT_NEAR(series.at(4.25 * 3600.0).air_temperature_K, 0.75 * low + 0.25 * high, 1e-12);
}

TEST(ForcingSeries, RainIsThatOfTheHourFromItsStart) {
  const ForcingSeries series = showers();
  EXPECT_EQ(series.at(2.0 * 3600.0 - 1.0).rain_kg_m2_s, 0.0);
  EXPECT_DOUBLE_EQ(series.at(2.0 * 3600.0).rain_kg_m2_s, 3.0 / 3600.0);
  EXPECT_DOUBLE_EQ(series.at(4.0 * 3600.0 - 1.0).rain_kg_m2_s, 3.0 / 3600.0);
  EXPECT_EQ(series.at(4.0 * 3600.0).rain_kg_m2_s, 0.0);
}

TEST(ForcingSeries, StepThatEndsWhereRainStartsStaysDry) {
  const ForcingSeries series = showers();
  const Forcing end = series.at({.t_s = 2.0 * 3600.0, .start_s = 1.5 * 3600.0});
  EXPECT_EQ(end.rain_kg_m2_s, 0.0);
  EXPECT_EQ(end.air_temperature_K, series.at(2.0 * 3600.0).air_temperature_K);
}

TEST(ForcingSeries, PrecipitationJumpsOnlyWhereItChanges) {
  const ForcingSeries series = showers();
  EXPECT_FALSE(series.precipitation_jumps_at(0.0));
  EXPECT_FALSE(series.precipitation_jumps_at(1.0 * 3600.0));
  EXPECT_TRUE(series.precipitation_jumps_at(2.0 * 3600.0));
  EXPECT_FALSE(series.precipitation_jumps_at(2.5 * 3600.0));
  EXPECT_FALSE(series.precipitation_jumps_at(3.0 * 3600.0));
  EXPECT_TRUE(series.precipitation_jumps_at(4.0 * 3600.0));
}

} // namespace
} // namespace heapcast::models
