#pragma once

#include "models/weather/complete.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>

namespace heapcast::models {

using Months = std::array<double, 12>; ///< January to December

/// Twelve monthly normals of a place, and how the days scatter about them.
///
/// The defaults of the scatter are the means of two cities' daily record of 2012-2015
/// (examples/weather/daily_observed_two_cities.csv): persistence of rain 0.33 and 0.15,
/// shape of wet-day amounts 0.79 and 0.65 (maximum likelihood), lag-1 correlation of the daily mean
/// temperature about its annual course 0.75 and 0.66, its standard deviation 2.7 and 3.7 K.
struct MonthlyNormals {
  Months tmin_K{};     ///< mean of the days' lowest temperature, -90..60 degC
  Months tmax_K{};     ///< mean of the days' highest, above tmin
  Months rain_kg_m2{}; ///< of the month, 0..5000
  Months wet_days{};   ///< days of the month with rain, 0..its length; above 0 where there is rain
  std::optional<Months> wind_m_s;           ///< mean, at the site's wind height, 0..60
  std::optional<Months> humidity;           ///< mean relative humidity, 0..1
  std::optional<Months> vapour_pressure_Pa; ///< mean, 0..20000; used before humidity
  std::optional<Months> radiation_W_m2;     ///< mean, 0 to what reaches the top of the atmosphere
  double rain_persistence = 0.25;           ///< P(wet after wet) - P(wet after dry), 0..0.95
  double rain_shape = 0.7;                  ///< gamma shape of wet-day amounts, 0.2..20
  double temperature_persistence = 0.7;     ///< lag-1 correlation of daily anomalies, 0..0.98
  double temperature_sd_K = 3.2;            ///< standard deviation of daily anomalies, 0..10
};

/// Which days to make; the same seed makes the same days.
struct GeneratedDays {
  LocalDays first;
  int count = 365; ///< 1..36525
  std::uint64_t seed = 1;
};

/// Faults of normals out of range or against each other, each at `where` with its month.
/// Throws InputError with all of them, or returns.
void check_normals(const MonthlyNormals& normals, const Site& site, const std::string& where);

/// Daily weather with the normals' monthly means, wet days and persistence, for either hemisphere.
///
/// - Wet or dry: a two-state first-order Markov chain. With p the month's share of wet days and r
///   the persistence, P(wet|dry) = p (1 - r), P(wet|wet) = p + r (1 - p) (Gabriel & Neumann 1962,
///   Q. J. R. Meteorol. Soc. 88:90-95, from memory).
/// - Rain of a wet day: gamma with the month's mean per wet day.
/// - Temperature: an annual course through the months whose mean in each month is its normal,
///   linear between mid-months, plus one first-order autoregressive anomaly for tmin and tmax. The
///   daily range is 0.75 times that of dry days on wet days (0.66 and 0.82 in the two cities'
///   record), scattered by 30 % (0.33, 0.31), and keeps its monthly mean. The anomaly is held so
///   that each day's range touches the one before, as air that is cooled or warmed without a jump.
/// - Wind: gamma with a coefficient of variation of 0.4 (0.41, 0.34), day by day unrelated.
/// - Radiation: the month's mean share of the extraterrestrial; 0.6 times that of dry days on wet
///   days (a judgement, no source), never above a clear sky unless the normal itself is.
/// - Humidity: the month's relative humidity every day.
///
/// Unknown columns stay unknown, for `complete_weather`. Throws InputError as `check_normals` and
/// for a count out of range.
[[nodiscard]] WeatherSeries generate_days(const MonthlyNormals& normals, const Site& site,
                                          const GeneratedDays& days);

/// The generated days as hourly weather. A year before them is generated too and cut off, so that
/// there is a year to take the soil's annual wave from. The checksum is of all generated days.
[[nodiscard]] Weather weather_from_normals(const MonthlyNormals& normals, const Site& site,
                                           const GeneratedDays& days);

} // namespace heapcast::models
