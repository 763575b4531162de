#include "models/operations/schedule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {
constexpr double instant_days = 1e-6;
}

double Readings::of(Quantity q) const {
  switch (q) {
  case Quantity::core_temperature:
    return core_temperature_K;
  case Quantity::mean_temperature:
    return mean_temperature_K;
  case Quantity::skin_temperature:
    return skin_temperature_K;
  case Quantity::max_temperature:
    return max_temperature_K;
  case Quantity::air_temperature:
    return air_temperature_K;
  case Quantity::moisture:
    return moisture;
  case Quantity::core_oxygen:
  default:
    return core_oxygen;
  }
}

ScheduleClock::ScheduleClock(const Schedule& schedule)
    : schedule_(&schedule), next_day_(schedule.from_day) {
  for (const Condition& c : schedule.when) {
    armed_.push_back(std::isnan(c.armed_beyond));
  }
}

std::string ScheduleClock::due(double day, int weekday, const Readings& readings) {
  const Schedule& s = *schedule_;
  // A condition is armed as soon as it is seen, whatever else forbids acting today.
  for (std::size_t i = 0; i < s.when.size(); ++i) {
    const Condition& c = s.when[i];
    if (!armed_[i]) {
      const double value = readings.of(c.quantity);
      armed_[i] = c.below ? value > c.armed_beyond : value < c.armed_beyond;
    }
  }
  const bool allowed = day <= s.until_day + instant_days && count_ < s.at_most &&
                       day - last_day_ >= s.gap_days - instant_days &&
                       (s.weekdays.empty() || std::find(s.weekdays.begin(), s.weekdays.end(),
                                                        weekday) != s.weekdays.end()) &&
                       !(s.not_in_frost && readings.air_temperature_K < 273.15);
  if (!allowed) {
    return {};
  }
  std::string reason;
  if (next_date_ < s.on_days.size() && day >= s.on_days[next_date_] - instant_days) {
    reason = fmt::format("day {:g}", s.on_days[next_date_]);
    ++next_date_;
  }
  if (reason.empty() && !std::isnan(s.every_days) && day >= next_day_ - instant_days) {
    reason = fmt::format("every {:g} days", s.every_days);
  }
  for (std::size_t i = 0; reason.empty() && i < s.when.size(); ++i) {
    const Condition& c = s.when[i];
    const double value = readings.of(c.quantity);
    if (armed_[i] && day >= s.from_day - instant_days &&
        (c.below ? value < c.threshold : value > c.threshold)) {
      reason = c.text;
      armed_[i] = std::isnan(c.armed_beyond);
    }
  }
  if (!reason.empty()) {
    ++count_;
    last_day_ = day;
    if (!std::isnan(s.every_days)) {
      while (next_day_ <= day + instant_days) {
        next_day_ += s.every_days;
      }
    }
  }
  return reason;
}

} // namespace heapcast::models
