#include "models/weather/fao56.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace heapcast::models::fao56 {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double solar_constant_MJ_m2_min = 0.0820;
constexpr double kelvin_offset = 273.16;              // the paper's, for eq. 39
constexpr double stefan_boltzmann_MJ_m2_d = 4.903e-9; // per K4, the paper's

double radians(double degrees) {
  return degrees * pi / 180.0;
}

/// Share of the black-body radiation that leaves, by humidity and cloud (eq. 39).
double longwave_share(double vapour_pressure_kPa, double relative_shortwave) {
  return (0.34 - 0.14 * std::sqrt(vapour_pressure_kPa)) *
         (1.35 * std::min(relative_shortwave, 1.0) - 0.35);
}

/// Eqs. 6 and 53 differ in the 900 or 37 of the aerodynamic term.
Evapotranspiration penman_monteith(const GrassWeather& weather, double aerodynamic_constant) {
  const double slope = saturation_slope_kPa_K(weather.temperature_C);
  const double gamma = weather.psychrometric_constant_kPa_K;
  const double denominator = slope + gamma * (1.0 + 0.34 * weather.wind_2m_m_s);
  const double available = weather.net_radiation_MJ_m2 - weather.soil_heat_flux_MJ_m2;
  const double deficit_kPa = weather.saturation_pressure_kPa - weather.vapour_pressure_kPa;
  return {.radiation_mm = 0.408 * slope * available / denominator,
          .aerodynamic_mm = gamma * aerodynamic_constant / (weather.temperature_C + 273.0) *
                            weather.wind_2m_m_s * deficit_kPa / denominator};
}

} // namespace

double saturation_pressure_kPa(double temperature_C) {
  return 0.6108 * std::exp(17.27 * temperature_C / (temperature_C + 237.3));
}

double saturation_slope_kPa_K(double temperature_C) {
  const double offset = temperature_C + 237.3;
  return 4098.0 * saturation_pressure_kPa(temperature_C) / (offset * offset);
}

double mean_saturation_pressure_kPa(const DayTemperatures& day) {
  return 0.5 * (saturation_pressure_kPa(day.tmin_C) + saturation_pressure_kPa(day.tmax_C));
}

double air_pressure_kPa(double elevation_m) {
  return 101.3 * std::pow((293.0 - 0.0065 * elevation_m) / 293.0, 5.26);
}

double psychrometric_constant_kPa_K(double pressure_kPa) {
  return 0.665e-3 * pressure_kPa;
}

double vapour_pressure_from_dew_point_kPa(double dew_point_C) {
  return saturation_pressure_kPa(dew_point_C);
}

double vapour_pressure_kPa(const HumidityRange& day) {
  return 0.5 * (saturation_pressure_kPa(day.temperatures.tmin_C) * day.highest_percent / 100.0 +
                saturation_pressure_kPa(day.temperatures.tmax_C) * day.lowest_percent / 100.0);
}

double vapour_pressure_kPa(const MeanHumidity& day) {
  return day.mean_percent / 100.0 * mean_saturation_pressure_kPa(day.temperatures);
}

double vapour_pressure_kPa(const Psychrometer& reading) {
  return saturation_pressure_kPa(reading.wet_bulb_C) -
         reading.coefficient_1_K * reading.pressure_kPa * (reading.dry_bulb_C - reading.wet_bulb_C);
}

double wind_at_2m_m_s(const WindReading& reading) {
  return reading.speed_m_s * 4.87 / std::log(67.8 * reading.height_m - 5.42);
}

double inverse_relative_distance(int day_of_year) {
  return 1.0 + 0.033 * std::cos(2.0 * pi * day_of_year / 365.0);
}

double solar_declination_rad(int day_of_year) {
  return 0.409 * std::sin(2.0 * pi * day_of_year / 365.0 - 1.39);
}

double sunset_hour_angle_rad(const SunDay& day) {
  const double cosine =
      -std::tan(radians(day.latitude_deg)) * std::tan(solar_declination_rad(day.day_of_year));
  return std::acos(std::clamp(cosine, -1.0, 1.0));
}

