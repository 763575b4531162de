#pragma once

#include <cstddef>
#include <limits>
#include <string>
#include <vector>

namespace heapcast::models {

/// Of a column or a moment that a source says nothing of.
inline constexpr double unknown_value = std::numeric_limits<double>::quiet_NaN();

/// A column the weather source did not have, and how it was filled.
struct WeatherEstimate {
  std::string column; ///< e.g. "humidity"
  std::string method; ///< e.g. "dew point equals tmin (FAO-56 eq. 48)"
};

/// Weather at the site, hour by hour, complete and checked. Immutable once built.
///
/// Sample i is the state at `i` hours after `start`; values between samples are linear, except
/// `rain_kg_m2_h`, which is the precipitation (water equivalent) between sample i and i+1.
/// Every vector has `size()` entries.
struct Weather {
  std::string source;        ///< file name or "monthly normals"
  std::string start;         ///< local standard time of sample 0, "YYYY-MM-DDThh:00"
  double latitude_deg = 0.0; ///< north positive
  double elevation_m = 0.0;
  std::vector<double> air_temperature_K;
  std::vector<double> vapour_pressure_Pa;
  std::vector<double> wind_m_s; ///< at 2 m
  std::vector<double> global_radiation_W_m2;
  std::vector<double> sky_temperature_K;  ///< effective long-wave sky temperature
  std::vector<double> rain_kg_m2_h;       ///< rain and snow as water, per hour
  std::vector<double> soil_temperature_K; ///< undisturbed, at about 0.5 m
  std::vector<WeatherEstimate> estimates; ///< columns that were filled, for the output
  std::string checksum;                   ///< of the source text (FNV-1a 64, hex)

  [[nodiscard]] std::size_t size() const { return air_temperature_K.size(); }
};

} // namespace heapcast::models
