#include "models/weather/complete.hpp"

#include "engine/errors.hpp"
#include "models/weather/fao56.hpp"
#include "tests/models/weather/weather_helpers.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <string>

namespace {

using namespace heapcast::models;

using heapcast::tests::estimate;
using heapcast::tests::nan;
using heapcast::tests::site_at;

double saturation_Pa(double temperature_K) {
  return 1000.0 * fao56::saturation_pressure_kPa(temperature_K - 273.15);
}

/// `count` equal days from 1 April 2023 with 5..15 degC and no rain.
WeatherSeries spring_days(std::size_t count) {
  WeatherSeries series;
  series.step = SeriesStep::day;
  series.first = *parse_time("2023-04-01");
  series.tmin_K.assign(count, 278.15);
  series.tmax_K.assign(count, 288.15);
  series.rain_kg_m2.assign(count, 0.0);
  return series;
}

/// `count` hours from 1 April 2023, 00:00, with 10 degC and no rain.
WeatherSeries mild_hours(std::size_t count) {
  WeatherSeries series;
  series.step = SeriesStep::hour;
  series.first = *parse_time("2023-04-01");
  series.temperature_K.assign(count, 283.15);
  series.rain_kg_m2.assign(count, 0.0);
  return series;
}

Weather complete(const WeatherSeries& series, const Site& site = site_at(45.0)) {
  return complete_weather(series, site, {.name = "test", .checksum = "0"});
}

double day_mean(const std::vector<double>& hourly, std::size_t day) {
  const auto first = hourly.begin() + static_cast<std::ptrdiff_t>(24 * day);
  return std::accumulate(first, first + 24, 0.0) / 24.0;
}

TEST(CompleteWeather, FillsEveryColumnOfDaysAndTheirEnd) {
  const auto weather = complete(spring_days(3));
  EXPECT_EQ(weather.start, "2023-04-01T00:00");
  EXPECT_EQ(weather.size(), 73U);
  for (const auto* column :
       {&weather.vapour_pressure_Pa, &weather.wind_m_s, &weather.global_radiation_W_m2,
        &weather.sky_temperature_K, &weather.rain_kg_m2_h, &weather.soil_temperature_K}) {
    ASSERT_EQ(column->size(), weather.size());
    EXPECT_TRUE(std::all_of(column->begin(), column->end(),
                            [](double value) { return std::isfinite(value) && value >= 0.0; }));
  }
}

TEST(CompleteWeather, KeepsHourlyRowsAsTheyAre) {
  auto series = mild_hours(30);
  series.first = *parse_time("2023-04-01T17:00");
  series.rain_kg_m2[3] = 1.5;
  series.radiation_W_m2.assign(30, 0.0);
  series.radiation_W_m2[18] = 432.0;
  series.radiation_W_m2[2] = -3.0; // a pyranometer at night
  const auto weather = complete(series);
  EXPECT_EQ(weather.start, "2023-04-01T17:00");
  EXPECT_EQ(weather.size(), 30U);
  EXPECT_EQ(weather.air_temperature_K, series.temperature_K);
  EXPECT_EQ(weather.rain_kg_m2_h, series.rain_kg_m2);
  EXPECT_EQ(weather.global_radiation_W_m2[18], 432.0);
  EXPECT_EQ(weather.global_radiation_W_m2[2], 0.0);
}

TEST(CompleteWeather, NamesTheEquationOfEveryEstimate) {
  const auto weather = complete(spring_days(2));
  EXPECT_NE(estimate(weather, "humidity").find("eq. 48"), std::string::npos);
  EXPECT_NE(estimate(weather, "radiation").find("eq. 50, coefficient 0.16"), std::string::npos);
  EXPECT_NE(estimate(weather, "wind").find("2 m/s"), std::string::npos);
  EXPECT_NE(estimate(weather, "sky temperature").find("Swinbank"), std::string::npos);
  EXPECT_NE(estimate(weather, "soil temperature"), "");
  EXPECT_NE(estimate(weather, "hours of the day"), "");
}

TEST(CompleteWeather, DoesNotCallKnownColumnsEstimates) {
  auto series = mild_hours(24);
  series.humidity.assign(24, 0.5);
  series.wind_m_s.assign(24, 3.0);
  series.radiation_W_m2.assign(24, 100.0);
  series.sky_infrared_W_m2.assign(24, 300.0);
  auto site = site_at(45.0);
  site.wind_height_m = 2.0;
  const auto weather = complete(series, site);
  ASSERT_EQ(weather.estimates.size(), 1U);
  EXPECT_EQ(weather.estimates[0].column, "soil temperature");
  EXPECT_EQ(weather.wind_m_s[7], 3.0);
}

TEST(VapourPressure, WithoutHumidityIsSaturationAtTheDaysLowest) {
  const auto weather = complete(spring_days(2));
  for (const double pressure_Pa : weather.vapour_pressure_Pa) {
    EXPECT_DOUBLE_EQ(pressure_Pa, saturation_Pa(278.15));
  }
}

TEST(VapourPressure, NeverExceedsSaturationAtTheHour) {
  auto series = spring_days(2);
  series.humidity.assign(2, 0.95);
  const auto weather = complete(series);
  const double day_Pa = 0.95 * 0.5 * (saturation_Pa(278.15) + saturation_Pa(288.15));
  for (std::size_t i = 0; i < weather.size(); ++i) {
    EXPECT_DOUBLE_EQ(weather.vapour_pressure_Pa[i],
                     std::min(day_Pa, saturation_Pa(weather.air_temperature_K[i])));
  }
}

TEST(VapourPressure, ComesFromTheFirstKnownOfItsSources) {
  auto series = mild_hours(3);
  series.wet_bulb_K.assign(3, 283.15); // saturated air
  EXPECT_DOUBLE_EQ(complete(series).vapour_pressure_Pa[0], saturation_Pa(283.15));
  series.humidity.assign(3, 0.6);
  EXPECT_DOUBLE_EQ(complete(series).vapour_pressure_Pa[0], 0.6 * saturation_Pa(283.15));
  series.dew_point_K.assign(3, 275.15);
  EXPECT_DOUBLE_EQ(complete(series).vapour_pressure_Pa[0], saturation_Pa(275.15));
  series.vapour_pressure_Pa.assign(3, 500.0);
  EXPECT_DOUBLE_EQ(complete(series).vapour_pressure_Pa[0], 500.0);

  auto days = spring_days(1);
  days.humidity_min.assign(1, 0.4);
  days.humidity_max.assign(1, 0.9);
  EXPECT_DOUBLE_EQ(complete(days).vapour_pressure_Pa[14],
                   0.5 * (0.9 * saturation_Pa(278.15) + 0.4 * saturation_Pa(288.15)));
}

TEST(VapourPressure, FromTheWetBulbFollowsThePressureGiven) {
  auto series = mild_hours(1);
  series.wet_bulb_K.assign(1, 281.15);
  series.air_pressure_Pa.assign(1, 90000.0);
  // FAO-56 eq. 15: e(8 degC) - 0.000662 * 90 kPa * 2 K.
  EXPECT_DOUBLE_EQ(complete(series).vapour_pressure_Pa[0],
                   1000.0 * (fao56::saturation_pressure_kPa(8.0) - 0.000662 * 90.0 * 2.0));
}

TEST(VapourPressure, OfHoursWithoutHumidityTakesEachCalendarDaysLowest) {
  auto series = mild_hours(48);
  series.temperature_K[5] = 273.15;
  const auto weather = complete(series);
  EXPECT_DOUBLE_EQ(weather.vapour_pressure_Pa[20], saturation_Pa(273.15));
  EXPECT_DOUBLE_EQ(weather.vapour_pressure_Pa[24], saturation_Pa(283.15));
}

TEST(VapourPressure, OfAPartOfADayLooksAtWholeDaysHours) {
  // From 17:00: the first calendar day has 7 hours and takes the first 24, the last one the
  // last 24.
  auto series = mild_hours(40);
  series.first = *parse_time("2023-04-01T17:00");
  series.temperature_K[12] = 274.15;
  const auto weather = complete(series);
  EXPECT_DOUBLE_EQ(weather.vapour_pressure_Pa[0], saturation_Pa(274.15));
}

TEST(Wind, IsBroughtTo2mAndConstantOverTheDay) {
  auto series = spring_days(2);
  series.wind_m_s = {3.2, 6.4};
  const auto weather = complete(series);
  const double factor = fao56::wind_at_2m_m_s({.speed_m_s = 1.0, .height_m = 10.0});
  EXPECT_DOUBLE_EQ(weather.wind_m_s[0], factor * 3.2);
  EXPECT_DOUBLE_EQ(weather.wind_m_s[23], factor * 3.2);
  EXPECT_DOUBLE_EQ(weather.wind_m_s[24], factor * 6.4);
  EXPECT_NE(estimate(weather, "wind at 2 m").find("at 10 m (FAO-56 eq. 47)"), std::string::npos);
}

TEST(Radiation, KeepsTheDaysSumAndTheShapeOfTheSun) {
  auto series = spring_days(2);
  series.radiation_W_m2 = {200.0, 50.0};
  const auto weather = complete(series);
  const SiteSun sun(site_at(45.0));
  for (std::size_t d = 0; d < 2; ++d) {
    // 24 products and a sum: a few ulp of 200.
    EXPECT_NEAR(day_mean(weather.global_radiation_W_m2, d), series.radiation_W_m2[d], 1e-12);
    const double noon = weather.global_radiation_W_m2[24 * d + 12];
    const double morning = weather.global_radiation_W_m2[24 * d + 8];
    const auto time = [&](int h) { return series.first + std::chrono::hours{24 * d + h}; };
    EXPECT_DOUBLE_EQ(morning / noon,
                     sun.extraterrestrial_W_m2(time(8)) / sun.extraterrestrial_W_m2(time(12)));
    EXPECT_EQ(weather.global_radiation_W_m2[24 * d + 1], 0.0);
  }
}

TEST(Radiation, IsSymmetricAboutNoonWithoutALongitude) {
  const auto weather = complete(spring_days(1));
  for (std::size_t h = 1; h < 12; ++h) {
    // Sines of opposite angles; only rounding differs.
    EXPECT_NEAR(weather.global_radiation_W_m2[12 - h], weather.global_radiation_W_m2[12 + h], 1e-9);
  }
}

TEST(Radiation, FollowsTheSunByLongitude) {
  auto west = site_at(45.0);
  west.longitude_deg = -7.0; // 28 minutes after Greenwich, whose clock it keeps
  const auto weather = complete(spring_days(1), west);
  EXPECT_LT(weather.global_radiation_W_m2[9], weather.global_radiation_W_m2[15]);
  const SiteSun sun(west);
  // Equation of time near zero in April: eqs. 32, 33 give -0.07 h on day 91.
  EXPECT_NEAR(sun.solar_noon_h(*parse_date("2023-04-01")),
              12.0 + 7.0 / 15.0 - fao56::seasonal_correction_h(91), 1e-12);
}

TEST(Radiation, EstimatedFromSunshineCoverOrRangeAddsUpToTheEquation) {
  const SiteSun sun(site_at(45.0));
  const auto date = *parse_date("2023-04-01");
  const double above_W_m2 = sun.extraterrestrial_W_m2(date);
  // The sum of 24 hourly integrals against the day's: a few ulp of 400 W/m2.
  auto series = spring_days(1);
  EXPECT_NEAR(day_mean(complete(series).global_radiation_W_m2, 0),
              0.16 * std::sqrt(10.0) * above_W_m2, 1e-9);
  auto coast = site_at(45.0);
  coast.coastal = true;
  EXPECT_NEAR(day_mean(complete(series, coast).global_radiation_W_m2, 0),
              0.19 * std::sqrt(10.0) * above_W_m2, 1e-9);
  series.sky_cover.assign(1, 0.4);
  EXPECT_NEAR(day_mean(complete(series).global_radiation_W_m2, 0), (0.25 + 0.5 * 0.6) * above_W_m2,
              1e-9);
  series.sunshine_h.assign(1, 3.0);
  EXPECT_NEAR(day_mean(complete(series).global_radiation_W_m2, 0),
              (0.25 + 0.5 * 3.0 / sun.daylight_h(date)) * above_W_m2, 1e-9);
}

TEST(Radiation, EstimateStaysBelowAClearSky) {
  auto series = spring_days(1);
  series.tmax_K.assign(1, 278.15 + 40.0); // 0.16 sqrt(40) > 1
  EXPECT_NEAR(day_mean(complete(series).global_radiation_W_m2, 0),
              0.75 * SiteSun(site_at(45.0)).extraterrestrial_W_m2(*parse_date("2023-04-01")), 1e-9);
}

TEST(Radiation, OfPolarNightIsNoneAndOfPolarDayNeverNone) {
  auto series = spring_days(3);
  series.first = *parse_time("2023-12-20");
  for (const double radiation : complete(series, site_at(80.0)).global_radiation_W_m2) {
    EXPECT_EQ(radiation, 0.0);
  }
  for (const double radiation : complete(series, site_at(-80.0)).global_radiation_W_m2) {
    EXPECT_GT(radiation, 0.0);
  }
}

TEST(SkyTemperature, IsSwinbanksUnderAClearSkyAndTheAirsUnderCloud) {
  auto series = mild_hours(24);
  series.sky_cover.assign(24, 0.0);
  const double clear_K = 0.0552 * std::pow(283.15, 1.5);
  EXPECT_DOUBLE_EQ(complete(series).sky_temperature_K[3], clear_K);
  series.sky_cover.assign(24, 1.0);
  EXPECT_DOUBLE_EQ(complete(series).sky_temperature_K[3], 283.15);
  series.sky_cover.assign(24, 0.25);
  EXPECT_DOUBLE_EQ(complete(series).sky_temperature_K[3], 0.75 * clear_K + 0.25 * 283.15);
}

TEST(SkyTemperature, TakesItsCloudFromTheDaysRadiation) {
  auto series = spring_days(3);
  const SiteSun sun(site_at(45.0));
  for (std::size_t d = 0; d < 3; ++d) {
    const auto date = *parse_date("2023-04-01") + std::chrono::days{d};
    // Rs/Rso = 2/3: c = 1.5 (1 - 2/3) = 1/2.
    series.radiation_W_m2.push_back(2.0 / 3.0 * 0.75 * sun.extraterrestrial_W_m2(date));
  }
  const auto weather = complete(series);
  for (std::size_t i = 0; i < weather.size(); ++i) {
    const double air_K = weather.air_temperature_K[i];
    EXPECT_NEAR(weather.sky_temperature_K[i], 0.5 * (0.0552 * std::pow(air_K, 1.5) + air_K), 1e-9);
  }
}

TEST(SkyTemperature, OfMeasuredInfraredIsStefanBoltzmanns) {
  auto series = mild_hours(1);
  series.sky_infrared_W_m2.assign(1, 5.670374419e-8 * std::pow(260.0, 4));
  // A fourth power and a fourth root.
  EXPECT_NEAR(complete(series).sky_temperature_K[0], 260.0, 1e-10);
}

TEST(SkyTemperature, NeverExceedsTheAirs) {
  auto series = mild_hours(2);
  series.temperature_K = {333.15, 183.15};
  series.sky_cover.assign(2, 0.0);
  const auto weather = complete(series);
  EXPECT_EQ(weather.sky_temperature_K[0], 333.15);
  EXPECT_LT(weather.sky_temperature_K[1], 183.15);
}

TEST(SkyTemperature, OfPolarNightKeepsTheLastCloudKnown) {
  auto series = spring_days(5);
  series.first = *parse_time("2023-12-20");
  const auto weather = complete(series, site_at(80.0));
  const double air_K = weather.air_temperature_K[60];
  EXPECT_DOUBLE_EQ(weather.sky_temperature_K[60],
                   0.5 * (0.0552 * air_K * std::sqrt(air_K) + air_K));
}

/// Two years of hours from 1 April 2023, hottest in the middle of `month`, 0..20 degC, with days
/// and nights.
WeatherSeries two_years(double hottest_month) {
  auto series = mild_hours(17544);
  const auto year = *parse_time("2023-01-01");
  for (std::size_t i = 0; i < series.size(); ++i) {
    const auto hours = static_cast<double>((series.first - year).count()) + static_cast<double>(i);
    const double angle = 2.0 * std::numbers::pi * (hours / 8766.0 - (hottest_month - 0.5) / 12.0);
    series.temperature_K[i] =
        283.15 + 10.0 * std::cos(angle) + 4.0 * std::cos(2.0 * std::numbers::pi * hours / 24.0);
  }
  return series;
}

std::size_t hottest_hour(const std::vector<double>& values) {
  return static_cast<std::size_t>(std::max_element(values.begin(), values.begin() + 8766) -
                                  values.begin());
}

TEST(SoilTemperature, OfAYearAndMoreIsTheAirsWaveDampedAndDelayed) {
  // Damping depth 2.196 m: at 0.5 m 0.796 of 10 K and 13.2 days later.
  for (const double month : {7.0, 1.0}) { // north and south
    const auto weather = complete(two_years(month), site_at(month == 7.0 ? 45.0 : -45.0));
    const auto& soil_K = weather.soil_temperature_K;
    const auto [low, high] = std::minmax_element(soil_K.begin(), soil_K.end());
    // The days and nights leave 4 K / 365 in the wave.
    EXPECT_NEAR(0.5 * (*high + *low), 283.15, 0.02);
    EXPECT_NEAR(0.5 * (*high - *low), 7.96, 0.02);
    // From 1 April to mid-July are 105 days, to mid-January 289; a month of 30.4 days has its
    // middle within two days of the calendar's.
    EXPECT_NEAR(static_cast<double>(hottest_hour(soil_K)) / 24.0,
                (month == 7.0 ? 105.0 : 289.0) + 13.2, 3.0);
    EXPECT_NE(estimate(weather, "soil temperature").find("annual wave of the air temperature"),
              std::string::npos);
  }
}

TEST(SoilTemperature, KeepsTheYearsMean) {
  const auto weather = complete(two_years(7.0));
  const auto mean = [](const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
  };
  // 17544 hours are 731 days, half a day more than the wave's two years: 10 K 0.5/731.
  EXPECT_NEAR(mean(weather.soil_temperature_K), mean(weather.air_temperature_K), 0.01);
}

TEST(SoilTemperature, IsFlatWhereTheAirHasNoSeasons) {
  const auto soil_K = complete(spring_days(730), site_at(0.0)).soil_temperature_K;
  const auto [low, high] = std::minmax_element(soil_K.begin(), soil_K.end());
  // Days of 5 to 15 degC all the year, and on the equator of equal length. The hour that the last
  // day ends with is 5 K off in 17521.
  EXPECT_LT(*high - *low, 0.005);
}

TEST(SoilTemperature, ThatIsKnownIsTakenAndNoEstimate) {
  auto hours = mild_hours(3);
  hours.soil_temperature_K = {280.0, 280.5, 281.0};
  EXPECT_EQ(complete(hours).soil_temperature_K, hours.soil_temperature_K);
  EXPECT_EQ(estimate(complete(hours), "soil temperature"), "");

  auto days = spring_days(2);
  days.soil_temperature_K = {280.0, 282.0};
  const auto soil_K = complete(days).soil_temperature_K;
  EXPECT_EQ(soil_K[0], 280.0);
  EXPECT_EQ(soil_K[12], 280.0); // a day's value is its noon's
  EXPECT_EQ(soil_K[24], 281.0);
  EXPECT_EQ(soil_K[36], 282.0);
  EXPECT_EQ(soil_K[48], 282.0);
}

TEST(SoilTemperature, OfTheSourcesGroundTemperaturesIsTheirWave) {
  auto series = mild_hours(48);
  series.soil_wave = AnnualWave{.mean_K = 282.15, .amplitude_K = 5.0, .hottest_d = 8600.0};
  const auto weather = complete(series);
  for (const std::size_t i : {0U, 47U}) {
    EXPECT_EQ(weather.soil_temperature_K[i],
              temperature_K(*series.soil_wave, series.first + std::chrono::hours{i}));
  }
  EXPECT_NE(estimate(weather, "soil temperature").find("mean 9.0 degC, 5.0 K up and down"),
            std::string::npos);
}

TEST(SoilTemperature, OfLessThanAYearFollowsTheAirOf30Days) {
  // A step of 10 K: after 30 days 1 - 1/e of it.
  auto series = mild_hours(2160);
  std::fill(series.temperature_K.begin() + 720, series.temperature_K.end(), 293.15);
  const auto weather = complete(series);
  EXPECT_NEAR(weather.soil_temperature_K[720], 283.15, 1e-9);
  EXPECT_NEAR(weather.soil_temperature_K[1440], 293.15 - 10.0 / std::numbers::e, 1e-9);
  EXPECT_NE(estimate(weather, "soil temperature").find("less than a year"), std::string::npos);
}

TEST(SoilTemperature, OfAShortSeriesStartsAtItsMean) {
  const auto weather = complete(mild_hours(1));
  EXPECT_EQ(weather.soil_temperature_K[0], 283.15);
  auto series = mild_hours(100);
  series.temperature_K[0] = 293.15;
  // Mean of 99 times 283.15 and once 293.15, added one by one.
  EXPECT_NEAR(complete(series).soil_temperature_K[0], 283.25, 1e-9);
}

TEST(CompleteWeather, RefusesAnImpossibleSite) {
  auto site = site_at(nan);
  site.longitude_deg = 181.0;
  site.elevation_m = nan;
  site.wind_height_m = 0.0;
  site.utc_offset_h = -13.0;
  try {
    static_cast<void>(complete(spring_days(1), site));
    FAIL();
  } catch (const heapcast::InputError& error) {
    EXPECT_EQ(error.faults().size(), 5U) << error.what();
  }
  EXPECT_THROW(static_cast<void>(complete(spring_days(0))), heapcast::InputError);
}

} // namespace
