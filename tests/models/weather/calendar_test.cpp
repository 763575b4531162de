#include "models/weather/calendar.hpp"

#include "engine/errors.hpp"
#include "models/weather/weather.hpp"

#include <gtest/gtest.h>

namespace {

using namespace heapcast::models;

Weather three_hours() {
  Weather weather;
  weather.source = "three.csv";
  weather.start = "2024-02-28T23:00";
  for (const double i : {0.0, 1.0, 2.0}) {
    weather.air_temperature_K.push_back(280.0 + i);
    weather.vapour_pressure_Pa.push_back(900.0 + i);
    weather.wind_m_s.push_back(2.0 + i);
    weather.global_radiation_W_m2.push_back(100.0 + i);
    weather.sky_temperature_K.push_back(260.0 + i);
    weather.rain_kg_m2_h.push_back(i);
    weather.soil_temperature_K.push_back(285.0 + i);
  }
  return weather;
}

TEST(Calendar, ReadsDatesInThreeWritings) {
  const auto date = LocalDays{std::chrono::year{2024} / 2 / 29};
  EXPECT_EQ(parse_date("2024-02-29"), date);
  EXPECT_EQ(parse_date("2024/2/29"), date);
  EXPECT_EQ(parse_date("29.02.2024"), date);
  EXPECT_EQ(parse_date("29.2.2024"), date);
}

TEST(Calendar, RefusesWhatIsNoDate) {
  for (const char* text : {"", "2023-02-29", "2024-13-01", "2024-00-10", "2024-01-32", "24-01-01",
                           "2024-01", "2024-01-01x", "01/02/2024", "2024-01/02", "-2024-01-01",
                           "20240101", "2024--1-01", "31.04.2024", "1.1.24"}) {
    EXPECT_EQ(parse_date(text), std::nullopt) << text;
  }
}

TEST(Calendar, ReadsWholeHours) {
  const LocalHours noon = LocalDays{std::chrono::year{2024} / 3 / 1} + std::chrono::hours{12};
  EXPECT_EQ(parse_time("2024-03-01T12:00"), noon);
  EXPECT_EQ(parse_time("2024-03-01 12:00:00"), noon);
  EXPECT_EQ(parse_time("1.3.2024 12:00"), noon);
  EXPECT_EQ(parse_time("2024-03-01"), noon - std::chrono::hours{12});
  EXPECT_EQ(parse_time("2024-02-29T24:00"), noon - std::chrono::hours{12});
  EXPECT_EQ(parse_time("2024-03-01 6:00"), noon - std::chrono::hours{6});
  for (const char* text : {"2024-03-01T", "2024-03-01T12", "2024-03-01T12:30", "2024-03-01T25:00",
                           "2024-03-01T12:00:30", "2024-03-01T12:00Z", "12:00"}) {
    EXPECT_EQ(parse_time(text), std::nullopt) << text;
  }
}

TEST(Calendar, WritesWhatItReads) {
  for (const char* text : {"0001-01-01T00:00", "1969-12-31T23:00", "2024-02-29T05:00"}) {
    EXPECT_EQ(format_time(*parse_time(text)), text);
  }
}

TEST(Calendar, CountsDaysFrom1970AndWithinTheYear) {
  EXPECT_EQ(days_from_civil(*parse_date("1970-01-01")), 0);
  EXPECT_EQ(days_from_civil(*parse_date("1969-12-31")), -1);
  EXPECT_EQ(days_from_civil(*parse_date("2000-03-01")), 30 * 365 + 7 + 60);
  EXPECT_EQ(day_of_year(*parse_date("2023-12-31")), 365);
  EXPECT_EQ(day_of_year(*parse_date("2024-12-31")), 366);
  EXPECT_EQ(day_of_year(*parse_date("2023-07-06")), 187); // FAO-56 example 18
  EXPECT_EQ(weekday(*parse_date("1970-01-01")), std::chrono::Thursday);
}

TEST(Calendar, HoursFromStartCountOverMidnightAndLeapDay) {
  const Weather weather = three_hours();
  EXPECT_EQ(hours_from_start(weather, "2024-02-28T23:00"), 0.0);
  EXPECT_EQ(hours_from_start(weather, "2024-02-29"), 1.0);
  EXPECT_EQ(hours_from_start(weather, "2024-02-29T01:00"), 2.0);
}

TEST(Calendar, HoursFromStartSaysWhatTheWeatherCovers) {
  const Weather weather = three_hours();
  for (const char* time : {"2024-02-28T22:00", "2024-02-29T02:00"}) {
    try {
      static_cast<void>(hours_from_start(weather, time));
      FAIL() << time;
    } catch (const heapcast::InputError& error) {
      EXPECT_NE(std::string(error.what())
                    .find("covers 2024-02-28T23:00 to 2024-02-29T01:00, not " + std::string(time)),
                std::string::npos)
          << error.what();
    }
  }
  EXPECT_THROW(static_cast<void>(hours_from_start(weather, "tomorrow")), heapcast::InputError);
}

TEST(Calendar, SliceKeepsTheSamplesAndMovesTheStart) {
  const Weather part = slice_weather(three_hours(), {.first = 1, .count = 2});
  EXPECT_EQ(part.start, "2024-02-29T00:00");
  EXPECT_EQ(part.size(), 2U);
  EXPECT_EQ(part.air_temperature_K, (std::vector<double>{281.0, 282.0}));
  EXPECT_EQ(part.vapour_pressure_Pa, (std::vector<double>{901.0, 902.0}));
  EXPECT_EQ(part.wind_m_s, (std::vector<double>{3.0, 4.0}));
  EXPECT_EQ(part.global_radiation_W_m2, (std::vector<double>{101.0, 102.0}));
  EXPECT_EQ(part.sky_temperature_K, (std::vector<double>{261.0, 262.0}));
  EXPECT_EQ(part.rain_kg_m2_h, (std::vector<double>{1.0, 2.0}));
  EXPECT_EQ(part.soil_temperature_K, (std::vector<double>{286.0, 287.0}));
  EXPECT_THROW(static_cast<void>(slice_weather(three_hours(), {.first = 2, .count = 2})),
               heapcast::InputError);
}

} // namespace
