#include "models/surface/forcing.hpp"

#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

constexpr double instant_h = 1e-9; ///< hours this close are the same moment

constexpr double stefan_boltzmann_W_m2K4 = 5.670374e-8;

/// Share of precipitation that falls as snow: 1 below 0 degC, 0 above 2 degC (judgement).
double snow_share(double air_temperature_K) {
  return std::clamp((275.15 - air_temperature_K) / 2.0, 0.0, 1.0);
}

} // namespace

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
    f.radiative_W_m2K = 4.0 * stefan_boltzmann_W_m2K4 * std::pow(air.temperature_K, 3);
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
  const Forcing& a = hours_[i];
  const Forcing& b = hours_[std::min(i + 1, last)];
  const double w = std::clamp(hour - static_cast<double>(i), 0.0, 1.0);
  const auto mix = [w](double x, double y) { return x + w * (y - x); };
  Forcing f = hours_[sample_at(moment.start_s)]; // rain and snow stay those of its hour
  f.air_temperature_K = mix(a.air_temperature_K, b.air_temperature_K);
  f.vapour_density_kg_m3 = mix(a.vapour_density_kg_m3, b.vapour_density_kg_m3);
  f.humidity_ratio = mix(a.humidity_ratio, b.humidity_ratio);
  f.air_density_kg_m3 = mix(a.air_density_kg_m3, b.air_density_kg_m3);
  f.wind_m_s = mix(a.wind_m_s, b.wind_m_s);
  f.film_W_m2K = mix(a.film_W_m2K, b.film_W_m2K);
  f.radiative_W_m2K = mix(a.radiative_W_m2K, b.radiative_W_m2K);
  f.sky_temperature_K = mix(a.sky_temperature_K, b.sky_temperature_K);
  f.solar_W_m2 = mix(a.solar_W_m2, b.solar_W_m2);
  f.soil_temperature_K = mix(a.soil_temperature_K, b.soil_temperature_K);
  return f;
}

} // namespace heapcast::models
