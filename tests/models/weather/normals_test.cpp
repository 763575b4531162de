#include "models/weather/normals.hpp"

#include "engine/errors.hpp"
#include "models/weather/fao56.hpp"
#include "tests/models/weather/weather_helpers.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

namespace {

using namespace heapcast::models;

using heapcast::tests::nan;
using heapcast::tests::site_at;

Months celsius(Months months) {
  for (double& month : months) {
    month += 273.15;
  }
  return months;
}

/// Invented: a mild coast with wet winters.
MonthlyNormals coast() {
  MonthlyNormals normals;
  normals.tmin_K = celsius({2.7, 3.2, 4.0, 6.0, 9.0, 12.0, 14.2, 14.0, 11.0, 7.5, 4.5, 2.5});
  normals.tmax_K = celsius({8.2, 10.0, 12.5, 15.5, 19.0, 22.0, 26.0, 26.0, 21.5, 15.5, 10.5, 8.0});
  normals.rain_kg_m2 = {117, 90, 95, 70, 50, 37, 12, 23, 38, 88, 165, 140};
  normals.wet_days = {17, 14, 16, 14, 11, 9, 3, 4, 7, 13, 18, 17};
  normals.wind_m_s = Months{3.1, 3.4, 3.4, 3.4, 3.1, 3.1, 2.9, 2.8, 2.7, 3.0, 3.1, 3.3};
  normals.humidity = Months{0.8, 0.78, 0.75, 0.71, 0.69, 0.67, 0.65, 0.67, 0.72, 0.79, 0.81, 0.82};
  normals.radiation_W_m2 = Months{37, 70, 120, 180, 230, 255, 265, 225, 165, 90, 45, 30};
  return normals;
}

constexpr int years = 100; // the most that is made at once

GeneratedDays many_years(std::uint64_t seed = 7) {
  return {.first = *parse_date("1901-01-01"), .count = 36524, .seed = seed};
}

/// Mean and standard error of a quantity's means over each year's month.
struct MonthStatistics {
  double mean = 0.0;
  double error = 0.0;
};

MonthStatistics statistics(const WeatherSeries& series, const std::vector<double>& values,
                           unsigned month) {
  std::vector<double> means;
  std::vector<double> sums(years, 0.0);
  std::vector<double> counts(years, 0.0);
  const LocalDays first = std::chrono::floor<std::chrono::days>(series.first);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::chrono::year_month_day date{first + std::chrono::days{i}};
    if (static_cast<unsigned>(date.month()) == month) {
      const auto year = static_cast<std::size_t>(static_cast<int>(date.year()) - 1901);
      sums[year] += values[i];
      counts[year] += 1.0;
    }
  }
  MonthStatistics result;
  for (std::size_t y = 0; y < years; ++y) {
    result.mean += sums[y] / counts[y] / years;
  }
  for (std::size_t y = 0; y < years; ++y) {
    result.error += std::pow(sums[y] / counts[y] - result.mean, 2);
  }
  result.error = std::sqrt(result.error / (years - 1) / years);
  return result;
}

/// Tolerances are four standard errors, which a right generator exceeds once in 16000 cases; the
/// seed is fixed, so the tests do not waver.
constexpr double errors_allowed = 4.0;

