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

TEST(ForcingSeries, HasNoKinkAtTheHours) {
  const ForcingSeries series = warming({10.0, 11.0, 14.0, 15.0, 15.0, 12.0});
  constexpr double s = 1.0;
  for (int hour = 1; hour < 5; ++hour) {
    const double at = 3600.0 * hour;
    const double before = series.at(at).air_temperature_K - series.at(at - s).air_temperature_K;
    const double after = series.at(at + s).air_temperature_K - series.at(at).air_temperature_K;
    // A kink would be 1 to 3 K/h, 3e-4 to 8e-4 K in a second; a bend of the cubic, at most 12 K/h2,
    // is 1e-6 K.
    EXPECT_NEAR(before, after, 2e-6) << hour;
  }
}

TEST(ForcingSeries, PassesThroughItsSamplesAndNeverBeyondThem) {
  const std::vector<double> degC = {10.0, 11.0, 14.0, 15.0, 15.0, 12.0};
  const ForcingSeries series = warming(degC);
  for (std::size_t hour = 0; hour + 1 < degC.size(); ++hour) {
    const double low = std::min(degC[hour], degC[hour + 1]) + freezing_K;
    const double high = std::max(degC[hour], degC[hour + 1]) + freezing_K;
    EXPECT_NEAR(series.at(3600.0 * static_cast<double>(hour)).air_temperature_K,
                degC[hour] + freezing_K, 1e-12);
    for (int tenth = 1; tenth < 10; ++tenth) {
      const double between =
          series.at(3600.0 * (static_cast<double>(hour) + 0.1 * tenth)).air_temperature_K;
      EXPECT_GE(between, low - 1e-9) << hour << ' ' << tenth;
      EXPECT_LE(between, high + 1e-9) << hour << ' ' << tenth;
    }
  }
}

TEST(ForcingSeries, SlopesAreHarmonicMeans) {
  // Fritsch & Butland 1984: slopes 1 and 3 K/h around 11 degC have the harmonic mean 1.5; those at
  // the series' first sample is 0, so half way through the first hour Hermite's cubic is
  // 10.5 - 1.5 / 8.
  const ForcingSeries series = warming({10.0, 11.0, 14.0});
  EXPECT_NEAR(series.at(1800.0).air_temperature_K, 10.5 - 1.5 / 8.0 + freezing_K, 1e-12);
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
