#include "models/surface/forcing.hpp"

#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace heapcast::models {

namespace {

constexpr double instant_h = 1e-9; ///< hours this close are the same moment

constexpr std::array steady_fields = {&Forcing::air_temperature_K, &Forcing::vapour_density_kg_m3,
                                      &Forcing::humidity_ratio,    &Forcing::air_density_kg_m3,
                                      &Forcing::wind_m_s,          &Forcing::film_W_m2K,
                                      &Forcing::radiative_W_m2K,   &Forcing::sky_temperature_K,
                                      &Forcing::solar_W_m2,        &Forcing::soil_temperature_K};

/// Share of precipitation that falls as snow: 1 below 0 degC, 0 above 2 degC (judgement).
double snow_share(double air_temperature_K) {
  return std::clamp((275.15 - air_temperature_K) / 2.0, 0.0, 1.0);
}

} // namespace

double end_of_hour_s(double t_s) {
  return 3600.0 * (std::floor(t_s / 3600.0 + instant_h) + 1.0);
}

ForcingSeries::ForcingSeries(const Weather& weather, double first_hour)
    : first_hour_(first_hour), pressure_Pa_(pressure_at_elevation_Pa(weather.elevation_m)) {
  hours_.reserve(weather.size());
  for (std::size_t i = 0; i < weather.size(); ++i) {
    const MoistAirState air{.temperature_K = weather.air_temperature_K[i],
                            .vapour_pressure_Pa = weather.vapour_pressure_Pa[i],
                            .pressure_Pa = pressure_Pa_};
    Forcing f{};
    f.air_temperature_K = air.temperature_K;
    f.vapour_density_kg_m3 = vapour_density_kg_m3(air);
    f.humidity_ratio = humidity_ratio(air);
    f.air_density_kg_m3 = moist_air_density_kg_m3(air);
    f.wind_m_s = weather.wind_m_s[i];
    f.film_W_m2K = 5.7 + 3.8 * f.wind_m_s;
    f.radiative_W_m2K =
        4.0 * stefan_boltzmann_W_m2K4 * air.temperature_K * air.temperature_K * air.temperature_K;
    f.sky_temperature_K = weather.sky_temperature_K[i];
    f.solar_W_m2 = weather.global_radiation_W_m2[i];
    f.soil_temperature_K = weather.soil_temperature_K[i];
    const double rain_kg_m2_s = weather.rain_kg_m2_h[i] / 3600.0;
    const double snow = snow_share(air.temperature_K);
    f.rain_kg_m2_s = (1.0 - snow) * rain_kg_m2_s;
    f.snow_kg_m2_s = snow * rain_kg_m2_s;
    hours_.push_back(f);
  }
}

double ForcingSeries::hour_at(double t_s) const {
  return std::max(0.0, t_s / 3600.0 + first_hour_);
}

std::size_t ForcingSeries::sample_at(double t_s) const {
  return std::min(static_cast<std::size_t>(hour_at(t_s) + instant_h), hours_.size() - 1);
}

bool ForcingSeries::precipitation_jumps_at(double t_s) const {
  const Forcing& before = hours_[sample_at(t_s - 2.0 * 3600.0 * instant_h)];
  const Forcing& after = hours_[sample_at(t_s)];
  return before.rain_kg_m2_s != after.rain_kg_m2_s || before.snow_kg_m2_s != after.snow_kg_m2_s;
}

Forcing ForcingSeries::at(const StepMoment& moment) const {
  const double hour = hour_at(moment.t_s);
  const std::size_t last = hours_.size() - 1;
  const std::size_t i = sample_at(moment.t_s);
  const std::size_t j = std::min(i + 1, last);
  const double w = std::clamp(hour - static_cast<double>(i), 0.0, 1.0);
  Forcing f = hours_[sample_at(moment.start_s)]; // rain and snow stay those of its hour
  for (double Forcing::*field : steady_fields) {
    f.*field = hours_[i].*field + w * (hours_[j].*field - hours_[i].*field);
  }
  return f;
}

} // namespace heapcast::models
