#include "models/weather/diurnal.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace {

using namespace heapcast::models;

const DayCourse equinox{.coldest_hour = 6, .warmest_hour = 14, .sunset_h = 18.0};

/// The largest step between two samples whose ranges overlap, as a share of the larger range: the
/// steepest part of the curve is the sine after the coldest hour, pi/2 of the range in 8 h or more,
/// or the night's exponential, 2.5 of what is left at sunset in 12 h; 0.35 leaves room for the
/// bending at midnight.
constexpr double steepest = 0.35;

TEST(DayCourse, IsColdestBeforeSunriseAndWarmestAfterNoon) {
  const auto day = day_course({.solar_noon_h = 12.0, .daylight_h = 12.0});
  EXPECT_EQ(day.coldest_hour, 6);  // 6 - 0.17
  EXPECT_EQ(day.warmest_hour, 14); // 12 + 1.86
  EXPECT_EQ(day.sunset_h, 18.0);
  const auto winter = day_course({.solar_noon_h = 12.2, .daylight_h = 8.0});
  EXPECT_EQ(winter.coldest_hour, 8); // 8.2 - 0.17
  EXPECT_EQ(winter.warmest_hour, 14);
}

TEST(DayCourse, IsInOrderForEveryDayLengthAndNoon) {
  for (int noon = 0; noon <= 34; ++noon) {
    for (int daylight = 0; daylight <= 48; ++daylight) {
      const auto day = day_course({.solar_noon_h = 0.7 * noon, .daylight_h = 0.5 * daylight});
      EXPECT_GE(day.coldest_hour, 0);
      EXPECT_LT(day.coldest_hour, day.warmest_hour);
      EXPECT_LE(day.warmest_hour, day.sunset_h);
      EXPECT_LT(day.sunset_h, 24.0);
    }
  }
}

TEST(HourlyTemperatures, ReachLowestAndHighestAtTheirHours) {
  const std::vector<DayRange> days{{2.0, 9.0, equinox}, {4.0, 12.0, equinox}, {-3.0, 5.0, equinox}};
  const auto hourly = hourly_temperatures(days);
  ASSERT_EQ(hourly.size(), 73U);
  for (std::size_t d = 0; d < days.size(); ++d) {
    EXPECT_DOUBLE_EQ(hourly[24 * d + 6], days[d].tmin);
    EXPECT_DOUBLE_EQ(hourly[24 * d + 14], days[d].tmax);
  }
}

TEST(HourlyTemperatures, StayWithinEachCalendarDaysRange) {
  // A cold front, a warm front and a still day in every order.
  const std::vector<DayRange> days{{10.0, 20.0, equinox}, {-5.0, 12.0, equinox},
                                   {-4.0, -1.0, equinox}, {-1.5, 15.0, equinox},
                                   {7.0, 7.0, equinox},   {6.0, 18.0, equinox}};
  const auto hourly = hourly_temperatures(days);
  for (std::size_t d = 0; d < days.size(); ++d) {
    const auto first = hourly.begin() + static_cast<std::ptrdiff_t>(24 * d);
    const auto [low, high] = std::minmax_element(first, first + 24);
    EXPECT_DOUBLE_EQ(*low, days[d].tmin) << d;
    EXPECT_DOUBLE_EQ(*high, days[d].tmax) << d;
  }
}

TEST(HourlyTemperatures, AreContinuousOverMidnightWhereRangesOverlap) {
  const std::vector<DayRange> days{{10.0, 20.0, equinox}, {-5.0, 12.0, equinox},
                                   {-4.0, -1.0, equinox}, {-1.5, 15.0, equinox},
                                   {7.0, 7.0, equinox},   {6.0, 18.0, equinox}};
  const auto hourly = hourly_temperatures(days);
  for (std::size_t i = 1; i < hourly.size(); ++i) {
    const auto& day = days[std::min((i - 1) / 24, days.size() - 1)];
    const auto& next = days[std::min(i / 24, days.size() - 1)];
    const double range = std::max(day.tmax - day.tmin, next.tmax - next.tmin);
    EXPECT_LE(std::abs(hourly[i] - hourly[i - 1]), steepest * range) << i;
  }
}

TEST(HourlyTemperatures, JumpNoMoreThanTheGapBetweenDaysThatDoNotTouch) {
  const std::vector<DayRange> days{{10.0, 12.0, equinox}, {0.0, 2.0, equinox}};
  const auto hourly = hourly_temperatures(days);
  EXPECT_LE(hourly[23] - hourly[24], (10.0 - 2.0) + 2 * steepest * 2.0);
}

TEST(HourlyTemperatures, RepeatAnUnchangingDay) {
  const std::vector<DayRange> days(3, {5.0, 15.0, equinox});
  const auto hourly = hourly_temperatures(days);
  for (std::size_t i = 24; i < hourly.size(); ++i) {
    EXPECT_DOUBLE_EQ(hourly[i], hourly[i - 24]);
  }
  // Cosine from 14 to 18 h with a quarter wave of 8 h: 5 + 10 cos(pi/4) at sunset.
  EXPECT_DOUBLE_EQ(hourly[18], 5.0 + 10.0 * std::sqrt(0.5));
}

TEST(HourlyTemperatures, OfNoDaysAreNone) {
  EXPECT_TRUE(hourly_temperatures({}).empty());
}

TEST(HourlyRain, AddsUpToTheDayExactly) {
  for (int i = 0; i < 4000; ++i) {
    const double rain = 0.1 * i;
    const auto hours = hourly_rain({.rain_kg_m2 = rain, .day_number = 15000 + i});
    EXPECT_EQ(std::accumulate(hours.begin(), hours.end(), 0.0), rain);
    EXPECT_GE(*std::min_element(hours.begin(), hours.end()), 0.0) << rain;
  }
}

TEST(HourlyRain, FallsInOneBlockThatGrowsWithTheAmount) {
  struct Case {
    double rain_kg_m2;
    long hours;
  };
  for (const auto& [rain, length] : {Case{0.2, 1}, Case{1.0, 2}, Case{4.0, 4}, Case{25.0, 10},
                                     Case{144.0, 24}, Case{1800.0, 24}}) {
    const auto hours = hourly_rain({.rain_kg_m2 = rain, .day_number = 19000});
    EXPECT_EQ(std::count_if(hours.begin(), hours.end(), [](double h) { return h > 0.0; }), length);
    const auto first = std::find_if(hours.begin(), hours.end(), [](double h) { return h > 0.0; });
    EXPECT_TRUE(std::all_of(first, first + length, [](double h) { return h > 0.0; })) << rain;
  }
}

TEST(HourlyRain, StartsAtAnHourOfTheDateAloneAndAtAllHoursInTime) {
  std::array<int, 24> starts{};
  for (long day = -10000; day < 14000; ++day) {
    const auto hours = hourly_rain({.rain_kg_m2 = 0.2, .day_number = day});
    const auto hour = std::find(hours.begin(), hours.end(), 0.2) - hours.begin();
    ++starts[static_cast<std::size_t>(hour)];
    const auto again = hourly_rain({.rain_kg_m2 = 0.2, .day_number = day});
    EXPECT_EQ(hours, again);
  }
  for (const int count : starts) {
    EXPECT_NEAR(count, 1000, 5 * 31); // 24000/24, five standard deviations sqrt(1000 * 23/24)
  }
}

TEST(HourlyRain, OfADryDayIsNone) {
  for (const double hour : hourly_rain({.rain_kg_m2 = 0.0, .day_number = 19000})) {
    EXPECT_EQ(hour, 0.0);
  }
}

} // namespace
