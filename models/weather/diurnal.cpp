#include "models/weather/diurnal.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace heapcast::models {

namespace {

constexpr double min_before_sunrise_h = 0.17;
constexpr double max_after_noon_h = 1.86;
constexpr double night_time_constants = 2.20;

/// Height of the sine above tmin as a share of the range, `t_h` from the day's coldest hour on.
double sine_share(const DayCourse& course, double t_h) {
  const double rise_h = course.warmest_hour - course.coldest_hour;
  return std::sin(0.5 * std::numbers::pi * (t_h - course.coldest_hour) / rise_h);
}

double at_sunset(const DayRange& day) {
  return day.tmin + (day.tmax - day.tmin) * sine_share(day.course, day.course.sunset_h);
}

/// From `day`'s sunset to the lowest of `next`, `t_h` hours after the midnight before `day`.
double night_temperature(const DayRange& day, const DayRange& next, double t_h) {
  const double length_h = 24.0 + next.course.coldest_hour - day.course.sunset_h;
  const double passed = (t_h - day.course.sunset_h) / length_h;
  const double end = std::exp(-night_time_constants);
  const double left = (std::exp(-night_time_constants * passed) - end) / (1.0 - end);
  return next.tmin + (at_sunset(day) - next.tmin) * left;
}

/// What the curve has to be moved by at the midnight between two days to be possible in both.
double midnight_shift(const DayRange& day, const DayRange& next) {
  const double low = std::max(day.tmin, next.tmin);
  const double high = std::min(day.tmax, next.tmax);
  const double free = night_temperature(day, next, 24.0);
  return (low <= high ? std::clamp(free, low, high) : 0.5 * (low + high)) - free;
}

} // namespace

DayCourse day_course(const DaySun& sun) {
  const double noon_h = std::clamp(sun.solar_noon_h, 10.0, 15.0);
  const double half_day_h = 0.5 * std::clamp(sun.daylight_h, 4.0, 20.0);
  const int coldest =
      std::max(static_cast<int>(std::lround(noon_h - half_day_h - min_before_sunrise_h)), 0);
  const int warmest = static_cast<int>(std::lround(noon_h + max_after_noon_h));
  return {.coldest_hour = coldest,
          .warmest_hour = warmest,
          .sunset_h = std::clamp(noon_h + half_day_h, static_cast<double>(warmest), 23.5)};
}

std::vector<double> hourly_temperatures(std::span<const DayRange> days) {
  std::vector<double> temperatures;
  if (days.empty()) {
    return temperatures;
  }
  temperatures.reserve(24 * days.size() + 1);
  for (std::size_t d = 0; d < days.size(); ++d) {
    const DayRange& before = days[d == 0 ? 0 : d - 1];
    const DayRange& day = days[d];
    const DayRange& after = days[d + 1 == days.size() ? d : d + 1];
    const double shift_before = midnight_shift(before, day);
    const double shift_after = midnight_shift(day, after);
    const int closing = d + 1 == days.size() ? 1 : 0;
    for (int hour = 0; hour < 24 + closing; ++hour) {
      double value = 0.0;
      if (hour < day.course.coldest_hour) {
        const double left = 1.0 - static_cast<double>(hour) / day.course.coldest_hour;
        value = night_temperature(before, day, 24.0 + hour) + shift_before * left;
      } else {
        value = hour <= day.course.sunset_h
                    ? day.tmin + (day.tmax - day.tmin) * sine_share(day.course, hour)
                    : night_temperature(day, after, hour);
        const double evening = std::max(0.0, static_cast<double>(hour - day.course.warmest_hour) /
                                                 (24 - day.course.warmest_hour));
        value += shift_after * evening * evening;
      }
      temperatures.push_back(std::clamp(value, day.tmin, day.tmax));
    }
  }
  return temperatures;
}

std::array<double, 24> hourly_rain(const RainDay& day) {
  std::array<double, 24> amounts{};
  const int length =
      static_cast<int>(std::lround(std::clamp(2.0 * std::sqrt(day.rain_kg_m2), 1.0, 24.0)));
  // The finaliser of splitmix64 (Steele, Lea, Flood 2014): neighbouring dates, unrelated hours.
  auto mixed = static_cast<std::uint64_t>(day.day_number) + 0x9e3779b97f4a7c15U;
  mixed = (mixed ^ (mixed >> 30U)) * 0xbf58476d1ce4e5b9U;
  mixed = (mixed ^ (mixed >> 27U)) * 0x94d049bb133111ebU;
  mixed ^= mixed >> 31U;
  const auto first = static_cast<int>(mixed % static_cast<std::uint64_t>(25 - length));
  double fallen = 0.0;
  for (int hour = first; hour < first + length - 1; ++hour) {
    amounts[static_cast<std::size_t>(hour)] = day.rain_kg_m2 / length;
    fallen += amounts[static_cast<std::size_t>(hour)];
  }
  amounts[static_cast<std::size_t>(first + length - 1)] = day.rain_kg_m2 - fallen;
  return amounts;
}

} // namespace heapcast::models
