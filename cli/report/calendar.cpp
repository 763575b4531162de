#include "cli/report/calendar.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <string_view>

namespace heapcast::cli {

using namespace std::chrono;

Calendar::Calendar(const std::string& start) {
  int y = 0;
  unsigned m = 0;
  unsigned d = 0;
  int hour = 0;
  int minute = 0;
  // The hour and minute may be left off; a date alone means midnight.
  if (std::sscanf(start.c_str(), "%d-%u-%u%*1[T ]%d:%d", &y, &m, &d, &hour, &minute) < 3) {
    return;
  }
  const year_month_day date{year{y}, month{m}, day{d}};
  if (date.ok() && hour >= 0 && hour < 24 && minute >= 0 && minute < 60) {
    start_ = sys_days{date} + hours{hour} + minutes{minute};
  }
}

std::optional<year_month_day> Calendar::at(double day) const {
  constexpr double longest_days = 1e5;
  if (!start_ || !(std::abs(day) <= longest_days)) {
    return std::nullopt;
  }
  const minutes since{static_cast<long>(std::lround(day * 24.0 * 60.0))};
  return year_month_day{floor<days>(*start_ + since)};
}

std::string Calendar::date(double day) const {
  static constexpr std::array<std::string_view, 12> months = {
      "January", "February", "March",     "April",   "May",      "June",
      "July",    "August",   "September", "October", "November", "December"};
  const auto date = at(day);
  if (!date) {
    return {};
  }
  return fmt::format("{} {} {}", static_cast<unsigned>(date->day()),
                     months[static_cast<unsigned>(date->month()) - 1],
                     static_cast<int>(date->year()));
}

std::string Calendar::short_date(double day) const {
  auto text = date(day);
  if (text.empty()) {
    return fmt::format("day {:.0f}", day);
  }
  if (at(day)->year() == at(0.0)->year()) {
    text.erase(text.rfind(' '));
  }
  return text;
}

std::string Calendar::day_and_date(double day) const {
  const auto text = date(day);
  const auto number = fmt::format("day {:.3g}", std::round(day * 10.0) / 10.0);
  return text.empty() ? number : fmt::format("{} ({})", number, text);
}

std::string Calendar::iso_date(double day) const {
  const auto date = at(day);
  if (!date) {
    return {};
  }
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date->year()),
                     static_cast<unsigned>(date->month()), static_cast<unsigned>(date->day()));
}

} // namespace heapcast::cli
