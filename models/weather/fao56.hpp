#pragma once

/// Weather relations of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes, Smith 1998,
/// https://www.fao.org/4/x0490e/x0490e00.htm), by its equation numbers.
///
/// These functions speak the paper's own units (degC, kPa, MJ/m2 and day or hour, m/s), because its
/// constants do; `complete.cpp` converts. Checked in tests/models/weather/fao56_test.cpp against
/// validation/reference/fao56.csv. All are pure, throw nothing and pass NaN through.
namespace heapcast::models::fao56 {

/// Saturation vapour pressure over water, kPa (eq. 11, Tetens): 0.6108 exp(17.27 T / (T + 237.3)).
/// temperature_C -90..60.
[[nodiscard]] double saturation_pressure_kPa(double temperature_C);

/// Slope of the saturation vapour pressure, kPa/K (eq. 13): 4098 es / (T + 237.3)^2.
[[nodiscard]] double saturation_slope_kPa_K(double temperature_C);

struct DayTemperatures {
  double tmin_C = 0.0;
  double tmax_C = 0.0;
};

/// A day's mean saturation vapour pressure, kPa (eq. 12): mean of es(tmin) and es(tmax).
[[nodiscard]] double mean_saturation_pressure_kPa(const DayTemperatures& day);

/// Air pressure of the standard atmosphere, kPa (eq. 7). elevation_m -500..9000.
[[nodiscard]] double air_pressure_kPa(double elevation_m);

/// Psychrometric constant, kPa/K (eq. 8): 0.665e-3 P.
[[nodiscard]] double psychrometric_constant_kPa_K(double pressure_kPa);

/// Actual vapour pressure from the dew point, kPa (eq. 14); with the day's tmin as dew point where
/// humidity is unknown (eq. 48).
[[nodiscard]] double vapour_pressure_from_dew_point_kPa(double dew_point_C);

struct HumidityRange {
  DayTemperatures temperatures;
  double lowest_percent = 0.0;
  double highest_percent = 0.0;
};

/// Actual vapour pressure from the day's lowest and highest relative humidity, kPa (eq. 17).
[[nodiscard]] double vapour_pressure_kPa(const HumidityRange& day);

struct MeanHumidity {
  DayTemperatures temperatures;
  double mean_percent = 0.0;
};

/// Actual vapour pressure from the day's mean relative humidity, kPa (eq. 19).
[[nodiscard]] double vapour_pressure_kPa(const MeanHumidity& day);

struct Psychrometer {
  double dry_bulb_C = 0.0;
  double wet_bulb_C = 0.0;
  double pressure_kPa = 101.3;
  double coefficient_1_K = 0.000662; ///< ventilated at about 5 m/s; 0.0008 naturally ventilated
};

/// Actual vapour pressure from dry and wet bulb, kPa (eqs. 15, 16).
[[nodiscard]] double vapour_pressure_kPa(const Psychrometer& reading);

struct WindReading {
  double speed_m_s = 0.0;
  double height_m = 10.0; ///< above 0.1 m
};

/// Wind at 2 m over short grass, m/s (eq. 47): u 4.87 / ln(67.8 z - 5.42).
[[nodiscard]] double wind_at_2m_m_s(const WindReading& reading);

struct SunDay {
  double latitude_deg = 0.0; ///< north positive
  int day_of_year = 1;       ///< 1..366
};

/// Inverse relative distance to the sun, squared (eq. 23).
[[nodiscard]] double inverse_relative_distance(int day_of_year);

/// Solar declination, rad (eq. 24).
[[nodiscard]] double solar_declination_rad(int day_of_year);

/// Sunset hour angle, rad (eq. 25); 0 in polar night and pi in polar day.
[[nodiscard]] double sunset_hour_angle_rad(const SunDay& day);

/// Daylight hours N (eq. 34); 0 in polar night and 24 in polar day.
[[nodiscard]] double daylight_h(const SunDay& day);

/// Extraterrestrial radiation of a day, MJ/m2/d (eq. 21).
[[nodiscard]] double extraterrestrial_MJ_m2_d(const SunDay& day);

/// Seasonal correction of solar time, h (eqs. 32, 33).
[[nodiscard]] double seasonal_correction_h(int day_of_year);

struct ClockTime {
  double clock_h = 12.0;      ///< local standard time
  double longitude_deg = 0.0; ///< east positive
  double utc_offset_h = 0.0;  ///< of the local standard time, east positive
  int day_of_year = 1;
};

/// Solar time, h (inside eq. 31); noon is 12.
[[nodiscard]] double solar_time_h(const ClockTime& time);

/// Solar time angle, rad (eq. 31): 0 at solar noon, negative before.
[[nodiscard]] double solar_time_angle_rad(double solar_time_h);

struct SunPeriod {
  SunDay day;
  double middle_solar_time_h = 12.0;
  double length_h = 1.0; ///< up to 24
};

/// Extraterrestrial radiation of an hour or another part of a day, MJ/m2 (eqs. 28-30), counting
/// only the part with the sun above the horizon. Any 24 adjoining hours add up to eq. 21.
[[nodiscard]] double extraterrestrial_MJ_m2(const SunPeriod& period);

struct ClearSky {
  double extraterrestrial = 0.0; ///< MJ/m2 of any period
  double elevation_m = 0.0;
};

/// Solar radiation under a clear sky, in the unit of `extraterrestrial` (eq. 37).
[[nodiscard]] double clear_sky_radiation(const ClearSky& sky);

struct SunshineRecord {
  double extraterrestrial = 0.0; ///< MJ/m2 of any period
  double sunshine_h = 0.0;       ///< n
  double daylight_h = 0.0;       ///< N; 0 gives no radiation
};

/// Solar radiation from sunshine hours (eq. 35, Angstrom): (0.25 + 0.50 n/N) Ra.
[[nodiscard]] double radiation_from_sunshine(const SunshineRecord& record);

inline constexpr double hargreaves_interior = 0.16; ///< eq. 50, where land dominates
inline constexpr double hargreaves_coastal = 0.19; ///< eq. 50, near the coast of a large water body

struct TemperatureRangeRecord {
  double extraterrestrial = 0.0; ///< MJ/m2 of any period
  DayTemperatures temperatures;  ///< tmax at or above tmin
  double coefficient = hargreaves_interior;
};

/// Solar radiation from the day's temperature range (eq. 50, Hargreaves): k sqrt(tmax - tmin) Ra.
[[nodiscard]] double radiation_from_temperature_range(const TemperatureRangeRecord& record);

/// Net short-wave radiation (eq. 38) with the grass albedo 0.23, in the unit given.
[[nodiscard]] double net_shortwave(double solar_radiation);

struct LongwaveDay {
  DayTemperatures temperatures;
  double vapour_pressure_kPa = 0.0;
  double relative_shortwave = 1.0; ///< Rs/Rso, limited to 1
};

/// Net outgoing long-wave radiation of a day, MJ/m2/d (eq. 39).
[[nodiscard]] double net_longwave_MJ_m2_d(const LongwaveDay& day);

struct LongwaveHour {
  double temperature_C = 0.0;
  double vapour_pressure_kPa = 0.0;
  double relative_shortwave = 1.0;
};

/// Net outgoing long-wave radiation of an hour, MJ/m2/h (eq. 39 with sigma/24).
[[nodiscard]] double net_longwave_MJ_m2_h(const LongwaveHour& hour);

struct MonthChange {
  double mean_C = 0.0;          ///< this month
  double previous_mean_C = 0.0; ///< the month before
};

/// Soil heat flux of a month, MJ/m2/d (eq. 44): 0.14 (T - T before).
[[nodiscard]] double soil_heat_flux_MJ_m2_d(const MonthChange& change);

struct HourBalance {
  double net_radiation_MJ_m2_h = 0.0;
  bool daylight = true;
};

/// Soil heat flux of an hour, MJ/m2/h (eqs. 45, 46): 0.1 Rn by day, 0.5 Rn at night.
[[nodiscard]] double soil_heat_flux_MJ_m2_h(const HourBalance& hour);

/// State of the air above the reference grass over a day or an hour.
struct GrassWeather {
  double temperature_C = 0.0; ///< mean of the period
  double wind_2m_m_s = 0.0;
  double saturation_pressure_kPa = 0.0; ///< eq. 12 for a day, eq. 11 for an hour
  double vapour_pressure_kPa = 0.0;
  double psychrometric_constant_kPa_K = 0.0;
  double net_radiation_MJ_m2 = 0.0;  ///< of the period
  double soil_heat_flux_MJ_m2 = 0.0; ///< of the period
};

/// The two terms of the Penman-Monteith equation, mm of water in the period.
struct Evapotranspiration {
  double radiation_mm = 0.0;
  double aerodynamic_mm = 0.0;
  [[nodiscard]] double total_mm() const { return radiation_mm + aerodynamic_mm; }
};

/// Reference evapotranspiration of a day (eq. 6).
[[nodiscard]] Evapotranspiration reference_evapotranspiration_day(const GrassWeather& weather);

/// Reference evapotranspiration of an hour (eq. 53).
[[nodiscard]] Evapotranspiration reference_evapotranspiration_hour(const GrassWeather& weather);

} // namespace heapcast::models::fao56
