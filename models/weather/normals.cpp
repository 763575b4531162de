#include "models/weather/normals.hpp"

#include "engine/errors.hpp"
#include "models/properties/moist_air.hpp"
#include "models/weather/checksum.hpp"
#include "models/weather/fao56.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace heapcast::models {

namespace {

constexpr double wet_range_ratio = 0.75;
constexpr double range_scatter = 0.3;
constexpr double wind_variation = 0.4;
constexpr double wet_radiation_ratio = 0.6;
constexpr int most_days = 36525;
constexpr int warm_up_days = 365;

/// Random numbers whose every step is written here: the standard library's distributions differ
/// between implementations.
class Random {
public:
  explicit Random(std::uint64_t seed) : bits_(seed) {}

  /// Uniform, above 0 and below 1.
  double uniform() {
    constexpr double steps = 0x1p-53;
    return (static_cast<double>(bits_() >> 11U) + 0.5) * steps;
  }

  /// Standard normal (Box & Muller 1958).
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(uniform()));
    return radius * std::cos(2.0 * std::numbers::pi * uniform());
  }

  /// Gamma with mean 1 (Marsaglia & Tsang 2000, ACM Trans. Math. Softw. 26:363-372).
  double gamma(double shape) {
    const double boosted = shape < 1.0 ? shape + 1.0 : shape;
    const double boost = shape < 1.0 ? std::pow(uniform(), 1.0 / shape) : 1.0;
    const double d = boosted - 1.0 / 3.0;
    for (;;) {
      const double x = normal();
      const double root = 1.0 + x / std::sqrt(9.0 * d);
      const double v = root * root * root;
      if (v > 0.0 && std::log(uniform()) < 0.5 * x * x + d - d * v + d * std::log(v)) {
        return d * v * boost / shape;
      }
    }
  }

private:
  std::mt19937_64 bits_;
};

std::size_t month_index(LocalDays date) {
  return static_cast<unsigned>(std::chrono::year_month_day{date}.month()) - 1;
}

double days_in_month(std::chrono::year_month month) {
  const std::chrono::year_month_day_last last = month / std::chrono::last;
  return static_cast<double>(static_cast<unsigned>(last.day()));
}

