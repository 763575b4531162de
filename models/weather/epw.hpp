#pragma once

#include "models/weather/complete.hpp"

#include <chrono>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// One of the 35 fields of a data row of an EPW file.
struct EpwField {
  std::size_t column; ///< 1-based
  std::string_view name;
  std::string_view unit;
  double missing;   ///< a value at or above it is missing; infinite: never
  double low, high; ///< possible values
  double factor;    ///< SI value = number * factor + offset
  double offset;
  std::vector<double> WeatherSeries::*values; ///< where it is used; null: read over
};

[[nodiscard]] std::span<const EpwField> epw_fields();

struct EpwOptions {
  std::string source;          ///< the file's name, for messages and the result
  Site site;                   ///< what it does not know of longitude and UTC offset is LOCATION's
  bool elevation_known = true; ///< false: LOCATION's
  std::optional<LocalHours> first_needed;   ///< the weather must reach from here
  std::optional<LocalHours> last_needed;    ///< to here
  std::chrono::hours longest_gap_filled{0}; ///< as of WeatherCsvOptions
};

/// Whether `text` is an EPW file: it starts with LOCATION and has a line DATA PERIODS.
[[nodiscard]] bool is_epw(std::string_view text);

/// Reads the hourly weather of an EPW file and completes it (`complete_weather`).
///
/// Layout: EnergyPlus, Auxiliary Programs, "EnergyPlus Weather File (EPW) Data Dictionary" (read in
/// its version 24.1), an open format. Header lines up to DATA PERIODS, of which LOCATION (place,
/// time zone, elevation), GROUND TEMPERATURES (the depth nearest to 0.5 m, down to 2 m, brought to
/// 0.5 m as an annual wave), HOLIDAYS/DAYLIGHT SAVING (whether there is a 29 February) and DATA
/// PERIODS (records an hour, first and last day) are used; then a row an hour. What is used of a
/// row, its limits and its missing-value codes stand in `epw_fields`; blank fields are missing too.
///
/// - Time is LOCATION's standard time, never daylight saving. Hour 1 of a day ends at 01:00; values
///   of the moment are those of the hour's end, so a file from hour 1 of 1 January covers that day
///   from 00:00 (with hour 1's values). Radiation, a sum over the hour before, goes to the whole
///   hour as the mean of the hour before and the hour after. Rain of several hours (field 35) is
///   spread evenly over them. Where the site's UTC offset is another one, times are moved to it.
/// - The site's latitude is the pile's; LOCATION's must be within 10 degrees of it.
/// - Rows of one calendar year whose DATA PERIODS name no year, or of months from different years,
///   are a typical year: it stands for every year needed, 28 February also for a 29th that it does
///   not have. Else the rows' own years count, several of them as an ensemble's.
/// - 29 February is 28 February again where the header says that leap days are left out.
/// - Missing values up to 72 h long are a fault unless they may be filled; a column with a longer
///   gap is not used and estimated, but temperature and rain must be there. A file without any rain
///   gives none. All of this is listed in the estimates.
/// - Global radiation that is wholly missing is diffuse + direct normal by the sun's height; total
///   sky cover that is wholly missing is the opaque.
///
/// Throws InputError with the first 20 faults, each with its line.
[[nodiscard]] Weather read_epw(std::string_view text, const EpwOptions& options);

} // namespace heapcast::models
