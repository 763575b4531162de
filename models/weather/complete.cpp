#include "models/weather/complete.hpp"

#include "engine/errors.hpp"
#include "models/properties/moist_air.hpp"
#include "models/weather/diurnal.hpp"
#include "models/weather/fao56.hpp"
#include "models/weather/soil_temperature.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <chrono>
#include <cmath>
#include <span>

namespace heapcast::models {

namespace {

constexpr double day_h = 24.0;
constexpr double assumed_wind_m_s = 2.0;

double saturation_Pa(double temperature_K) {
  return 1000.0 * fao56::saturation_pressure_kPa(temperature_K - freezing_K);
}

/// What is known of one calendar day.
struct Day {
  LocalDays date;
  double tmin_K = 0.0;
  double tmax_K = 0.0;
  std::size_t first_sample = 0; ///< the day's samples, fewer than 24 at the ends of hourly series
  std::size_t end_sample = 0;
};

/// The hourly samples that are being made, and which row and which calendar day each belongs to.
class Samples {
public:
  explicit Samples(const WeatherSeries& series) : series_(&series) {
    const LocalDays first_date = std::chrono::floor<std::chrono::days>(series.first);
    first_hour_ = static_cast<std::size_t>((series.first - LocalHours{first_date}).count());
    const bool daily = series.step == SeriesStep::day;
    count_ = daily ? 24 * series.size() + 1 : series.size();
    const std::size_t day_count = daily ? series.size() : (first_hour_ + count_ + 23) / 24;
    for (std::size_t d = 0; d < day_count; ++d) {
      const std::size_t from = 24 * d;
      days_.push_back({.date = first_date + std::chrono::days{d},
                       .first_sample = from > first_hour_ ? from - first_hour_ : 0,
                       .end_sample = std::min(from + 24 - first_hour_, count_)});
    }
  }
  [[nodiscard]] std::size_t count() const { return count_; }
  [[nodiscard]] LocalHours time(std::size_t i) const {
    return series_->first + std::chrono::hours{i};
  }
  [[nodiscard]] std::size_t day_index(std::size_t i) const {
    return std::min((i + first_hour_) / 24, days_.size() - 1);
  }
  [[nodiscard]] std::size_t row(std::size_t i) const {
    return series_->step == SeriesStep::day ? day_index(i) : i;
  }
  /// Days from the first day's noon; negative before.
  [[nodiscard]] double days_after_first_noon(std::size_t i) const {
    return (static_cast<double>(i + first_hour_) - 12.0) / day_h;
  }
  [[nodiscard]] std::span<Day> days() { return days_; }
  [[nodiscard]] std::span<const Day> days() const { return days_; }

private:
  const WeatherSeries* series_;
  std::size_t first_hour_ = 0;
  std::size_t count_ = 0;
  std::vector<Day> days_;
};

/// Takes the days' lowest and highest temperature from the rows, for a part of a day from the 24
/// hours that start or end there.
void find_day_ranges(const WeatherSeries& series, Samples& samples) {
  const auto days = samples.days();
  for (std::size_t d = 0; d < days.size(); ++d) {
    Day& day = days[d];
    if (series.step == SeriesStep::day) {
      day.tmin_K = series.tmin_K[d];
      day.tmax_K = series.tmax_K[d];
      continue;
    }
    const std::size_t latest_start = samples.count() - std::min<std::size_t>(24, samples.count());
    const std::size_t from = std::min(day.first_sample, latest_start);
    const std::size_t to = std::min(std::max(day.end_sample, from + 24), samples.count());
    const auto [low, high] =
        std::minmax_element(series.temperature_K.begin() + static_cast<std::ptrdiff_t>(from),
                            series.temperature_K.begin() + static_cast<std::ptrdiff_t>(to));
    day.tmin_K = *low;
    day.tmax_K = *high;
  }
}

std::vector<double> air_temperatures(const WeatherSeries& series, const Samples& samples,
                                     const SiteSun& sun) {
  if (series.step == SeriesStep::hour) {
    return series.temperature_K;
  }
  std::vector<DayRange> ranges;
  ranges.reserve(samples.days().size());
  for (const Day& day : samples.days()) {
    ranges.push_back({.tmin = day.tmin_K,
                      .tmax = day.tmax_K,
                      .course = day_course({.solar_noon_h = sun.solar_noon_h(day.date),
                                            .daylight_h = sun.daylight_h(day.date)})});
  }
  return hourly_temperatures(ranges);
}

std::vector<double> rain(const WeatherSeries& series, const Samples& samples) {
  if (series.step == SeriesStep::hour) {
    return series.rain_kg_m2;
  }
  std::vector<double> hourly;
  hourly.reserve(samples.count());
  for (std::size_t d = 0; d < series.size(); ++d) {
    const auto amounts = hourly_rain({.rain_kg_m2 = series.rain_kg_m2[d],
                                      .day_number = days_from_civil(samples.days()[d].date)});
    hourly.insert(hourly.end(), amounts.begin(), amounts.end());
  }
  hourly.push_back(0.0);
  return hourly;
}

/// Vapour pressure of a row, before its limit at saturation.
double vapour_pressure_Pa(const WeatherSeries& series, const Day& day, std::size_t row) {
  const bool daily = series.step == SeriesStep::day;
  const fao56::DayTemperatures range{.tmin_C = day.tmin_K - freezing_K,
                                     .tmax_C = day.tmax_K - freezing_K};
  if (!series.vapour_pressure_Pa.empty()) {
    return series.vapour_pressure_Pa[row];
  }
  if (!series.dew_point_K.empty()) {
    return saturation_Pa(series.dew_point_K[row]);
  }
  if (!series.humidity_min.empty() && !series.humidity_max.empty()) {
    return 1000.0 * fao56::vapour_pressure_kPa(
                        fao56::HumidityRange{.temperatures = range,
                                             .lowest_percent = 100.0 * series.humidity_min[row],
                                             .highest_percent = 100.0 * series.humidity_max[row]});
  }
  if (!series.humidity.empty()) {
    return daily
               ? 1000.0 * fao56::vapour_pressure_kPa(fao56::MeanHumidity{
                              .temperatures = range, .mean_percent = 100.0 * series.humidity[row]})
               : series.humidity[row] * saturation_Pa(series.temperature_K[row]);
  }
  return saturation_Pa(day.tmin_K);
}

double wet_bulb_vapour_pressure_Pa(const WeatherSeries& series, const Site& site, std::size_t row) {
  const double pressure_kPa = series.air_pressure_Pa.empty()
                                  ? fao56::air_pressure_kPa(site.elevation_m)
                                  : series.air_pressure_Pa[row] / 1000.0;
  return std::max(0.0, 1000.0 * fao56::vapour_pressure_kPa(fao56::Psychrometer{
                                    .dry_bulb_C = series.temperature_K[row] - freezing_K,
                                    .wet_bulb_C = series.wet_bulb_K[row] - freezing_K,
                                    .pressure_kPa = pressure_kPa}));
}

void fill_vapour_pressure(Weather& weather, const WeatherSeries& series, const Samples& samples,
                          const Site& site) {
  const bool known = !series.vapour_pressure_Pa.empty() || !series.dew_point_K.empty() ||
                     (!series.humidity_min.empty() && !series.humidity_max.empty()) ||
                     !series.humidity.empty();
  const bool from_wet_bulb = !known && !series.wet_bulb_K.empty();
  for (std::size_t i = 0; i < samples.count(); ++i) {
    const std::size_t row = samples.row(i);
    const double pressure_Pa =
        from_wet_bulb ? wet_bulb_vapour_pressure_Pa(series, site, row)
                      : vapour_pressure_Pa(series, samples.days()[samples.day_index(i)], row);
    weather.vapour_pressure_Pa.push_back(
        std::min(pressure_Pa, saturation_Pa(weather.air_temperature_K[i])));
  }
  if (!known && !from_wet_bulb) {
    weather.estimates.push_back(
        {"humidity", "dew point equals the day's lowest temperature (FAO-56 eq. 48)"});
  }
}

void fill_wind(Weather& weather, const WeatherSeries& series, const Samples& samples,
               const Site& site) {
  if (series.wind_m_s.empty()) {
    weather.wind_m_s.assign(samples.count(), assumed_wind_m_s);
    weather.estimates.push_back({"wind", "2 m/s at 2 m, the world mean (FAO-56 ch. 3)"});
    return;
  }
  constexpr double wanted_height_m = 2.0;
  double factor = 1.0;
  if (site.wind_height_m != wanted_height_m) {
    factor = fao56::wind_at_2m_m_s({.speed_m_s = 1.0, .height_m = site.wind_height_m});
    weather.estimates.push_back(
        {"wind at 2 m",
         fmt::format("{:.3f} of the wind at {:g} m (FAO-56 eq. 47)", factor, site.wind_height_m)});
  }
  for (std::size_t i = 0; i < samples.count(); ++i) {
    weather.wind_m_s.push_back(factor * series.wind_m_s[samples.row(i)]);
  }
}

/// The share of the extraterrestrial radiation that reaches the ground on a day, where it is not
/// measured.
double estimated_radiation_share(const WeatherSeries& series, const Site& site, const SiteSun& sun,
                                 const Samples& samples, std::size_t row, std::size_t day_index) {
  const Day& day = samples.days()[day_index];
  double share = 0.0;
  if (!series.sunshine_h.empty()) {
    share = fao56::radiation_from_sunshine({.extraterrestrial = 1.0,
                                            .sunshine_h = series.sunshine_h[row],
                                            .daylight_h = sun.daylight_h(day.date)});
  } else if (!series.sky_cover.empty()) {
    share = fao56::radiation_from_sunshine(
        {.extraterrestrial = 1.0, .sunshine_h = 1.0 - series.sky_cover[row], .daylight_h = 1.0});
  } else {
    share = fao56::radiation_from_temperature_range(
        {.extraterrestrial = 1.0,
         .temperatures = {.tmin_C = day.tmin_K - freezing_K, .tmax_C = day.tmax_K - freezing_K},
         .coefficient = site.coastal ? fao56::hargreaves_coastal : fao56::hargreaves_interior});
  }
  return std::min(share, sun.clear_sky_share());
}

void fill_radiation(Weather& weather, const WeatherSeries& series, const Samples& samples,
                    const Site& site, const SiteSun& sun,
                    const std::vector<double>& extraterrestrial_W_m2) {
  auto& radiation = weather.global_radiation_W_m2;
  radiation.reserve(samples.count());
  if (series.radiation_W_m2.empty()) {
    for (std::size_t i = 0; i < samples.count(); ++i) {
      radiation.push_back(extraterrestrial_W_m2[i] *
                          estimated_radiation_share(series, site, sun, samples, samples.row(i),
                                                    samples.day_index(i)));
    }
    const std::string range =
        fmt::format("from the day's temperature range (FAO-56 eq. 50, coefficient {:g})",
                    site.coastal ? fao56::hargreaves_coastal : fao56::hargreaves_interior);
    weather.estimates.push_back(
        {"radiation", !series.sunshine_h.empty()  ? "from sunshine hours (FAO-56 eq. 35)"
                      : !series.sky_cover.empty() ? "from sky cover (FAO-56 eq. 35)"
                                                  : range});
    return;
  }
  if (series.step == SeriesStep::hour) {
    for (const double value : series.radiation_W_m2) {
      radiation.push_back(std::max(value, 0.0));
    }
    return;
  }
  for (std::size_t d = 0; d < samples.days().size(); ++d) {
    const Day& day = samples.days()[d];
    double shape = 0.0;
    for (std::size_t i = day.first_sample; i < day.end_sample; ++i) {
      shape += extraterrestrial_W_m2[i];
    }
    const std::size_t end = d + 1 == samples.days().size() ? samples.count() : day.end_sample;
    for (std::size_t i = day.first_sample; i < end; ++i) {
      const double mean_W_m2 = series.radiation_W_m2[d];
      radiation.push_back(shape > 0.0 ? mean_W_m2 * day_h * extraterrestrial_W_m2[i] / shape
                                      : mean_W_m2);
    }
  }
}

/// Share of the sky under cloud on each day, by its radiation.
std::vector<double> daily_cloud_share(const Weather& weather, const Samples& samples,
                                      const SiteSun& sun,
                                      const std::vector<double>& extraterrestrial_W_m2) {
  constexpr double least_sun_Wh_m2 = 240.0; // a low sun says nothing of cloud
  std::vector<double> share(samples.days().size(), unknown_value);
  for (std::size_t d = 0; d < share.size(); ++d) {
    double received = 0.0;
    double above = 0.0;
    for (std::size_t i = samples.days()[d].first_sample; i < samples.days()[d].end_sample; ++i) {
      received += weather.global_radiation_W_m2[i];
      above += extraterrestrial_W_m2[i];
    }
    if (above >= least_sun_Wh_m2) {
      share[d] = std::clamp(1.5 * (1.0 - received / (sun.clear_sky_share() * above)), 0.0, 1.0);
    }
  }
  // Days without enough sun take the nearest known share before them, the first ones after them.
  constexpr double no_sun_at_all = 0.5;
  double last = no_sun_at_all;
  for (const double value : share) {
    if (!std::isnan(value)) {
      last = value;
      break;
    }
  }
  for (double& value : share) {
    value = std::isnan(value) ? last : value;
    last = value;
  }
  return share;
}

/// Linear between the values, constant beyond the first and the last.
double interpolated(const std::vector<double>& values, double position) {
  const double within = std::clamp(position, 0.0, static_cast<double>(values.size() - 1));
  const auto before = static_cast<std::size_t>(within);
  const std::size_t after = std::min(before + 1, values.size() - 1);
  return std::lerp(values[before], values[after], within - static_cast<double>(before));
}

void fill_sky_temperature(Weather& weather, const WeatherSeries& series, const Samples& samples,
                          const SiteSun& sun, const std::vector<double>& extraterrestrial_W_m2) {
  auto& sky = weather.sky_temperature_K;
  sky.reserve(samples.count());
  if (!series.sky_infrared_W_m2.empty()) {
    for (const double infrared : series.sky_infrared_W_m2) {
      sky.push_back(std::pow(infrared / stefan_boltzmann_W_m2K4, 0.25));
    }
    return;
  }
  const bool measured = !series.sky_cover.empty();
  const bool by_day = !measured || series.step == SeriesStep::day;
  const auto cloud =
      measured ? series.sky_cover : daily_cloud_share(weather, samples, sun, extraterrestrial_W_m2);
  for (std::size_t i = 0; i < samples.count(); ++i) {
    const double share = by_day ? interpolated(cloud, samples.days_after_first_noon(i)) : cloud[i];
    const double air_K = weather.air_temperature_K[i];
    const double clear_K = std::min(0.0552 * air_K * std::sqrt(air_K), air_K);
    sky.push_back((1.0 - share) * clear_K + share * air_K);
  }
  weather.estimates.push_back(
      {"sky temperature",
       fmt::format("clear sky 0.0552 T^1.5 (Swinbank 1963), nearer the air by the share of cloud "
                   "from {}",
                   measured ? "sky cover"
                            : "radiation over clear-sky radiation (FAO-56 eqs. 35, 37)")});
}

/// The air temperature through a first-order low-pass that starts at the mean of its memory.
std::vector<double> low_pass(const std::vector<double>& air_K, std::size_t memory_h) {
  const double weight = -std::expm1(-1.0 / static_cast<double>(memory_h));
  const std::size_t start_h = std::min(memory_h, air_K.size());
  double soil_K = 0.0;
  for (std::size_t i = 0; i < start_h; ++i) {
    soil_K += air_K[i] / static_cast<double>(start_h);
  }
  std::vector<double> all_K;
  all_K.reserve(air_K.size());
  for (const double air : air_K) {
    all_K.push_back(soil_K);
    soil_K += weight * (air - soil_K);
  }
  return all_K;
}

void fill_soil_temperature(Weather& weather, const WeatherSeries& series, const Samples& samples) {
  constexpr std::size_t memory_h = 720; // 30 days
  constexpr std::size_t year_h = 8760;
  auto& soil_K = weather.soil_temperature_K;
  if (!series.soil_temperature_K.empty()) {
    for (std::size_t i = 0; i < samples.count(); ++i) {
      soil_K.push_back(
          series.step == SeriesStep::day
              ? interpolated(series.soil_temperature_K, samples.days_after_first_noon(i))
              : series.soil_temperature_K[i]);
    }
    return;
  }
  const auto& air_K = weather.air_temperature_K;
  if (!series.soil_wave && air_K.size() < year_h) {
    soil_K = low_pass(air_K, memory_h);
    weather.estimates.push_back({"soil temperature",
                                 "weather of less than a year: air temperature "
                                 "damped and delayed by a low-pass of 30 days"});
    return;
  }
  const AnnualWave wave =
      series.soil_wave ? *series.soil_wave : deeper(fitted_wave(air_K, series.first), soil_depth_m);
  for (std::size_t i = 0; i < samples.count(); ++i) {
    soil_K.push_back(temperature_K(wave, samples.time(i)));
  }
  weather.estimates.push_back(
      {"soil temperature",
       fmt::format("annual wave {} at {:g} m: mean {:.1f} degC, {:.1f} K up and down",
                   series.soil_wave
                       ? "of the file's ground temperatures"
                       : "of the air temperature, damped and delayed as in soil (Hillel 1982),",
                   soil_depth_m, wave.mean_K - freezing_K, wave.amplitude_K)});
}

} // namespace

void check_site(const Site& site, const std::string& where) {
  std::vector<Fault> faults;
  const auto check = [&](const char* name, double value, double low, double high,
                         const char* unit) {
    if (!(value >= low && value <= high)) {
      faults.push_back({where, fmt::format("{} is {:g} {}", name, value, unit),
                        fmt::format("write {:g} to {:g} {}", low, high, unit)});
    }
  };
  check("latitude", site.latitude_deg, -90, 90, "deg");
  check("longitude", site.longitude_deg.value_or(0.0), -180, 180, "deg");
  check("UTC offset", site.utc_offset_h.value_or(0.0), -12, 14, "h");
  check("elevation", site.elevation_m, -500, 9000, "m");
  check("height of the wind readings", site.wind_height_m, 0.5, 200, "m");
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
}

SiteSun::SiteSun(const Site& site) : site_(site) {
  if (site_.longitude_deg && !site_.utc_offset_h) {
    site_.utc_offset_h = std::round(*site_.longitude_deg / 15.0);
  }
}

double SiteSun::extraterrestrial_W_m2(LocalHours time) const {
  const LocalDays date = std::chrono::floor<std::chrono::days>(time);
  const int day = day_of_year(date);
  const auto clock_h = static_cast<double>((time - LocalHours{date}).count());
  const double solar_time_h = clock_h + 12.0 - solar_noon_h(date);
  constexpr double W_m2_per_MJ_m2_h = 1e6 / 3600.0;
  return W_m2_per_MJ_m2_h * fao56::extraterrestrial_MJ_m2(
                                {.day = {.latitude_deg = site_.latitude_deg, .day_of_year = day},
                                 .middle_solar_time_h = solar_time_h});
}

double SiteSun::extraterrestrial_W_m2(LocalDays date) const {
  constexpr double W_m2_per_MJ_m2_d = 1e6 / 86400.0;
  return W_m2_per_MJ_m2_d * fao56::extraterrestrial_MJ_m2_d({.latitude_deg = site_.latitude_deg,
                                                             .day_of_year = day_of_year(date)});
}

double SiteSun::daylight_h(LocalDays date) const {
  return fao56::daylight_h({.latitude_deg = site_.latitude_deg, .day_of_year = day_of_year(date)});
}

double SiteSun::solar_noon_h(LocalDays date) const {
  if (!site_.longitude_deg) {
    return 12.0;
  }
  return 24.0 - fao56::solar_time_h({.clock_h = 12.0,
                                     .longitude_deg = *site_.longitude_deg,
                                     .utc_offset_h = *site_.utc_offset_h,
                                     .day_of_year = day_of_year(date)});
}

double SiteSun::clear_sky_share() const {
  return fao56::clear_sky_radiation({.extraterrestrial = 1.0, .elevation_m = site_.elevation_m});
}

Weather complete_weather(const WeatherSeries& series, const Site& site,
                         const WeatherSource& source) {
  check_site(site, source.name);
  if (series.size() == 0) {
    throw InputError(source.name, "holds no weather", "give at least one day");
  }
  const SiteSun sun(site);
  Samples samples(series);
  find_day_ranges(series, samples);

  Weather weather;
  weather.source = source.name;
  weather.checksum = source.checksum;
  weather.start = format_time(series.first);
  weather.latitude_deg = site.latitude_deg;
  weather.elevation_m = site.elevation_m;
  weather.air_temperature_K = air_temperatures(series, samples, sun);
  weather.rain_kg_m2_h = rain(series, samples);
  if (series.step == SeriesStep::day) {
    weather.estimates.push_back(
        {"hours of the day", "from daily values: temperature by a sine by day and an exponential "
                             "by night, rain in one block of 2 sqrt(mm) hours"});
  }
  std::vector<double> extraterrestrial_W_m2;
  extraterrestrial_W_m2.reserve(samples.count());
  for (std::size_t i = 0; i < samples.count(); ++i) {
    extraterrestrial_W_m2.push_back(sun.extraterrestrial_W_m2(samples.time(i)));
  }
  fill_vapour_pressure(weather, series, samples, site);
  fill_wind(weather, series, samples, site);
  fill_radiation(weather, series, samples, site, sun, extraterrestrial_W_m2);
  fill_sky_temperature(weather, series, samples, sun, extraterrestrial_W_m2);
  fill_soil_temperature(weather, series, samples);
  return weather;
}

} // namespace heapcast::models