TEST(Normals, KeepTheMonthlyMeansOfEveryColumn) {
  const auto normals = coast();
  const auto series = generate_days(normals, site_at(47.5), many_years());
  for (unsigned month = 1; month <= 12; ++month) {
    const auto check = [&](const char* name, const std::vector<double>& values, double normal,
                           double bias) {
      const auto found = statistics(series, values, month);
      EXPECT_NEAR(found.mean, normal, errors_allowed * found.error + bias) << name << " " << month;
    };
    const std::size_t m = month - 1;
    const std::size_t before = (m + 11) % 12;
    const auto days = [](std::size_t k) {
      return std::array{31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0}[k];
    };
    // The chain comes into the month with the wet share of the month before, which persistence r
    // forgets as r^n: over the month r/(1-r) days of the difference in share.
    const double carried =
        normals.rain_persistence / (1.0 - normals.rain_persistence) / days(m) *
        std::abs(normals.wet_days[m] / days(m) - normals.wet_days[before] / days(before));
    const double range_K = normals.tmax_K[m] - normals.tmin_K[m];
    // Wet days have a smaller range, so the carried share moves tmin and tmax by an eighth of it.
    // In narrow ranges the anomaly is held now and then, alike both ways.
    check("tmin", series.tmin_K, normals.tmin_K[m], 0.125 * carried * range_K);
    check("tmax", series.tmax_K, normals.tmax_K[m], 0.125 * carried * range_K);
    const double per_wet_day = normals.rain_kg_m2[m] / normals.wet_days[m];
    check("rain", series.rain_kg_m2, normals.rain_kg_m2[m] / days(m), carried * per_wet_day);
    check("wind", series.wind_m_s, (*normals.wind_m_s)[m], 0.0);
    // A wet day has 0.4 of a dry day's radiation less.
    const double less = 0.4 / (1.0 - 0.4 * normals.wet_days[m] / days(m));
    check("radiation", series.radiation_W_m2, (*normals.radiation_W_m2)[m],
          carried * less * (*normals.radiation_W_m2)[m]);
    std::vector<double> wet(series.size());
    std::transform(series.rain_kg_m2.begin(), series.rain_kg_m2.end(), wet.begin(),
                   [](double rain) { return rain > 0.0 ? 1.0 : 0.0; });
    check("wet days", wet, normals.wet_days[m] / days(m), carried);
  }
}