/// Mean length of a month over leap and other years.
double mean_days_in_month(std::size_t month) {
  constexpr Months days{31, 28.2425, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return days[month];
}

/// A date's place between the middle of its month and that of the nearer neighbour.
struct PlaceInYear {
  std::size_t month = 0;
  std::size_t neighbour = 0;
  double share = 0.0; ///< 0 at the middle of the month, 1 at the neighbour's
};

PlaceInYear place_in_year(LocalDays date) {
  const std::chrono::year_month_day civil{date};
  const std::chrono::year_month month{civil.year(), civil.month()};
  const double middle = 0.5 * days_in_month(month);
  const double passed = static_cast<unsigned>(civil.day()) - 0.5 - middle;
  const std::chrono::year_month neighbour = month + std::chrono::months{passed < 0.0 ? -1 : 1};
  return {.month = static_cast<unsigned>(month.month()) - 1,
          .neighbour = static_cast<unsigned>(neighbour.month()) - 1,
          .share = std::abs(passed) / (middle + 0.5 * days_in_month(neighbour))};
}

/// A course through the year, linear between values at mid-month.
double at_place(const Months& mid_month, const PlaceInYear& place) {
  return std::lerp(mid_month[place.month], mid_month[place.neighbour], place.share);
}

/// Mid-month values of the course whose mean over each month is the normal.
Months mean_keeping(const Months& normals) {
  // means[m] = sum over k of weights[m][k] mid_month[k], over the days of a year that is no leap
  // year
  std::array<Months, 12> weights{};
  for (int day = 0; day < 365; ++day) {
    const LocalDays date = LocalDays{std::chrono::year{2001} / 1 / 1} + std::chrono::days{day};
    const auto place = place_in_year(date);
    const std::chrono::year_month_day civil{date};
    const double day_weight = 1.0 / days_in_month({civil.year(), civil.month()});
    weights[place.month][place.month] += day_weight * (1.0 - place.share);
    weights[place.month][place.neighbour] += day_weight * place.share;
  }
  // Each correction leaves at most half of what was wrong: three quarters of a month's mean are its
  // own mid-month value.
  Months mid_month = normals;
  for (int pass = 0; pass < 60; ++pass) {
    Months wrong = normals;
    for (std::size_t m = 0; m < 12; ++m) {
      for (std::size_t k = 0; k < 12; ++k) {
        wrong[m] -= weights[m][k] * mid_month[k];
      }
    }
    for (std::size_t m = 0; m < 12; ++m) {
      mid_month[m] += wrong[m];
    }
  }
  return mid_month;
}

/// The month's mean extraterrestrial radiation, W/m2.
double extraterrestrial_W_m2(const SiteSun& sun, std::size_t month) {
  const std::chrono::year_month first{std::chrono::year{2001},
                                      std::chrono::month{static_cast<unsigned>(month) + 1}};
  const int count = static_cast<int>(days_in_month(first));
  double sum = 0.0;
  for (int day = 0; day < count; ++day) {
    sum += sun.extraterrestrial_W_m2(LocalDays{first / 1} + std::chrono::days{day});
  }
  return sum / count;
}

double saturation_Pa(double temperature_K) {
  return 1000.0 * fao56::saturation_pressure_kPa(temperature_K - freezing_K);
}

double mean_saturation_Pa(double tmin_K, double tmax_K) {
  return 0.5 * (saturation_Pa(tmin_K) + saturation_Pa(tmax_K));
}

double wet_share(const MonthlyNormals& normals, std::size_t month) {
  return normals.rain_kg_m2[month] > 0.0
             ? std::min(normals.wet_days[month] / mean_days_in_month(month), 1.0)
             : 0.0;
}

/// A dry and a wet day's value with the given mean over both.
struct DryWet {
  double dry = 0.0;
  double wet = 0.0;
  [[nodiscard]] double of(bool is_wet) const { return is_wet ? wet : dry; }
};

/// Shares of the extraterrestrial radiation on dry and wet days whose mean is the normal.
DryWet radiation_shares(double mean_share, double wet_days_share, double clear_share) {
  if (wet_days_share <= 0.0 || wet_days_share >= 1.0) {
    return {.dry = mean_share, .wet = mean_share};
  }
  const double free = mean_share / (1.0 - wet_days_share * (1.0 - wet_radiation_ratio));
  const double dry = std::min(free, std::max(clear_share, mean_share));
  return {.dry = dry, .wet = (mean_share - (1.0 - wet_days_share) * dry) / wet_days_share};
}

/// What the generator needs of a month.
struct Month {
  double wet_share = 0.0;
  double rain_per_wet_day_kg_m2 = 0.0;
  double humidity = 0.0;
  DryWet radiation_share;
};

std::array<Month, 12> months_of(const MonthlyNormals& normals, const SiteSun& sun) {
  std::array<Month, 12> months;
  for (std::size_t m = 0; m < 12; ++m) {
    Month& month = months[m];
    month.wet_share = wet_share(normals, m);
    month.rain_per_wet_day_kg_m2 =
        month.wet_share > 0.0 ? normals.rain_kg_m2[m] / (month.wet_share * mean_days_in_month(m))
                              : 0.0;
    if (normals.vapour_pressure_Pa) {
      month.humidity = std::min((*normals.vapour_pressure_Pa)[m] /
                                    mean_saturation_Pa(normals.tmin_K[m], normals.tmax_K[m]),
                                1.0);
    } else if (normals.humidity) {
      month.humidity = (*normals.humidity)[m];
    }
    if (normals.radiation_W_m2) {
      const double above_W_m2 = extraterrestrial_W_m2(sun, m);
      const double share = above_W_m2 > 0.0 ? (*normals.radiation_W_m2)[m] / above_W_m2 : 0.0;
      month.radiation_share = radiation_shares(share, month.wet_share, sun.clear_sky_share());
    }
  }
  return months;
}

} // namespace

void check_normals(const MonthlyNormals& normals, const Site& site, const std::string& where) {
  check_site(site, where);
  static constexpr std::array<const char*, 12> names{
      "January", "February", "March",     "April",   "May",      "June",
      "July",    "August",   "September", "October", "November", "December"};
  const SiteSun sun(site);
  std::vector<Fault> faults;
  const auto check = [&](const std::string& what, double value, double low, double high,
                         const char* unit) {
    if (!(value >= low && value <= high)) {
      faults.push_back({where, fmt::format("{} is {:.6g} {}", what, value, unit),
                        fmt::format("write {:.4g} to {:.4g} {}", low, high, unit)});
    }
  };
  for (std::size_t m = 0; m < 12; ++m) {
    const std::string of = std::string(" of ") + names[m];
    const double tmin_C = normals.tmin_K[m] - freezing_K;
    check("tmin" + of, tmin_C, -90, 60, "degC");
    check("tmax" + of, normals.tmax_K[m] - freezing_K, std::max(tmin_C, -90.0), 60, "degC");
    check("rain" + of, normals.rain_kg_m2[m], 0, 5000, "mm");
    check("wet days" + of, normals.wet_days[m], 0, std::ceil(mean_days_in_month(m)), "days");
    if (normals.rain_kg_m2[m] > 0.0 && normals.wet_days[m] == 0.0) {
      faults.push_back(
          {where,
           fmt::format("{} has {:.4g} mm of rain on 0 wet days", names[m], normals.rain_kg_m2[m]),
           "write how many days it falls on, 0.2 for one day in five years"});
    }
    if (normals.wind_m_s) {
      check("wind" + of, (*normals.wind_m_s)[m], 0, 60, "m/s");
    }
    if (normals.humidity) {
      check("humidity" + of, 100.0 * (*normals.humidity)[m], 0, 100, "%");
    }
    if (normals.vapour_pressure_Pa) {
      check("vapour pressure" + of, (*normals.vapour_pressure_Pa)[m] / 1000.0, 0, 20, "kPa");
    }
    if (normals.radiation_W_m2) {
      check("radiation" + of, (*normals.radiation_W_m2)[m], 0, extraterrestrial_W_m2(sun, m),
            "W/m2");
    }
  }
  check("persistence of rain", normals.rain_persistence, 0, 0.95, "");
  check("shape of wet-day amounts", normals.rain_shape, 0.2, 20, "");
  check("persistence of temperature", normals.temperature_persistence, 0, 0.98, "");
  check("standard deviation of temperature", normals.temperature_sd_K, 0, 10, "K");
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
}

