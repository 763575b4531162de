#pragma once

#include "models/weather/weather.hpp"

#include <cstddef>
#include <vector>

namespace heapcast::models {

/// What the weather does to the pile at one moment.
struct Forcing {
  double air_temperature_K;
  double vapour_density_kg_m3;
  double humidity_ratio;    ///< kg vapour per kg dry air
  double air_density_kg_m3; ///< moist
  double wind_m_s;
  double film_W_m2K;      ///< convective, 5.7 + 3.8 u (McAdams; memory)
  double radiative_W_m2K; ///< 4 sigma T^3 of a black body at air temperature
  double sky_temperature_K;
  double solar_W_m2; ///< global, horizontal
  double soil_temperature_K;
  double rain_kg_m2_s; ///< liquid
  double snow_kg_m2_s; ///< as water
};

/// The end of the hour that holds this moment; of the one that begins with it.
[[nodiscard]] double end_of_hour_s(double t_s);

/// A moment in a step of integration.
struct StepMoment {
  double t_s;
  double start_s; ///< of the step
};

/// Weather turned into what the surface needs: computed once per pile, read by every run.
/// Straight lines between the hourly values; rain and snow are constant within the hour. Steps of
/// integration must end where an hour does.
class ForcingSeries {
public:
  /// `first_hour`: the weather sample at time 0. Beyond either end the end value holds.
  ForcingSeries(const Weather& weather, double first_hour);
  [[nodiscard]] Forcing at(double t_s) const { return at({.t_s = t_s, .start_s = t_s}); }
  /// Rain and snow are those of the hour in which the step starts, also at the step's end.
  [[nodiscard]] Forcing at(const StepMoment& moment) const;
  /// Whether rain or snow change at this moment.
  [[nodiscard]] bool precipitation_jumps_at(double t_s) const;
  [[nodiscard]] double pressure_Pa() const { return pressure_Pa_; }

private:
  [[nodiscard]] double hour_at(double t_s) const;
  [[nodiscard]] std::size_t sample_at(double t_s) const;

  std::vector<Forcing> hours_;
  double first_hour_;
  double pressure_Pa_;
};

} // namespace heapcast::models