double daylight_h(const SunDay& day) {
  return 24.0 / pi * sunset_hour_angle_rad(day);
}

double extraterrestrial_MJ_m2_d(const SunDay& day) {
  return extraterrestrial_MJ_m2({.day = day, .middle_solar_time_h = 12.0, .length_h = 24.0});
}

double seasonal_correction_h(int day_of_year) {
  const double b = 2.0 * pi * (day_of_year - 81) / 364.0;
  return 0.1645 * std::sin(2.0 * b) - 0.1255 * std::cos(b) - 0.025 * std::sin(b);
}

double solar_time_h(const ClockTime& time) {
  return time.clock_h + (time.longitude_deg / 15.0 - time.utc_offset_h) +
         seasonal_correction_h(time.day_of_year);
}

double solar_time_angle_rad(double solar_time_h) {
  return pi / 12.0 * (solar_time_h - 12.0);
}

double extraterrestrial_MJ_m2(const SunPeriod& period) {
  const double latitude = radians(period.day.latitude_deg);
  const double declination = solar_declination_rad(period.day.day_of_year);
  const double sunset = sunset_hour_angle_rad(period.day);
  const double middle = std::remainder(solar_time_angle_rad(period.middle_solar_time_h), 2.0 * pi);
  const double half = pi / 24.0 * period.length_h;
  double sum = 0.0;
  // The period can reach past midnight into the sun of the day before or after.
  for (const double turn : {-2.0 * pi, 0.0, 2.0 * pi}) {
    const double from = std::max(middle - half + turn, -sunset);
    const double to = std::min(middle + half + turn, sunset);
    if (to > from) {
      sum += (to - from) * std::sin(latitude) * std::sin(declination) +
             std::cos(latitude) * std::cos(declination) * (std::sin(to) - std::sin(from));
    }
  }
  return 12.0 * 60.0 / pi * solar_constant_MJ_m2_min *
         inverse_relative_distance(period.day.day_of_year) * std::max(sum, 0.0);
}

double clear_sky_radiation(const ClearSky& sky) {
  return (0.75 + 2e-5 * sky.elevation_m) * sky.extraterrestrial;
}

double radiation_from_sunshine(const SunshineRecord& record) {
  if (record.daylight_h <= 0.0) {
    return 0.0;
  }
  return (0.25 + 0.50 * record.sunshine_h / record.daylight_h) * record.extraterrestrial;
}

double radiation_from_temperature_range(const TemperatureRangeRecord& record) {
  return record.coefficient * std::sqrt(record.temperatures.tmax_C - record.temperatures.tmin_C) *
         record.extraterrestrial;
}

double net_shortwave(double solar_radiation) {
  return 0.77 * solar_radiation;
}

double net_longwave_MJ_m2_d(const LongwaveDay& day) {
  const double black_body = 0.5 * stefan_boltzmann_MJ_m2_d *
                            (std::pow(day.temperatures.tmin_C + kelvin_offset, 4) +
                             std::pow(day.temperatures.tmax_C + kelvin_offset, 4));
  return black_body * longwave_share(day.vapour_pressure_kPa, day.relative_shortwave);
}

double net_longwave_MJ_m2_h(const LongwaveHour& hour) {
  const double black_body =
      stefan_boltzmann_MJ_m2_d / 24.0 * std::pow(hour.temperature_C + kelvin_offset, 4);
  return black_body * longwave_share(hour.vapour_pressure_kPa, hour.relative_shortwave);
}

double soil_heat_flux_MJ_m2_d(const MonthChange& change) {
  return 0.14 * (change.mean_C - change.previous_mean_C);
}

double soil_heat_flux_MJ_m2_h(const HourBalance& hour) {
  return (hour.daylight ? 0.1 : 0.5) * hour.net_radiation_MJ_m2_h;
}

Evapotranspiration reference_evapotranspiration_day(const GrassWeather& weather) {
  return penman_monteith(weather, 900.0);
}

Evapotranspiration reference_evapotranspiration_hour(const GrassWeather& weather) {
  return penman_monteith(weather, 37.0);
}

} // namespace heapcast::models::fao56
