#include "models/weather/calendar.hpp"

#include "engine/errors.hpp"
#include "models/weather/weather.hpp"

#include <fmt/format.h>

#include <vector>

namespace heapcast::models {

namespace {

/// The digits at the front of `text`, at least `least` and at most `most`; removes them.
std::optional<int> take_digits(std::string_view& text, std::size_t least, std::size_t most) {
  int value = 0;
  std::size_t n = 0;
  while (n < text.size() && n < most && text[n] >= '0' && text[n] <= '9') {
    value = 10 * value + (text[n] - '0');
    ++n;
  }
  if (n < least) {
    return std::nullopt;
  }
  text.remove_prefix(n);
  return value;
}

bool take(std::string_view& text, char expected) {
  if (text.empty() || text.front() != expected) {
    return false;
  }
  text.remove_prefix(1);
  return true;
}

std::optional<LocalDays> existing_date(int year, int month, int day) {
  const std::chrono::year_month_day date{std::chrono::year{year},
                                         std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!date.ok()) {
    return std::nullopt;
  }
  return LocalDays{date};
}

/// Takes a date off the front of `text`; one without the year first in `form`.
std::optional<LocalDays> take_date(std::string_view& text, DateForm form,
                                   std::string_view separators) {
  const bool year_first = text.size() > 4 && (text[4] == '-' || text[4] == '/') &&
                          text.find_first_not_of("0123456789") == 4;
  const auto first = take_digits(text, year_first ? 4 : 1, year_first ? 4 : 2);
  if (!first || text.empty()) {
    return std::nullopt;
  }
  const char separator = text.front();
  if (!take(text, separator) ||
      (!year_first && separators.find(separator) == std::string_view::npos)) {
    return std::nullopt;
  }
  const auto middle = take_digits(text, 1, 2);
  if (!middle || !take(text, separator)) {
    return std::nullopt;
  }
  const auto last = take_digits(text, year_first ? 1 : 4, year_first ? 2 : 4);
  if (!last) {
    return std::nullopt;
  }
  if (year_first) {
    return existing_date(*first, *middle, *last);
  }
  return form == DateForm::day_first ? existing_date(*last, *middle, *first)
                                     : existing_date(*last, *first, *middle);
}

std::optional<LocalDays> take_date(std::string_view& text) {
  return take_date(text, DateForm::day_first, ".");
}

/// Takes a whole hour of the day off the front of `text`, 0 to 24.
std::optional<int> take_hour(std::string_view& text) {
  if (!take(text, 'T') && !take(text, ' ')) {
    return std::nullopt;
  }
  const auto hour = take_digits(text, 1, 2);
  if (!hour || *hour > 24 || !take(text, ':') || take_digits(text, 2, 2) != 0) {
    return std::nullopt;
  }
  if (take(text, ':') && take_digits(text, 2, 2) != 0) {
    return std::nullopt;
  }
  return hour;
}

/// Takes AM or PM off the front of `text`; the hour of 24 that is meant.
std::optional<int> take_half_day(std::string_view& text, int hour) {
  std::string_view rest = text;
  static_cast<void>(take(rest, ' '));
  const bool pm = take(rest, 'P') || take(rest, 'p');
  if (!pm && !take(rest, 'A') && !take(rest, 'a')) {
    return hour;
  }
  if ((!take(rest, 'M') && !take(rest, 'm')) || hour < 1 || hour > 12) {
    return std::nullopt;
  }
  text = rest;
  return hour % 12 + (pm ? 12 : 0);
}

/// The zone that is all of `text`.
std::optional<std::chrono::minutes> zone_of(std::string_view text) {
  constexpr int furthest_h = 14;
  if (text == "Z" || text == "z") {
    return std::chrono::minutes{0};
  }
  const int sign = take(text, '+') ? 1 : take(text, '-') ? -1 : 0;
  const auto hours = take_digits(text, 2, 2);
  if (sign == 0 || !hours || *hours > furthest_h) {
    return std::nullopt;
  }
  std::optional<int> minutes = 0;
  if (!text.empty()) {
    static_cast<void>(take(text, ':'));
    minutes = take_digits(text, 2, 2);
  }
  if (!minutes || *minutes > 59 || !text.empty()) {
    return std::nullopt;
  }
  return std::chrono::minutes{sign * (60 * *hours + *minutes)};
}

} // namespace

std::optional<LocalDays> parse_date(std::string_view text) {
  const auto date = take_date(text);
  return text.empty() ? date : std::nullopt;
}

std::optional<LocalHours> parse_time(std::string_view text) {
  const auto date = take_date(text);
  if (!date) {
    return std::nullopt;
  }
  const LocalHours midnight = *date;
  if (text.empty()) {
    return midnight;
  }
  const auto hour = take_hour(text);
  if (!hour || !text.empty()) {
    return std::nullopt;
  }
  return midnight + std::chrono::hours{*hour};
}

std::optional<RowTime> parse_row_time(std::string_view text, DateForm form) {
  const auto date = take_date(text, form, "./-");
  if (!date) {
    return std::nullopt;
  }
  RowTime row{*date, std::nullopt};
  if (text.empty()) {
    return row;
  }
  auto hour = take_hour(text);
  if (hour) {
    hour = take_half_day(text, *hour);
  }
  if (!hour) {
    return std::nullopt;
  }
  row.time += std::chrono::hours{*hour};
  if (!text.empty()) {
    static_cast<void>(take(text, ' '));
    row.utc_offset = zone_of(text);
    return row.utc_offset ? std::optional(row) : std::nullopt;
  }
  return row;
}

std::string format_date(LocalDays date) {
  const std::chrono::year_month_day civil{date};
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(civil.year()),
                     static_cast<unsigned>(civil.month()), static_cast<unsigned>(civil.day()));
}