/// All months alike, so that the year has no course: `wet_share` of days wet, a range of 20 K.
MonthlyNormals even(double wet_share) {
  MonthlyNormals normals;
  normals.tmin_K = celsius({0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0});
  normals.tmax_K = celsius({20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20});
  normals.wet_days = {31, 28.2425, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  for (double& days : normals.wet_days) {
    days *= wet_share;
  }
  normals.rain_kg_m2.fill(60.0);
  return normals;
}

TEST(Normals, KeepThePersistenceOfRain) {
  for (const double persistence : {0.0, 0.25, 0.6}) {
    auto normals = even(0.4);
    normals.rain_persistence = persistence;
    const auto rain = generate_days(normals, site_at(45.0), many_years()).rain_kg_m2;
    double after_wet[2] = {0.0, 0.0};
    double after_dry[2] = {0.0, 0.0};
    for (std::size_t i = 1; i < rain.size(); ++i) {
      auto& count = rain[i - 1] > 0.0 ? after_wet : after_dry;
      count[rain[i] > 0.0 ? 1 : 0] += 1.0;
    }
    const double found =
        after_wet[1] / (after_wet[0] + after_wet[1]) - after_dry[1] / (after_dry[0] + after_dry[1]);
    // Standard error of a lag-1 correlation of n days: sqrt((1 - r^2)/n).
    const double error =
        std::sqrt((1.0 - persistence * persistence) / static_cast<double>(rain.size()));
    EXPECT_NEAR(found, persistence, errors_allowed * error);
  }
}

TEST(Normals, KeepTheScatterAndPersistenceOfTemperature) {
  auto normals = even(0.0);
  normals.rain_kg_m2.fill(0.0);
  const auto series = generate_days(normals, site_at(45.0), many_years());
  const double n = static_cast<double>(series.size());
  double square = 0.0;
  double product = 0.0;
  double before = 0.0;
  for (std::size_t i = 0; i < series.size(); ++i) {
    const double anomaly_K = 0.5 * (series.tmin_K[i] + series.tmax_K[i]) - 283.15;
    square += anomaly_K * anomaly_K;
    product += anomaly_K * before;
    before = anomaly_K;
  }
  const double phi = normals.temperature_persistence;
  EXPECT_NEAR(product / square, phi, errors_allowed * std::sqrt((1.0 - phi * phi) / n));
  // A variance estimated from n values of an autoregressive series has the relative error
  // sqrt(2/n (1 + phi^2)/(1 - phi^2)), its root half of it.
  const double error =
      normals.temperature_sd_K * std::sqrt((1.0 + phi * phi) / (1.0 - phi * phi) / (2.0 * n));
  EXPECT_NEAR(std::sqrt(square / n), normals.temperature_sd_K, errors_allowed * error);
}

/// What 40 seeds leave of a number's deviations, each in its standard error: none above 4.5 (one
/// in 3700 such tests), a mean within four of its own errors, 1/sqrt(40), and a sum of squares
/// within four of a chi-square's, 40 and sqrt(2 40); seeds that were alike would miss it.
void expect_chance(const std::vector<double>& deviations, const char* what) {
  const auto n = static_cast<double>(deviations.size());
  double sum = 0.0;
  double squares = 0.0;
  for (const double z : deviations) {
    EXPECT_LT(std::abs(z), 4.5) << what;
    sum += z;
    squares += z * z;
  }
  EXPECT_LT(std::abs(sum / n), errors_allowed / std::sqrt(n)) << what;
  EXPECT_NEAR(squares, n, errors_allowed * std::sqrt(2.0 * n)) << what;
}

TEST(Normals, OfManySeedsScatterAsChanceSays) {
  constexpr double p = 0.4;
  constexpr int count = 3652;
  const auto normals = even(p);
  const double r = normals.rain_persistence;
  const double phi = normals.temperature_persistence;
  std::vector<double> wet_shares;
  std::vector<double> persistences;
  std::vector<double> means;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto series = generate_days(
        normals, site_at(45.0), {.first = *parse_date("2001-01-01"), .count = count, .seed = seed});
    double wet = 0.0;
    double wet_after_wet = 0.0;
    double mean_K = 0.0;
    for (std::size_t i = 0; i < series.size(); ++i) {
      const bool is_wet = series.rain_kg_m2[i] > 0.0;
      wet += is_wet ? 1.0 : 0.0;
      wet_after_wet += is_wet && i > 0 && series.rain_kg_m2[i - 1] > 0.0 ? 1.0 : 0.0;
      mean_K += 0.5 * (series.tmin_K[i] + series.tmax_K[i]) / count;
    }
    // A mean of n values with the correlation r from one to the next has the variance of n (1 - r)
    // / (1 + r) independent ones; a lag-1 correlation the error sqrt((1 - r^2)/n).
    const double share = wet / count;
    wet_shares.push_back((share - p) / std::sqrt(p * (1.0 - p) / count * (1.0 + r) / (1.0 - r)));
    persistences.push_back(((wet_after_wet / count - share * share) / (share * (1.0 - share)) - r) /
                           std::sqrt((1.0 - r * r) / count));
    means.push_back((mean_K - 283.15) /
                    (normals.temperature_sd_K * std::sqrt((1.0 + phi) / (1.0 - phi) / count)));
  }
  expect_chance(wet_shares, "wet days");
  expect_chance(persistences, "persistence of rain");
  expect_chance(means, "mean temperature");
}

TEST(Normals, GiveWetDaysTheirGammaAmounts) {
  const auto normals = even(0.4);
  const auto rain = generate_days(normals, site_at(45.0), many_years()).rain_kg_m2;
  std::vector<double> relative;
  const LocalDays first = many_years().first;
  for (std::size_t i = 0; i < rain.size(); ++i) {
    if (rain[i] > 0.0) {
      const std::chrono::year_month_day date{first + std::chrono::days{i}};
      const auto month = static_cast<unsigned>(date.month()) - 1;
      relative.push_back(rain[i] * normals.wet_days[month] / normals.rain_kg_m2[month]);
    }
  }
  const double n = static_cast<double>(relative.size());
  const double mean = std::accumulate(relative.begin(), relative.end(), 0.0) / n;
  double variance = 0.0;
  for (const double amount : relative) {
    variance += (amount - mean) * (amount - mean) / n;
  }
  // Gamma of mean 1 and shape a: variance 1/a, kurtosis 3 + 6/a.
  const double a = normals.rain_shape;
  EXPECT_NEAR(mean, 1.0, errors_allowed * std::sqrt(1.0 / a / n));
  EXPECT_NEAR(variance, 1.0 / a, errors_allowed / a * std::sqrt((2.0 + 6.0 / a) / n));
}

