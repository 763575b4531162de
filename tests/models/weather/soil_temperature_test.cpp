#include "models/weather/soil_temperature.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <numbers>
#include <numeric>
#include <vector>

namespace {

using namespace heapcast::models;
using std::chrono::hours;

constexpr double year_d = 365.2425;
const double damping_depth_m =
    std::sqrt(soil_diffusivity_m2_s * 86400.0 * year_d / std::numbers::pi);

LocalHours at(const char* time) {
  return *parse_time(time);
}

/// Hottest on 21 July 2023, at noon.
const AnnualWave north{
    .mean_K = 283.15,
    .amplitude_K = 10.0,
    .hottest_d = static_cast<double>((at("2023-07-21T12:00") - at("2000-01-01")).count()) / 24.0};

std::vector<double> hourly(const AnnualWave& wave, LocalHours first, std::size_t count) {
  std::vector<double> values;
  for (std::size_t i = 0; i < count; ++i) {
    values.push_back(temperature_K(wave, first + hours{i}));
  }
  return values;
}

double mean(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

TEST(AnnualWave, IsHottestAtItsTimeAndColdestHalfAYearLater) {
  EXPECT_NEAR(temperature_K(north, at("2023-07-21T12:00")), 293.15, 1e-9);
  // Half a year is 182.62 days; the cosine is flat there, 10 K (0.12 * 0.0172)^2 / 2 = 2e-5 K.
  EXPECT_NEAR(temperature_K(north, at("2024-01-20T00:00")), 273.15, 1e-4);
}

TEST(AnnualWave, IsDampedByExpAndDelayedByTheDampingDepth) {
  // sqrt(4.8e-7 m2/s 3.1557e7 s / pi) = 2.196 m.
  EXPECT_NEAR(damping_depth_m, 2.196, 0.001);
  const AnnualWave below = deeper(north, damping_depth_m);
  EXPECT_EQ(below.mean_K, north.mean_K);
  EXPECT_NEAR(below.amplitude_K, 10.0 / std::numbers::e, 1e-12);
  EXPECT_NEAR(below.hottest_d - north.hottest_d, year_d / (2.0 * std::numbers::pi), 1e-9);
  // At 0.5 m exp(-0.5/2.196) = 0.796 and 0.5/2.196 58.13 d = 13.2 d.
  const AnnualWave half = deeper(north, soil_depth_m);
  EXPECT_NEAR(half.amplitude_K, 7.96, 0.005);
  EXPECT_NEAR(half.hottest_d - north.hottest_d, 13.2, 0.05);
}

TEST(AnnualWave, ComesBackUpAsItWentDown) {
  const AnnualWave again = deeper(deeper(north, 1.5), -1.5);
  EXPECT_NEAR(again.amplitude_K, north.amplitude_K, 1e-12);
  EXPECT_NEAR(again.hottest_d, north.hottest_d, 1e-9);
}

TEST(AnnualWave, SolvesTheHeatEquation) {
  // dT/dt = a d2T/dz2 by central differences of 1 day and 5 cm about 0.5 m. Their relative error
  // is (0.0172)^2/6 = 5e-5 in time and (0.05/2.2)^2/6 = 1e-4 in depth, about half-way between the
  // coldest and the hottest day of the soil.
  constexpr double step_m = 0.05;
  for (const char* time : {"2023-04-20", "2023-05-15", "2023-10-30"}) {
    const auto in_depth = [&](double depth_m) {
      return temperature_K(deeper(north, depth_m), at(time));
    };
    const AnnualWave wave = deeper(north, soil_depth_m);
    const double in_time_K_s =
        (temperature_K(wave, at(time) + hours{24}) - temperature_K(wave, at(time) - hours{24})) /
        (2.0 * 86400.0);
    const double curvature_K_m2 =
        (in_depth(0.5 + step_m) - 2.0 * in_depth(0.5) + in_depth(0.5 - step_m)) / (step_m * step_m);
    EXPECT_NEAR(in_time_K_s / (soil_diffusivity_m2_s * curvature_K_m2), 1.0, 5e-4) << time;
  }
}

TEST(AnnualWave, IsFoundInAYearOfItsTemperatures) {
  AnnualWave south = north;
  south.hottest_d += 0.5 * year_d; // 20 January
  for (const AnnualWave& wave : {north, south}) {
    const auto fitted = fitted_wave(hourly(wave, at("2024-03-01"), 8784), at("2024-03-01"));
    EXPECT_NEAR(fitted.mean_K, wave.mean_K, 1e-9);
    EXPECT_NEAR(fitted.amplitude_K, wave.amplitude_K, 1e-9);
    EXPECT_NEAR(std::remainder(fitted.hottest_d - wave.hottest_d, year_d), 0.0, 1e-6);
  }
}

TEST(AnnualWave, IsFoundBesideDaysAndNightsAndAColdSpell) {
  auto air_K = hourly(north, at("2023-01-01"), 3UL * 8760UL);
  for (std::size_t i = 0; i < air_K.size(); ++i) {
    air_K[i] += 6.0 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / 24.0);
  }
  // Ten days 8 K colder move the mean of three years by 8 K 10/1095 = 0.07 K, each coefficient of
  // the wave by twice that at most.
  for (std::size_t i = 8760; i < 8760 + 240; ++i) {
    air_K[i] -= 8.0;
  }
  const auto fitted = fitted_wave(air_K, at("2023-01-01"));
  EXPECT_NEAR(fitted.mean_K, north.mean_K, 0.08);
  EXPECT_NEAR(fitted.amplitude_K, north.amplitude_K, 0.15);
}

TEST(AnnualWave, KeepsTheMeanOfTheYear) {
  // A year that is no wave: winter half 2 degC, summer half 19 degC.
  std::vector<double> air_K(8766, 275.15);
  std::fill(air_K.begin() + 2190, air_K.begin() + 6573, 292.15);
  const auto surface = fitted_wave(air_K, at("2023-01-01"));
  const auto soil_K = hourly(deeper(surface, soil_depth_m), at("2023-01-01"), 8766);
  // 8766 hours are 365.25 days, 0.0075 days more than the wave's year: 1e-4 K of 10 K.
  EXPECT_NEAR(mean(soil_K), mean(air_K), 1e-3);
}

TEST(AnnualWave, IsFlatWhereTheYearIs) {
  std::vector<double> air_K;
  for (std::size_t i = 0; i < 8760; ++i) {
    air_K.push_back(299.15 +
                    5.0 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / 24.0));
  }
  const auto fitted = fitted_wave(air_K, at("2023-01-01"));
  EXPECT_NEAR(fitted.mean_K, 299.15, 1e-6);
  // Whole days cancel but for the change of the year's cosine within a day, 5 K / 365.
  EXPECT_NEAR(fitted.amplitude_K, 0.0, 0.02);
}