std::string format_time(LocalHours time) {
  const LocalDays date = std::chrono::floor<std::chrono::days>(time);
  return fmt::format("{}T{:02}:00", format_date(date), (time - LocalHours{date}).count());
}

int day_of_year(LocalDays date) {
  const std::chrono::year_month_day civil{date};
  const LocalDays new_year{civil.year() / std::chrono::January / 1};
  return static_cast<int>((date - new_year).count()) + 1;
}

long days_from_civil(LocalDays date) {
  return date.time_since_epoch().count();
}

std::chrono::weekday weekday(LocalDays date) {
  return std::chrono::weekday{date};
}

LocalHours start_time(const Weather& weather) {
  const auto start = parse_time(weather.start);
  if (!start) {
    throw InputError(weather.source,
                     fmt::format("the weather's start '{}' is not a time", weather.start),
                     "write it as 2026-03-01T00:00");
  }
  return *start;
}

double hours_from_start(const Weather& weather, std::string_view time) {
  const auto wanted = parse_time(time);
  if (!wanted) {
    throw InputError(weather.source,
                     fmt::format("'{}' is not a date or a date and a whole hour", time),
                     "write it as 2026-03-01 or 2026-03-01T06:00");
  }
  const LocalHours start = start_time(weather);
  const auto hours = (*wanted - start).count();
  if (hours < 0 || hours >= static_cast<long>(weather.size())) {
    throw InputError(
        weather.source,
        fmt::format("the weather covers {} to {}, not {}", weather.start,
                    format_time(start + std::chrono::hours{weather.size()} - std::chrono::hours{1}),
                    format_time(*wanted)),
        "choose a time within it or give weather for that time");
  }
  return static_cast<double>(hours);
}

Weather slice_weather(const Weather& weather, const SampleRange& range) {
  if (range.first > weather.size() || range.count > weather.size() - range.first) {
    throw InputError(weather.source,
                     fmt::format("the weather has {} hours, not {} from hour {} on", weather.size(),
                                 range.count, range.first),
                     "give weather for the whole time");
  }
  Weather part = weather;
  part.start = format_time(start_time(weather) + std::chrono::hours{range.first});
  const auto cut = [&](std::vector<double>& values) {
    values.erase(values.begin() + static_cast<std::ptrdiff_t>(range.first + range.count),
                 values.end());
    values.erase(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(range.first));
  };
  cut(part.air_temperature_K);
  cut(part.vapour_pressure_Pa);
  cut(part.wind_m_s);
  cut(part.global_radiation_W_m2);
  cut(part.sky_temperature_K);
  cut(part.rain_kg_m2_h);
  cut(part.soil_temperature_K);
  return part;
}

} // namespace heapcast::models
