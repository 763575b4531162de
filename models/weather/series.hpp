#pragma once

#include "models/weather/calendar.hpp"
#include "models/weather/soil_temperature.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace heapcast::models {

/// Where the weather is, as far as its completion needs it.
struct Site {
  double latitude_deg = 0.0;           ///< -90..90, north positive
  std::optional<double> longitude_deg; ///< -180..180, east positive; unknown: solar noon at 12:00
  std::optional<double> utc_offset_h; ///< of the local standard time; unknown: nearest to longitude
  double elevation_m = 0.0;           ///< -500..9000
  double wind_height_m = 10.0;        ///< height of the wind readings, 0.5..200
  bool coastal = false;               ///< the Hargreaves coefficient for a coast
};

enum class SeriesStep { day, hour };

/// Weather as a source gives it, one entry a day or an hour without a gap, in SI and checked. What
/// every reader makes and `complete_weather` completes. An empty column is not known; the others
/// have `size()` entries. Instantaneous columns of an hourly series are at the row's time; rain
/// falls in the day or in the hour that starts at the row's time.
struct WeatherSeries {
  SeriesStep step = SeriesStep::day;
  LocalHours first; ///< of the first row; midnight for daily rows

  std::vector<double> tmin_K;        ///< daily, required
  std::vector<double> tmax_K;        ///< daily, required, at or above tmin
  std::vector<double> temperature_K; ///< hourly, required
  std::vector<double> rain_kg_m2;    ///< required; rain and snow as water, in the row's period

  std::vector<double> wind_m_s;     ///< at the site's wind height
  std::vector<double> humidity;     ///< relative, 0..1.05
  std::vector<double> humidity_min; ///< daily, lowest
  std::vector<double> humidity_max; ///< daily, highest
  std::vector<double> dew_point_K;
  std::vector<double> wet_bulb_K; ///< hourly, ventilated
  std::vector<double> vapour_pressure_Pa;
  std::vector<double> air_pressure_Pa;    ///< used with the wet bulb only
  std::vector<double> radiation_W_m2;     ///< global on the level, mean of the row's period
  std::vector<double> sunshine_h;         ///< daily
  std::vector<double> sky_cover;          ///< share of the sky under cloud, 0..1
  std::vector<double> sky_infrared_W_m2;  ///< downward long-wave on the level
  std::vector<double> soil_temperature_K; ///< undisturbed, at about 0.5 m
  std::optional<AnnualWave> soil_wave;    ///< the same as the year's course; used after the column

  [[nodiscard]] std::size_t size() const { return rain_kg_m2.size(); }
};

} // namespace heapcast::models
