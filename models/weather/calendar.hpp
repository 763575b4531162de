#pragma once

#include <chrono>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace heapcast::models {

struct Weather;

/// A date and a whole hour of local standard time (no daylight saving).
using LocalDays = std::chrono::local_days;
using LocalHours = std::chrono::local_time<std::chrono::hours>;

/// The date in `YYYY-MM-DD`, `YYYY/MM/DD` or `DD.MM.YYYY`; nothing if the text is not a date that
/// exists.
[[nodiscard]] std::optional<LocalDays> parse_date(std::string_view text);

/// A date, or a date and a time `hh:mm` or `hh:mm:ss` after `T` or a space. A date alone is its
/// midnight; 24:00 is the next day's. Nothing for other text or for a time that is not a whole
/// hour.
[[nodiscard]] std::optional<LocalHours> parse_time(std::string_view text);

/// In which order a date that does not start with the year has its day and month.
enum class DateForm { day_first, month_first };

/// A time and what its text says of its clock.
struct RowTime {
  LocalHours time;
  std::optional<std::chrono::minutes> utc_offset; ///< east positive; nothing where it has no zone
};

/// A date, or a date and a time, as in files of others: as `parse_time`, but with a date that does
/// not start with the year read in `form`, `.`, `/` or `-` between its parts, after the time `AM`
/// or `PM`, and then a zone `Z`, `+hh`, `+hhmm` or `+hh:mm`.
[[nodiscard]] std::optional<RowTime> parse_row_time(std::string_view text, DateForm form);

[[nodiscard]] std::string format_date(LocalDays date);  ///< "YYYY-MM-DD"
[[nodiscard]] std::string format_time(LocalHours time); ///< "YYYY-MM-DDThh:00"

/// 1 on 1 January to 365 or 366 on 31 December.
[[nodiscard]] int day_of_year(LocalDays date);

/// Days since 1970-01-01; negative before.
[[nodiscard]] long days_from_civil(LocalDays date);

[[nodiscard]] std::chrono::weekday weekday(LocalDays date);

/// Time of the weather's sample 0.
[[nodiscard]] LocalHours start_time(const Weather& weather);

/// Hours from the weather's sample 0 to `time` ("YYYY-MM-DDThh:00" or a date).
/// Throws InputError when the text is no such time or the weather does not cover it.
[[nodiscard]] double hours_from_start(const Weather& weather, std::string_view time);

/// Which samples `slice_weather` keeps.
struct SampleRange {
  std::size_t first = 0;
  std::size_t count = 0;
};

/// The same weather, cut to `range`; `start` moves along.
/// Throws InputError when the weather has not all of these samples.
[[nodiscard]] Weather slice_weather(const Weather& weather, const SampleRange& range);

} // namespace heapcast::models
