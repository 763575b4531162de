#pragma once

#include "models/properties/growth.hpp"

namespace heapcast::models {

/// Nitrification over that at 32 °C, 0..1: none below 5 °C and above 45 °C. Judgement.
[[nodiscard]] inline double nitrification_temperature_response(double temperature_K) {
  constexpr CardinalTemperatures cardinal{freezing_K + 5.0, freezing_K + 32.0, freezing_K + 45.0};
  return temperature_response(cardinal, temperature_K);
}

} // namespace heapcast::models
