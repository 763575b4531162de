#pragma once

#include "models/pile.hpp"

#include <string>
#include <vector>

namespace heapcast::models {

/// What a condition can look at, in SI (moisture and oxygen as fractions).
struct Readings {
  double core_temperature_K, mean_temperature_K, skin_temperature_K, max_temperature_K,
      air_temperature_K, moisture, core_oxygen;
  [[nodiscard]] double of(Quantity q) const;
};

/// Follows one schedule through a run: asked once a day at the working hour.
class ScheduleClock {
public:
  explicit ScheduleClock(const Schedule& schedule);

  /// Reason when it is due now, else empty. `weekday` 0 is Monday.
  [[nodiscard]] std::string due(double day, int weekday, const Readings& readings);

private:
  const Schedule* schedule_;
  double next_day_;
  double last_day_ = -1e9;
  std::size_t next_date_ = 0;
  int count_ = 0;
  std::vector<bool> armed_;
};

} // namespace heapcast::models
