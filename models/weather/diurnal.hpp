#pragma once

#include <array>
#include <span>
#include <vector>

namespace heapcast::models {

/// The turning points of a day's temperature, hours after midnight.
struct DayCourse {
  int coldest_hour = 6;   ///< 0..11
  int warmest_hour = 14;  ///< after coldest_hour, to 22
  double sunset_h = 18.0; ///< from warmest_hour, below 24
};

struct DaySun {
  double solar_noon_h = 12.0; ///< by the clock
  double daylight_h = 12.0;   ///< 0..24
};

/// Turning points of a day: coldest 0.17 h before sunrise, warmest 1.86 h after solar noon (Parton
/// & Logan 1981, Agric. Meteorol. 23:205-216, air at 1.5 m, as read in public implementations),
/// each at the nearest whole hour so that hourly samples hit them. Days shorter than 4 h or longer
/// than 20 h count as these, and solar noon as within 10..15: a choice for polar days and odd
/// clocks.
[[nodiscard]] DayCourse day_course(const DaySun& sun);

/// A day's lowest and highest temperature and when they come; any temperature unit.
struct DayRange {
  double tmin = 0.0;
  double tmax = 0.0; ///< at or above tmin
  DayCourse course;
};

/// Temperature at every whole hour from the first day's midnight to the last day's end:
/// 24 days.size() + 1 values, in the unit of the days.
///
/// A sine from the day's coldest to its warmest hour and down again until sunset, then an
/// exponential towards the next day's lowest, with 2.20 time constants to the night (Parton & Logan
/// 1981). Each calendar day's values stay within its own tmin..tmax and reach both; at midnight the
/// curve passes through a value both days allow, so it is continuous unless their ranges do not
/// overlap, when it jumps the gap between them. Before the first and after the last day the same
/// day is taken again. Empty for no days.
[[nodiscard]] std::vector<double> hourly_temperatures(std::span<const DayRange> days);

struct RainDay {
  double rain_kg_m2 = 0.0; ///< at or above 0
  long day_number = 0;     ///< days since 1970-01-01; decides the hour
};

/// A day's rain as 24 hourly amounts: one even block of 2 sqrt(rain in mm) hours, at least 1 and at
/// most 24 (4 mm fall in 4 h, 25 mm in 10 h), that starts at an hour drawn from the date alone. The
/// amounts, added in order, give the day's rain exactly. Length and evenness are a judgement, no
/// source: a pile soaks up rain over days.
[[nodiscard]] std::array<double, 24> hourly_rain(const RainDay& day);

} // namespace heapcast::models
