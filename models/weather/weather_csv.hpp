#pragma once

#include "models/weather/complete.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// The rows of a file that are one station's: those with `value` in the column `column`.
struct StationFilter {
  std::string column;
  std::string value;
};

/// Which column of a file holds a quantity, where its header does not say it in known words.
struct ColumnChoice {
  std::string quantity; ///< a name of `weather_columns()`, e.g. "tmin"; or "date" or "time"
  std::string header;   ///< the header as in the file, with or without its unit
  std::string unit;     ///< e.g. "degC"; empty: as the header says
};

struct WeatherCsvOptions {
  std::string source; ///< the file's name, for messages and the result
  Site site;
  std::optional<StationFilter> station;
  std::vector<ColumnChoice> columns;
  std::optional<LocalHours> first_needed; ///< the weather must reach from here
  std::optional<LocalHours> last_needed;  ///< to here
  /// Gaps up to this long are filled (`fill_gaps`), and listed in the estimates; up to
  /// longest_gap_filled. An empty field is a gap too then.
  std::chrono::hours longest_gap_filled{0};
};

/// Reads daily or hourly weather from CSV text and completes it (`complete_weather`).
///
/// The first line that is neither empty nor a `#` comment is the header. Fields are separated by
/// commas, semicolons (then with decimal commas allowed) or tabs. With a `tmin` or `tmax` column
/// the rows are days, else hours. A column is `name [unit]` or `name_unit`, names and units as in
/// columns.cpp, or is named in `options.columns`; other columns are not used, and listed in the
/// estimates. Rows are one day or one hour apart, in order, without a gap; dates and
/// times as in `parse_row_time`. Whether the day or the month comes first in dates without the year
/// in front says the header (`date [mm/dd/yyyy]`) or a day above 12; else they are refused. Times
/// are local standard time all year, or have a zone (in the row, or `time [UTC]` in the header),
/// and are moved to the site's. An hourly row's rain falls in the hour that
/// starts at its time. A daily file covers its last day to the end, an hourly one its last row.
///
/// Throws InputError with the first 20 faults, each with its line, and the number of all: no table,
/// no such station, columns missing, misspelt, twice or without a known unit, rows with the wrong
/// number of fields, dates out of order, twice or missing, values that are no number or impossible
/// (limits in columns.cpp; tmin above tmax; a dew point 1 K above the air; radiation above what
/// reaches the top of the atmosphere), or less time than needed.
[[nodiscard]] Weather read_weather_csv(std::string_view text, const WeatherCsvOptions& options);

} // namespace heapcast::models
