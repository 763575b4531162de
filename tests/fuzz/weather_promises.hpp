#pragma once

#include "models/weather/weather.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace heapcast::tests {

/// What every weather that a reader returns must keep.
inline void check_promises(const models::Weather& weather) {
  const std::size_t n = weather.size();
  require(n > 0, "weather has samples");
  for (const std::vector<double>* column :
       {&weather.air_temperature_K, &weather.vapour_pressure_Pa, &weather.wind_m_s,
        &weather.global_radiation_W_m2, &weather.sky_temperature_K, &weather.rain_kg_m2_h,
        &weather.soil_temperature_K}) {
    require(column->size() == n, "every column has all samples");
    require_finite(*column, "weather is finite");
  }
  for (std::size_t i = 0; i < n; ++i) {
    require(weather.air_temperature_K[i] > 150.0 && weather.air_temperature_K[i] < 350.0,
            "air temperature is possible");
    require(weather.vapour_pressure_Pa[i] >= 0.0 && weather.wind_m_s[i] >= 0.0 &&
                weather.global_radiation_W_m2[i] >= 0.0 && weather.rain_kg_m2_h[i] >= 0.0 &&
                weather.sky_temperature_K[i] > 0.0,
            "no weather below zero");
  }
}

} // namespace heapcast::tests