TEST(Normals, MakeDaysThatTouchTheDayBefore) {
  auto normals = coast();
  normals.temperature_sd_K = 8.0;
  const auto series = generate_days(normals, site_at(47.5), many_years());
  for (std::size_t i = 1; i < series.size(); ++i) {
    ASSERT_LT(series.tmin_K[i], series.tmax_K[i]);
    // Sums of two halves in another order: a few ulp of 300 K.
    ASSERT_GE(series.tmax_K[i], series.tmin_K[i - 1] - 1e-12) << i;
    ASSERT_LE(series.tmin_K[i], series.tmax_K[i - 1] + 1e-12) << i;
  }
}

TEST(Normals, AreRepeatedBySeedAndChangedByAnother) {
  const GeneratedDays days{.first = *parse_date("2024-02-01"), .count = 60, .seed = 11};
  const auto first = weather_from_normals(coast(), site_at(47.5), days);
  const auto again = weather_from_normals(coast(), site_at(47.5), days);
  EXPECT_EQ(first.air_temperature_K, again.air_temperature_K);
  EXPECT_EQ(first.rain_kg_m2_h, again.rain_kg_m2_h);
  EXPECT_EQ(first.checksum, again.checksum);
  auto other_days = days;
  other_days.seed = 12;
  const auto other = weather_from_normals(coast(), site_at(47.5), other_days);
  EXPECT_NE(first.air_temperature_K, other.air_temperature_K);
  EXPECT_NE(first.checksum, other.checksum);
}

TEST(Normals, MakeWeatherFromAnyDayOverALeapDay) {
  const auto weather = weather_from_normals(
      coast(), site_at(47.5), {.first = *parse_date("2024-02-27"), .count = 4, .seed = 1});
  EXPECT_EQ(weather.start, "2024-02-27T00:00");
  EXPECT_EQ(weather.size(), 4U * 24U + 1U);
  EXPECT_EQ(hours_from_start(weather, "2024-03-01"), 72.0);
  EXPECT_EQ(weather.source, "monthly normals");
  EXPECT_EQ(weather.estimates.front().column, "days");
}

TEST(Normals, KnowTheSouthernSummer) {
  auto normals = even(0.3);
  const auto weather = weather_from_normals(
      normals, site_at(-35.0), {.first = *parse_date("2023-01-01"), .count = 365, .seed = 1});
  const auto month_mean = [&](const char* first) {
    const auto start = weather.global_radiation_W_m2.begin() +
                       static_cast<std::ptrdiff_t>(hours_from_start(weather, first));
    return std::accumulate(start, start + 744, 0.0) / 744.0;
  };
  EXPECT_GT(month_mean("2023-01-01"), 1.5 * month_mean("2023-07-01"));
}

/// Invented: an island in the polar sea.
MonthlyNormals island() {
  MonthlyNormals normals;
  normals.tmin_K = celsius({-18, -19, -19, -15, -6, 0, 3, 2, -2, -8, -13, -16});
  normals.tmax_K = celsius({-10, -11, -11, -7, -1, 4, 8, 6, 2, -3, -7, -9});
  normals.rain_kg_m2 = {20, 18, 20, 12, 12, 15, 22, 28, 25, 20, 20, 20};
  normals.wet_days = {9, 9, 9, 6, 6, 6, 8, 9, 9, 9, 9, 9};
  return normals;
}