TEST(AnnualWave, HasTheMeansOfTwelveMonths) {
  // Means over twelfths of the year of 283.15 + 10 cos(x - h): the integral is the sine's.
  const double hottest = 2.0 * std::numbers::pi * 200.0 / year_d;
  std::array<double, 12> monthly_K{};
  for (std::size_t m = 0; m < 12; ++m) {
    const double from = std::numbers::pi / 6.0 * static_cast<double>(m);
    const double to = from + std::numbers::pi / 6.0;
    monthly_K[m] = 283.15 + 10.0 * (std::sin(to - hottest) - std::sin(from - hottest)) /
                                (std::numbers::pi / 6.0);
  }
  const auto wave = wave_of_months(monthly_K);
  EXPECT_NEAR(wave.mean_K, 283.15, 1e-9);
  EXPECT_NEAR(wave.amplitude_K, 10.0, 1e-9);
  EXPECT_NEAR(std::remainder(wave.hottest_d - 200.0, year_d), 0.0, 1e-6);
}

TEST(AnnualWave, OfCalendarMonthsIsThatOfTheirDays) {
  // Months of 28 to 31 days are taken as twelfths, whose middles are up to 1.3 days off: about a
  // day in the wave and 1.3 0.0172 10 K = 0.2 K in its coefficients.
  std::array<double, 12> monthly_K{};
  for (unsigned m = 1; m <= 12; ++m) {
    const std::chrono::year_month month{std::chrono::year{2023}, std::chrono::month{m}};
    const LocalHours from{LocalDays{month / 1}};
    const LocalHours to{LocalDays{(month + std::chrono::months{1}) / 1}};
    monthly_K[m - 1] = mean(hourly(north, from, static_cast<std::size_t>((to - from).count())));
  }
  const auto wave = wave_of_months(monthly_K);
  EXPECT_NEAR(wave.amplitude_K, north.amplitude_K, 0.2);
  EXPECT_NEAR(std::remainder(wave.hottest_d - north.hottest_d, year_d), 0.0, 1.3);
}

} // namespace
