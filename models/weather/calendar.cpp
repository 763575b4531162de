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

/// Takes a date off the front of `text`.
std::optional<LocalDays> take_date(std::string_view& text) {
  const bool year_first = text.size() > 4 && (text[4] == '-' || text[4] == '/');
  const char separator = year_first ? text[4] : '.';
  const auto first = take_digits(text, year_first ? 4 : 1, year_first ? 4 : 2);
  if (!first || !take(text, separator)) {
    return std::nullopt;
  }
  const auto month = take_digits(text, 1, 2);
  if (!month || !take(text, separator)) {
    return std::nullopt;
  }
  const auto last = take_digits(text, year_first ? 1 : 4, year_first ? 2 : 4);
  if (!last) {
    return std::nullopt;
  }
  return year_first ? existing_date(*first, *month, *last) : existing_date(*last, *month, *first);
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
  if (!text.empty()) {
    return std::nullopt;
  }
  return midnight + std::chrono::hours{*hour};
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
