#pragma once

#include "models/weather/series.hpp"
#include "models/weather/weather.hpp"

#include <limits>
#include <string>

namespace heapcast::tests {

inline constexpr double nan = std::numeric_limits<double>::quiet_NaN();

inline models::Site site_at(double latitude_deg) {
  models::Site site;
  site.latitude_deg = latitude_deg;
  return site;
}

/// How a column that was not read was made; empty when it was.
inline std::string estimate(const models::Weather& weather, const std::string& column) {
  for (const auto& estimate : weather.estimates) {
    if (estimate.column == column) {
      return estimate.method;
    }
  }
  return {};
}

} // namespace heapcast::tests