TEST(Normals, MakeAPolarYear) {
  const Site site = site_at(78.0);
  const auto weather = weather_from_normals(
      island(), site, {.first = *parse_date("2024-01-01"), .count = 366, .seed = 2});
  const SiteSun sun(site);
  for (const auto* column :
       {&weather.air_temperature_K, &weather.vapour_pressure_Pa, &weather.wind_m_s,
        &weather.global_radiation_W_m2, &weather.sky_temperature_K, &weather.rain_kg_m2_h,
        &weather.soil_temperature_K}) {
    ASSERT_EQ(column->size(), 366U * 24U + 1U);
    ASSERT_TRUE(std::all_of(column->begin(), column->end(),
                            [](double value) { return std::isfinite(value) && value >= 0.0; }));
  }
  const auto radiation = [&](const char* date) {
    const auto start = weather.global_radiation_W_m2.begin() +
                       static_cast<std::ptrdiff_t>(hours_from_start(weather, date));
    const auto [low, high] = std::minmax_element(start, start + 24);
    return std::pair(*low, *high);
  };
  // The sun stands above the horizon while the declination is above 90 - 78 = 12 degrees, day 112
  // to 233, and below it all day when it is under -12, day 295 to 48 (FAO-56 eq. 24 and 25).
  for (const char* night : {"2024-01-15", "2024-11-05", "2024-12-21"}) {
    EXPECT_EQ(radiation(night).second, 0.0) << night;
    EXPECT_EQ(sun.daylight_h(*parse_date(night)), 0.0) << night;
    EXPECT_EQ(sun.extraterrestrial_W_m2(*parse_date(night)), 0.0) << night;
  }
  for (const char* day : {"2024-05-05", "2024-06-21", "2024-08-05"}) {
    EXPECT_GT(radiation(day).first, 0.0) << day;
    EXPECT_EQ(sun.daylight_h(*parse_date(day)), 24.0) << day;
  }
  for (const char* both : {"2024-03-20", "2024-09-20"}) {
    EXPECT_EQ(radiation(both).first, 0.0) << both;
    EXPECT_GT(radiation(both).second, 0.0) << both;
    EXPECT_NEAR(sun.daylight_h(*parse_date(both)), 12.0, 1.0) << both;
  }
}

TEST(Normals, AtThePolesHaveHalfAYearOfSun) {
  for (const double latitude_deg : {90.0, -90.0}) {
    const auto weather =
        weather_from_normals(island(), site_at(latitude_deg),
                             {.first = *parse_date("2023-01-01"), .count = 365, .seed = 2});
    const auto& radiation = weather.global_radiation_W_m2;
    ASSERT_TRUE(std::all_of(radiation.begin(), radiation.end(),
                            [](double value) { return std::isfinite(value) && value >= 0.0; }));
    // Equinoxes of eq. 24: days 80.7 and 263.2, so 182 or 183 days of sun.
    const auto lit =
        std::count_if(radiation.begin(), radiation.end(), [](double value) { return value > 0.0; });
    EXPECT_NEAR(static_cast<double>(lit) / 24.0, 182.5, 1.5) << latitude_deg;
    EXPECT_EQ(radiation[12] > 0.0, latitude_deg < 0.0);
  }
}

TEST(Normals, OfTheSouthAreHottestInJanuaryAndTheSoilAfterIt) {
  auto normals = coast();
  for (Months* months : {&normals.tmin_K, &normals.tmax_K}) {
    std::rotate(months->begin(), months->begin() + 6, months->end());
  }
  normals.temperature_sd_K = 0.0;
  normals.radiation_W_m2.reset();
  const auto weather = weather_from_normals(
      normals, site_at(-47.5), {.first = *parse_date("2022-07-01"), .count = 366, .seed = 4});
  const auto hottest = [&](const std::vector<double>& hourly) {
    std::size_t best = 0;
    double best_sum = 0.0;
    for (std::size_t day = 0; day + 30 <= 366; ++day) {
      const auto from = hourly.begin() + static_cast<std::ptrdiff_t>(24 * day);
      const double sum = std::accumulate(from, from + 720, 0.0);
      if (sum > best_sum) {
        best_sum = sum;
        best = day + 15;
      }
    }
    return static_cast<double>(best);
  };
  // Of January and February, equally hot, the middle is 1 February, day 215 from 1 July. The wave
  // of the monthly means is hottest earlier, for December is warmer than March; the soil follows it
  // by 13.2 days, and months are no twelfths of the year, which moves it by 1.3 days at most, and
  // a whole day is found.
  EXPECT_NEAR(hottest(weather.air_temperature_K), 215.0, 15.0);
  Months mean_K{};
  for (std::size_t m = 0; m < 12; ++m) {
    mean_K[m] = 0.5 * (normals.tmin_K[m] + normals.tmax_K[m]);
  }
  const auto first_d =
      static_cast<double>((*parse_date("2022-07-01") - *parse_date("2000-01-01")).count());
  EXPECT_NEAR(
      std::fmod(wave_of_months(mean_K).hottest_d + 13.2 - first_d + 100 * 365.2425, 365.2425),
      hottest(weather.soil_temperature_K), 2.5);
}

