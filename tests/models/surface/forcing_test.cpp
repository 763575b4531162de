#include "models/surface/forcing.hpp"

#include "models/properties/moist_air.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

namespace heapcast::models {
namespace {

/// Rain of 3 mm/h in hours 2 and 3, none before and after, at 10 degC.
ForcingSeries showers() {
  Weather w = *tests::weather(1.0, {.mean_C = 10.0, .daily_swing_K = 4.0});
  w.rain_kg_m2_h.assign(w.size(), 0.0);
  w.rain_kg_m2_h[2] = w.rain_kg_m2_h[3] = 3.0;
  return {w, 0.0};
}

/// Weather whose air temperature is given by the hour [degC]; the rest is the same all the time.
ForcingSeries warming(const std::vector<double>& degC) {
  Weather w = *tests::weather(1.0, {.mean_C = 10.0, .daily_swing_K = 4.0});
  for (std::size_t hour = 0; hour < w.size(); ++hour) {
    w.air_temperature_K[hour] = degC[std::min(hour, degC.size() - 1)] + freezing_K;
  }
  return {w, 0.0};
}

TEST(ForcingSeries, GoesStraightFromSampleToSample) {
  const std::vector<double> degC = {10.0, 11.0, 14.0, 15.0, 15.0, 12.0};
  const ForcingSeries series = warming(degC);
  for (std::size_t hour = 0; hour + 1 < degC.size(); ++hour) {
    for (int tenth = 0; tenth <= 10; ++tenth) {
      const double share = 0.1 * tenth;
      EXPECT_NEAR(series.at(3600.0 * (static_cast<double>(hour) + share)).air_temperature_K,
                  (1.0 - share) * degC[hour] + share * degC[hour + 1] + freezing_K, 1e-9)
          << hour << ' ' << tenth;
    }
  }
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

TEST(EndOfHour, IsThatOfTheHourWhichBeginsThere) {
  EXPECT_EQ(end_of_hour_s(0.0), 3600.0);
  EXPECT_EQ(end_of_hour_s(3599.0), 3600.0);
  EXPECT_EQ(end_of_hour_s(3600.0), 7200.0);
  EXPECT_EQ(end_of_hour_s(3600.0 * (1.0 - 1e-12)), 7200.0); // rounding is no time
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