WeatherSeries generate_days(const MonthlyNormals& normals, const Site& site,
                            const GeneratedDays& days) {
  check_normals(normals, site, "monthly normals");
  if (!(days.count >= 1 && days.count <= most_days + warm_up_days)) {
    throw InputError("monthly normals", fmt::format("{} days are asked for", days.count),
                     fmt::format("ask for 1 to {} days", most_days));
  }
  const SiteSun sun(site);
  const auto months = months_of(normals, sun);
  const Months tmin_K = mean_keeping(normals.tmin_K);
  const Months tmax_K = mean_keeping(normals.tmax_K);
  const double r = normals.rain_persistence;
  const double phi = normals.temperature_persistence;
  const double innovation_K = normals.temperature_sd_K * std::sqrt(1.0 - phi * phi);
  const double wind_shape = 1.0 / (wind_variation * wind_variation);

  Random random(days.seed);
  WeatherSeries series;
  series.step = SeriesStep::day;
  series.first = days.first;
  bool wet = random.uniform() < months[month_index(days.first)].wet_share;
  double anomaly_K = normals.temperature_sd_K * random.normal();
  double mean_before_K = 0.0;
  double half_range_before_K = 0.0;
  for (int i = 0; i < days.count; ++i) {
    const LocalDays date = days.first + std::chrono::days{i};
    const Month& month = months[month_index(date)];
    const double p = month.wet_share;
    wet = random.uniform() < (wet ? p + r * (1.0 - p) : p * (1.0 - r));
    anomaly_K = phi * anomaly_K + innovation_K * random.normal();
    // Drawn every day, wet or not, so that one normal changed leaves the other columns' days alone.
    const double amount = month.rain_per_wet_day_kg_m2 * random.gamma(normals.rain_shape);
    const double scatter = std::clamp(range_scatter * random.normal(), -0.9, 0.9);
    const double wind_factor = random.gamma(wind_shape);

    const auto place = place_in_year(date);
    const double low_K = at_place(tmin_K, place);
    const double high_K = at_place(tmax_K, place);
    const double dry_range_K = std::max(high_K - low_K, 0.0) / (1.0 - p * (1.0 - wet_range_ratio));
    const double half_range_K = 0.5 * dry_range_K * (wet ? wet_range_ratio : 1.0) * (1.0 + scatter);
    const double course_K = 0.5 * (low_K + high_K);
    if (i > 0) {
      const double reach_K = half_range_before_K + half_range_K;
      anomaly_K = std::clamp(anomaly_K, mean_before_K - reach_K - course_K,
                             mean_before_K + reach_K - course_K);
    }
    const double mean_K = course_K + anomaly_K;
    mean_before_K = mean_K;
    half_range_before_K = half_range_K;
    series.tmin_K.push_back(mean_K - half_range_K);
    series.tmax_K.push_back(mean_K + half_range_K);
    series.rain_kg_m2.push_back(wet ? amount : 0.0);
    if (normals.wind_m_s) {
      series.wind_m_s.push_back((*normals.wind_m_s)[month_index(date)] * wind_factor);
    }
    if (normals.humidity || normals.vapour_pressure_Pa) {
      series.humidity.push_back(month.humidity);
    }
    if (normals.radiation_W_m2) {
      series.radiation_W_m2.push_back(month.radiation_share.of(wet) *
                                      sun.extraterrestrial_W_m2(date));
    }
  }
  return series;
}

Weather weather_from_normals(const MonthlyNormals& normals, const Site& site,
                             const GeneratedDays& days) {
  GeneratedDays with_year_before = days;
  with_year_before.first -= std::chrono::days{warm_up_days};
  with_year_before.count += warm_up_days;
  const WeatherSeries series = generate_days(normals, site, with_year_before);

  std::string text = format_date(with_year_before.first);
  for (const auto* column : {&series.tmin_K, &series.tmax_K, &series.rain_kg_m2, &series.wind_m_s,
                             &series.humidity, &series.radiation_W_m2}) {
    for (const double value : *column) {
      text += fmt::format(" {}", value);
    }
  }
  Weather weather =
      complete_weather(series, site, {.name = "monthly normals", .checksum = fnv1a64_hex(text)});
  weather.estimates.insert(
      weather.estimates.begin(),
      {"days", fmt::format("made from monthly normals with seed {}", days.seed)});
  constexpr std::size_t hours_before = std::size_t{24} * warm_up_days;
  return slice_weather(weather, {.first = hours_before, .count = weather.size() - hours_before});
}

} // namespace heapcast::models