TEST(Normals, StartTheSoilInStepWithTheYear) {
  const auto spring = weather_from_normals(
      coast(), site_at(47.5), {.first = *parse_date("2023-04-01"), .count = 30, .seed = 5});
  const auto autumn = weather_from_normals(
      coast(), site_at(47.5), {.first = *parse_date("2023-10-15"), .count = 30, .seed = 5});
  const auto mean = [](const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
  };
  EXPECT_LT(spring.soil_temperature_K[0], mean(spring.air_temperature_K));
  EXPECT_GT(autumn.soil_temperature_K[0], mean(autumn.air_temperature_K));
}

TEST(Normals, EstimateWhatTheyDoNotKnow) {
  const auto weather = weather_from_normals(
      even(0.3), site_at(45.0), {.first = *parse_date("2023-04-01"), .count = 2, .seed = 1});
  EXPECT_EQ(weather.wind_m_s[0], 2.0);
  std::string columns;
  for (const auto& estimate : weather.estimates) {
    columns += estimate.column + " ";
  }
  EXPECT_THAT(columns, testing::HasSubstr("humidity wind radiation"));
}

TEST(Normals, TakeVapourPressureBeforeHumidity) {
  auto normals = even(0.0);
  normals.rain_kg_m2.fill(0.0);
  normals.humidity = Months{};
  normals.vapour_pressure_Pa = Months{};
  normals.vapour_pressure_Pa->fill(
      500.0 * fao56::mean_saturation_pressure_kPa({.tmin_C = 0.0, .tmax_C = 20.0}));
  const auto series = generate_days(normals, site_at(45.0),
                                    {.first = *parse_date("2023-04-01"), .count = 3, .seed = 1});
  // 0.5 of the saturation at the normals' temperatures, through kelvin and back.
  EXPECT_NEAR(series.humidity[2], 0.5, 1e-12);
}

TEST(Normals, ADryMonthStaysDryAndAWetOneWet) {
  auto normals = even(1.0);
  for (std::size_t month = 6; month < 12; ++month) {
    normals.rain_kg_m2[month] = 0.0;
  }
  const auto series = generate_days(normals, site_at(45.0), many_years());
  for (std::size_t i = 0; i < series.size(); ++i) {
    const std::chrono::year_month_day date{many_years().first + std::chrono::days{i}};
    if (date.month() == std::chrono::January) {
      continue; // its first days may still persist in December's dryness
    }
    ASSERT_EQ(series.rain_kg_m2[i] > 0.0, date.month() < std::chrono::July) << i;
  }
}

TEST(Normals, NameEveryFaultWithItsMonth) {
  auto normals = coast();
  normals.tmin_K[0] = 273.15 + 9.0; // above tmax 8.2
  normals.rain_kg_m2[1] = -1.0;
  normals.wet_days[2] = 32.0;
  normals.wet_days[3] = 0.0;
  (*normals.wind_m_s)[4] = nan;
  (*normals.humidity)[5] = 1.2;
  (*normals.radiation_W_m2)[6] = 600.0;
  normals.tmax_K[7] = nan;
  normals.rain_persistence = 1.0;
  normals.rain_shape = 0.0;
  normals.temperature_persistence = nan;
  normals.temperature_sd_K = -1.0;
  try {
    check_normals(normals, site_at(47.5), "pile.toml:12");
    FAIL();
  } catch (const heapcast::InputError& error) {
    EXPECT_EQ(error.faults().size(), 12U);
    for (const char* part : {"tmax of January is 8.2 degC - write 9 to 60 degC", "rain of February",
                             "wet days of March is 32 days - write 0 to 31 days",
                             "April has 70 mm of rain on 0 wet days", "wind of May is nan m/s",
                             "humidity of June is 120 %", "radiation of July", "tmax of August"}) {
      EXPECT_THAT(error.what(), testing::HasSubstr(part));
    }
  }
  EXPECT_THROW(static_cast<void>(generate_days(coast(), site_at(47.5), {.first = {}, .count = 0})),
               heapcast::InputError);
}

} // namespace
