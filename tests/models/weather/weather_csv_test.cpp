#include "models/weather/weather_csv.hpp"

#include "engine/errors.hpp"
#include "models/weather/checksum.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <numeric>
#include <random>
#include <string>

namespace {

using namespace heapcast::models;
using heapcast::Fault;
using heapcast::InputError;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

const std::string daily_header = "date,tmin [degC],tmax [degC],rain [mm]\n";
const std::string three_days = daily_header + "2023-03-30,1.5,9.5,0\n"
                                              "2023-03-31,2.5,10.5,4.0\n"
                                              "2023-04-01,3.5,11.5,0\n";

WeatherCsvOptions csv_options() {
  WeatherCsvOptions options;
  options.source = "site.csv";
  options.site.latitude_deg = 45.0;
  options.site.wind_height_m = 2.0;
  return options;
}

std::vector<Fault> csv_faults(const std::string& text,
                              const WeatherCsvOptions& how = csv_options()) {
  try {
    static_cast<void>(read_weather_csv(text, how));
  } catch (const InputError& error) {
    return error.faults();
  }
  return {};
}

/// The only fault of the text, as "where: what - remedy"; "" for no fault, all of them otherwise.
std::string csv_fault(const std::string& text, const WeatherCsvOptions& how = csv_options()) {
  const auto faults = csv_faults(text, how);
  return faults.empty() ? "" : InputError(faults).what();
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  if (at == std::string::npos) {
    ADD_FAILURE() << "no " << from;
    return text;
  }
  return text.replace(at, from.size(), to);
}

std::string read_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

const std::string two_cities_path =
    std::string(HEAPCAST_EXAMPLES_DIR) + "/weather/daily_observed_two_cities.csv";

/// How the two cities' file, whose header has no units, is read as it is.
WeatherCsvOptions two_cities(const std::string& city) {
  WeatherCsvOptions how;
  how.source = "daily_observed_two_cities.csv";
  how.site.latitude_deg = city == "Seattle" ? 47.45 : 40.78;
  how.station = StationFilter{.column = "location", .value = city};
  how.columns = {{.quantity = "tmin", .header = "temp_min", .unit = "degC"},
                 {.quantity = "tmax", .header = "temp_max", .unit = "degC"},
                 {.quantity = "rain", .header = "precipitation", .unit = "mm"},
                 {.quantity = "wind", .header = "wind", .unit = "m/s"}};
  return how;
}

TEST(WeatherCsv, ReadsDays) {
  const auto weather = read_weather_csv(three_days, csv_options());
  EXPECT_EQ(weather.source, "site.csv");
  EXPECT_EQ(weather.start, "2023-03-30T00:00");
  EXPECT_EQ(weather.size(), 73U);
  EXPECT_EQ(weather.checksum, fnv1a64_hex(three_days));
  const auto day = [&](std::size_t d) { return weather.air_temperature_K.begin() + 24 * d; };
  // Celsius to kelvin is one addition.
  EXPECT_DOUBLE_EQ(*std::min_element(day(1), day(2)), 275.65);
  EXPECT_DOUBLE_EQ(*std::max_element(day(1), day(2)), 283.65);
  EXPECT_EQ(
      std::accumulate(weather.rain_kg_m2_h.begin() + 24, weather.rain_kg_m2_h.begin() + 48, 0.0),
      4.0);
}

TEST(WeatherCsv, ReadsHours) {
  const auto weather = read_weather_csv("time,temperature [degF],humidity [%],wind [km/h],"
                                        "radiation [W/m2],rain [in],sky_cover [tenths]\n"
                                        "2023-03-30T05:00,50,60,36,0,0.1,0\n"
                                        "2023-03-30 06:00,68,100,18,120,0,10\n",
                                        csv_options());
  EXPECT_EQ(weather.start, "2023-03-30T05:00");
  ASSERT_EQ(weather.size(), 2U);
  EXPECT_DOUBLE_EQ(weather.air_temperature_K[0], 283.15);
  EXPECT_DOUBLE_EQ(weather.air_temperature_K[1], 293.15);
  EXPECT_DOUBLE_EQ(weather.wind_m_s[0], 10.0);
  EXPECT_DOUBLE_EQ(weather.rain_kg_m2_h[0], 2.54);
  EXPECT_DOUBLE_EQ(weather.global_radiation_W_m2[1], 120.0);
  EXPECT_DOUBLE_EQ(weather.sky_temperature_K[1], 293.15);
}

TEST(WeatherCsv, ReadsEveryDailyColumn) {
  const auto text = std::string("date,tmin [degC],tmax [degC],rain [mm],wind [m/s],humidity [%],"
                                "radiation [MJ/m2/d],sunshine [h],dew_point [degC],pressure [kPa]\n"
                                "2023-04-01,5,15,2,3,70,8.64,5,4,99\n");
  const auto weather = read_weather_csv(text, csv_options());
  EXPECT_DOUBLE_EQ(weather.wind_m_s[0], 3.0);
  const auto& radiation = weather.global_radiation_W_m2;
  // 8.64 MJ/m2/d are 100 W/m2; 24 products and a sum.
  EXPECT_NEAR(std::accumulate(radiation.begin(), radiation.begin() + 24, 0.0) / 24.0, 100.0, 1e-9);
  // The air pressure serves the wet bulb only, and there is none.
  EXPECT_EQ(weather.estimates.back().column, "columns not used");
  EXPECT_EQ(weather.estimates.back().method, "pressure");
}

TEST(WeatherCsv, ReadsDateAndTimeOfDayFromTwoColumns) {
  const auto weather =
      read_weather_csv("time,date,temp_C,rain_mm\n05:00,2023-03-30,1,0\n", csv_options());
  EXPECT_EQ(weather.start, "2023-03-30T05:00");
}

TEST(WeatherCsv, ReadsWhatSpreadsheetsWrite) {
  const auto plain = read_weather_csv(three_days, csv_options());
  std::string crlf = "\xEF\xBB\xBF# invented\r\n\r\n";
  for (const char c : three_days) {
    crlf += c == '\n' ? "\r\n" : std::string(1, c);
  }
  const std::string semicolons = "date;\"tmin [\xC2\xB0"
                                 "C]\";tmax (C);rain_mm\n30.03.2023;1,5;9,5;0\n31.03.2023;2,5;10,5;"
                                 "4,0\n1.4.2023;3,5;\"11,5\";0";
  const std::string tabs = "Date\tTmin [K]\tTmax [degC]\tRain [mm]\r2023/3/30\t274.65\t9.5\t0\r"
                           "2023/3/31\t275.65\t10.5\t4\r2023/4/1\t276.65\t11.5\t0\r";
  for (const auto& text : {crlf, semicolons, tabs}) {
    const auto weather = read_weather_csv(text, csv_options());
    EXPECT_EQ(weather.start, plain.start);
    EXPECT_EQ(weather.air_temperature_K, plain.air_temperature_K);
    EXPECT_EQ(weather.rain_kg_m2_h, plain.rain_kg_m2_h);
  }
}

TEST(WeatherCsv, ReadsTheTwoCitiesFileAsItIs) {
  const auto text = read_file(two_cities_path);
  const auto seattle = read_weather_csv(text, two_cities("Seattle"));
  const auto new_york = read_weather_csv(text, two_cities("New York"));
  EXPECT_EQ(seattle.size(), 1461U * 24U + 1U); // 2012 to 2015 with one leap day
  EXPECT_EQ(new_york.size(), seattle.size());
  EXPECT_EQ(seattle.start, "2012-01-01T00:00");
  EXPECT_EQ(seattle.estimates.back().column, "columns not used");
  EXPECT_EQ(seattle.estimates.back().method, "weather");
  // Row "Seattle,2012-01-02,10.9,10.6,2.8,4.5,rain".
  const auto day = seattle.air_temperature_K.begin() + 24;
  EXPECT_DOUBLE_EQ(*std::min_element(day, day + 24), 2.8 + 273.15);
  EXPECT_DOUBLE_EQ(*std::max_element(day, day + 24), 10.6 + 273.15);
  EXPECT_EQ(
      std::accumulate(seattle.rain_kg_m2_h.begin() + 24, seattle.rain_kg_m2_h.begin() + 48, 0.0),
      10.9);
}

TEST(WeatherCsv, KeepsTheRainOfTwoCitiesAndSaturatesNothing) {
  const auto text = read_file(two_cities_path);
  for (const char* city : {"Seattle", "New York"}) {
    double rain_mm = 0.0;
    std::size_t at = 0;
    while ((at = text.find('\n' + std::string(city) + ',', at)) != std::string::npos) {
      at = text.find(',', text.find(',', at) + 1) + 1;
      rain_mm += std::stod(text.substr(at, 10));
    }
    const auto weather = read_weather_csv(text, two_cities(city));
    const auto& hourly = weather.rain_kg_m2_h;
    // Each day is exact; the two long sums differ by rounding of up to 35064 additions.
    EXPECT_NEAR(std::accumulate(hourly.begin(), hourly.end(), 0.0), rain_mm, 1e-8) << city;
    EXPECT_GT(rain_mm, 4000.0) << city;
    for (std::size_t i = 0; i < weather.size(); ++i) {
      ASSERT_TRUE(weather.sky_temperature_K[i] <= weather.air_temperature_K[i]) << city << i;
      ASSERT_TRUE(weather.soil_temperature_K[i] > 263.0 && weather.soil_temperature_K[i] < 303.0);
    }
  }
}

TEST(WeatherCsv, SaysWhichUnitIsMissingOrUnknown) {
  EXPECT_EQ(csv_fault(replaced(three_days, "tmin [degC]", "tmin")),
            "site.csv:1: column 'tmin' has no unit - write 'tmin [degC]' (units: degC, degF, K) or "
            "choose the column with its unit");
  EXPECT_EQ(csv_fault(replaced(three_days, "[mm]", "[mn]")),
            "site.csv:1: unit 'mn' of column 'rain [mn]' is not known - write one of mm, cm, in");
}

TEST(WeatherCsv, OffersTheNearestNameForAMissingColumn) {
  EXPECT_EQ(
      csv_fault(replaced(three_days, "rain", "rian")),
      "site.csv:1: has no column for rain (rain and melted snow) - is it 'rian [mm]'? Name it "
      "'rain [mm]'");
  EXPECT_THAT(csv_fault(replaced(three_days, "rain [mm]", "x")),
              HasSubstr("add 'rain [mm]' or choose one of the columns: date, tmin [degC], tmax "
                        "[degC], x"));
  EXPECT_THAT(csv_fault("time,rain [mm]\n2023-01-01T00:00,0\n"),
              HasSubstr("no column for temperature"));
  EXPECT_THAT(csv_fault(replaced(three_days, "date", "when")), HasSubstr("no column of dates"));
}

TEST(WeatherCsv, DoesNotTakeASlipOfAColumnForItsAbsence) {
  const auto text =
      replaced(replaced(replaced(replaced(three_days, "rain [mm]", "rain [mm],humdity [%]"),
                                 "9.5,0", "9.5,0,50"),
                        "4.0", "4.0,50"),
               "11.5,0", "11.5,0,50");
  EXPECT_EQ(csv_fault(text),
            "site.csv:1: column 'humdity [%]' is not known - did you mean 'humidity "
            "[%]'? If not, give it another name or leave it out");
}

TEST(WeatherCsv, RefusesTwoColumnsForOneQuantity) {
  EXPECT_THAT(
      csv_fault("date,tmin [C],tmax [C],rain [mm],precipitation [mm]\n2023-01-01,1,2,0,0\n"),
      HasSubstr("column 'precipitation [mm]' is a second one for rain"));
}

TEST(WeatherCsv, NamesTheDaysOfAGap) {
  EXPECT_EQ(csv_fault(replaced(three_days, "2023-03-31", "2023-03-31\n#")),
            "site.csv:3: has 1 field, the header 4 - give one value for each column");
  EXPECT_EQ(
      csv_fault(replaced(three_days, "2023-03-31,2.5,10.5,4.0\n", "")),
      "site.csv:3: 2023-03-31 is missing before this line - give one row for each day, or have "
      "gaps filled: fill_gaps = \"3 days\" in [site]");
  EXPECT_EQ(
      csv_fault(replaced(three_days, "2023-04-01", "2023-04-11")),
      "site.csv:4: 2023-04-01 to 2023-04-10 are missing before this line (10 days) - give one "
      "row for each day");
}

TEST(WeatherCsv, FillsAndListsGapsThatMayBeFilled) {
  auto how = csv_options();
  how.longest_gap_filled = std::chrono::hours{72};
  const std::string text = daily_header + "2023-03-30,1,9,0\n2023-04-03,5,17,2\n2023-04-04,,18,\n"
                                          "2023-04-05,7,19,0\n";
  const auto weather = read_weather_csv(text, how);
  EXPECT_EQ(weather.size(), 7U * 24U + 1U);
  // tmin 1, (2, 3, 4), 5, (6), 7.
  EXPECT_NEAR(*std::min_element(weather.air_temperature_K.begin() + 48,
                                weather.air_temperature_K.begin() + 72),
              273.15 + 3.0, 1e-9);
  EXPECT_EQ(std::accumulate(weather.rain_kg_m2_h.begin(), weather.rain_kg_m2_h.end(), 0.0), 2.0);
  EXPECT_EQ(weather.estimates.back().column, "gaps");
  EXPECT_THAT(weather.estimates.back().method,
              testing::AllOf(HasSubstr("2023-03-31 to 2023-04-02 (3 days): tmin, tmax, rain"),
                             HasSubstr("2023-04-04 (1 day): tmin, rain")));
  how.longest_gap_filled = std::chrono::hours{48};
  EXPECT_THAT(csv_fault(text, how), HasSubstr("2023-03-31 to 2023-04-02 are missing"));
  how.longest_gap_filled = std::chrono::hours{24};
  EXPECT_THAT(csv_fault(daily_header + "2023-03-30,1,9,0\n2023-03-31,,9,0\n2023-04-01,,9,0\n", how),
              HasSubstr("site.csv:3: tmin is missing from here on for 48 h"));
  EXPECT_THAT(csv_fault(daily_header + "2023-03-30,,9,0\n", how), HasSubstr("tmin has no value"));
}

TEST(WeatherCsv, LongGapsOfHoursKeepTheCourseOfTheDay) {
  auto how = csv_options();
  how.longest_gap_filled = std::chrono::hours{24};
  std::string text = "time,temperature [degC],rain [mm]\n";
  for (int hour = 0; hour < 72; ++hour) {
    if (hour < 24 || hour >= 48) {
      text += fmt::format("2023-04-0{}T{:02}:00,{},1\n", 1 + hour / 24, hour % 24,
                          hour < 24 ? hour : hour - 44);
    }
  }
  const auto weather = read_weather_csv(text, how);
  for (std::size_t hour = 0; hour < 24; ++hour) {
    // Between h the day before and h + 4 the day after.
    EXPECT_NEAR(weather.air_temperature_K[24 + hour], 275.15 + static_cast<double>(hour), 1e-9);
    EXPECT_EQ(weather.rain_kg_m2_h[24 + hour], 0.0);
  }
}

TEST(WeatherCsv, RefusesDatesWhoseDayMayBeTheMonth) {
  const std::string rows = "04/05/2023,1,9,0\n";
  EXPECT_THAT(csv_fault(daily_header + rows),
              testing::AllOf(HasSubstr("site.csv:2: '04/05/2023' may have the day or the month"),
                             HasSubstr("date [dd.mm.yyyy]")));
  EXPECT_THAT(csv_fault(daily_header + "04.05.2023,1,9,0\n"), HasSubstr("may have the day"));
  const auto start = [&](const std::string& header, const std::string& text) {
    return read_weather_csv(replaced(daily_header, "date", header) + text, csv_options()).start;
  };
  EXPECT_EQ(start("date [dd/mm/yyyy]", rows), "2023-05-04T00:00");
  EXPECT_EQ(start("date [mm/dd/yyyy]", rows), "2023-04-05T00:00");
  // A day above 12 says it for all rows.
  EXPECT_EQ(start("date", "4/12/2023,1,9,0\n4/13/2023,1,9,0\n"), "2023-04-12T00:00");
  EXPECT_EQ(start("date", "05.05.2023,1,9,0\n"), "2023-05-05T00:00");
}

TEST(WeatherCsv, MovesTimesWithAZoneToTheSitesClock) {
  auto how = csv_options();
  const std::string header = "time,temperature [degC],rain [mm]\n";
  EXPECT_THAT(csv_fault(header + "2023-04-01T06:00Z,5,0\n"),
              HasSubstr("has a time zone, the site none"));
  how.site.utc_offset_h = 5.5;
  EXPECT_EQ(read_weather_csv(header + "2023-04-01T06:00+05:30,5,0\n", how).start,
            "2023-04-01T06:00");
  EXPECT_EQ(
      csv_fault(header + "2023-04-01T06:00Z,5,0\n2023-04-01T07:00Z,5,0\n", how),
      "site.csv:2: '2023-04-01T06:00Z' is no whole hour by the site's clock, UTC+5.5 h - write "
      "a utc_offset in [site] that is whole hours from the file's zone; the pile's times are "
      "then by that clock");
  how.site.utc_offset_h = -7.0;
  EXPECT_EQ(read_weather_csv(header + "2023-04-01T06:00Z,5,0\n", how).start, "2023-03-31T23:00");
  EXPECT_EQ(read_weather_csv(replaced(header, "time", "time [UTC]") + "2023-04-01 06:00,5,0\n", how)
                .start,
            "2023-03-31T23:00");
  EXPECT_EQ(read_weather_csv(header + "4/13/2023 12:00 AM,5,0\n", how).start, "2023-04-13T00:00");
  EXPECT_EQ(read_weather_csv(header + "4/13/2023 1:00 PM,5,0\n", how).start, "2023-04-13T13:00");
}

TEST(WeatherCsv, HoursWithOffsetsGoOnOverAClockChange) {
  auto how = csv_options();
  how.site.utc_offset_h = 1.0;
  // Summer time begins at 02:00 and ends at 03:00: the offsets say which hour is which.
  const std::string header = "time,temperature [degC],rain [mm]\n";
  const auto spring = read_weather_csv(header + "2023-03-26T01:00+01:00,1,0\n"
                                                "2023-03-26T03:00+02:00,2,0\n"
                                                "2023-03-26T04:00+02:00,3,0\n",
                                       how);
  EXPECT_EQ(spring.start, "2023-03-26T01:00");
  EXPECT_EQ(spring.size(), 3U);
  const auto autumn = read_weather_csv(header + "2023-10-29T02:00+02:00,1,0\n"
                                                "2023-10-29T02:00+01:00,2,0\n"
                                                "2023-10-29T03:00+01:00,3,0\n",
                                       how);
  EXPECT_EQ(autumn.start, "2023-10-29T01:00");
  EXPECT_EQ(autumn.size(), 3U);
  // A name of a zone does not say which of two offsets is meant.
  EXPECT_THAT(csv_fault(header + "2023-03-26T01:00 CET,1,0\n", how),
              HasSubstr("'2023-03-26T01:00 CET' is not a whole hour"));
}

TEST(WeatherCsv, KnowsLeapDays) {
  const auto days = [](const std::vector<std::string>& dates) {
    std::string rows = daily_header;
    for (const auto& date : dates) {
      rows += date + ",1,9,0\n";
    }
    return rows;
  };
  EXPECT_EQ(
      read_weather_csv(days({"2024-02-28", "2024-02-29", "2024-03-01"}), csv_options()).size(),
      73U);
  EXPECT_THAT(csv_fault(days({"2024-02-28", "2024-03-01"})), HasSubstr("2024-02-29 is missing"));
  EXPECT_THAT(csv_fault(days({"2023-02-28", "2023-02-29", "2023-03-01"})),
              HasSubstr("'2023-02-29' is not a date"));
  EXPECT_EQ(read_weather_csv(days({"2023-02-28", "2023-03-01"}), csv_options()).size(), 49U);
  EXPECT_THAT(csv_fault(days({"2100-02-28", "2100-02-29"})), HasSubstr("is not a date"));
}

TEST(WeatherCsv, ReadsTheSoilsTemperature) {
  const auto weather = read_weather_csv(
      "date,tmin [degC],tmax [degC],rain [mm],soil_temperature [degC]\n2023-03-30,1,9,0,6\n"
      "2023-03-31,1,9,0,7\n",
      csv_options());
  EXPECT_DOUBLE_EQ(weather.soil_temperature_K[12], 279.15);
  EXPECT_DOUBLE_EQ(weather.soil_temperature_K[36], 280.15);
}

TEST(WeatherCsv, NamesDuplicatesAndWrongOrder) {
  EXPECT_THAT(csv_fault(replaced(three_days, "2023-04-01", "2023-03-31")),
              HasSubstr("site.csv:4: 2023-03-31 is there twice (before in line 3)"));
  EXPECT_THAT(csv_fault(replaced(three_days, "2023-04-01", "2023-03-30")),
              HasSubstr("site.csv:4: 2023-03-30 comes after 2023-03-31"));
}

TEST(WeatherCsv, ExplainsTheHoursOfAClockChange) {
  const std::string hours = "time,temperature [degC],rain [mm]\n2023-03-26T01:00,5,0\n";
  EXPECT_THAT(
      csv_fault(hours + "2023-03-26T03:00,5,0\n"),
      AllOf(HasSubstr("2023-03-26T02:00 is missing"), HasSubstr("without daylight saving")));
  EXPECT_THAT(csv_fault(hours + "2023-03-26T01:00,5,0\n"),
              AllOf(HasSubstr("twice"), HasSubstr("without daylight saving")));
  EXPECT_THAT(csv_fault(hours + "2023-03-26T01:30,5,0\n"), HasSubstr("is not a whole hour"));
}

TEST(WeatherCsv, RefusesImpossibleValuesWithTheirLimits) {
  struct Case {
    const char* column;
    const char* value;
    const char* message;
  };
  for (const auto& [column, value, message] :
       {Case{"wind [m/s]", "121", "wind is 121 m/s - allowed is 0 to 120 m/s"},
        Case{"wind [mph]", "300", "wind is 300 mph (134.1 m/s) - allowed is 0 to 120 m/s"},
        Case{"wind [m/s]", "-0.1", "wind is -0.1 m/s"},
        Case{"humidity [%]", "106", "humidity is 106 % - allowed is 0 to 105 %"},
        Case{"humidity [%]", "nan", "humidity 'nan' is not a number"},
        Case{"humidity [%]", "inf", "humidity 'inf' is not a number"},
        Case{"humidity [%]", "", "humidity is empty"},
        Case{"humidity [%]", "wet", "humidity 'wet' is not a number"},
        Case{"humidity [%]", "-9999", "humidity is -9999 %"},
        Case{"dew_point [degC]", "17", "dew_point 17 degC is above the air's 15 degC"},
        Case{"radiation [MJ/m2/d]", "45", "more than the"},
        Case{"radiation [W/m2]", "601", "allowed is 0 to 600 W/m2"},
        Case{"sunshine [h]", "25", "allowed is 0 to 24 h"},
        Case{"sky_cover [tenths]", "11", "allowed is 0 to 100 %"}}) {
    EXPECT_THAT(csv_fault(fmt::format("date,tmin [C],tmax [C],rain [mm],{}\n2023-04-01,5,15,0,{}\n",
                                      column, value)),
                AllOf(testing::StartsWith("site.csv:2: "), HasSubstr(message)))
        << column << value;
  }
  for (const auto& [from, to, message] :
       {Case{"1.5,9.5,0", "-90.1,9.5,0", "tmin is -90.1 degC - allowed is -90 to 60 degC"},
        Case{"1.5,9.5,0", "1.5,60.1,0", "tmax is 60.1 degC"},
        Case{"1.5,9.5,0", "9.6,9.5,0", "tmin 9.6 degC is above tmax 9.5 degC"},
        Case{"1.5,9.5,0", "1.5,9.5,-0.1", "rain is -0.1 mm - allowed is 0 to 2000 mm"},
        Case{"1.5,9.5,0", "1.5,9.5,-1e-9", "rain is -1e-09 mm"},
        Case{"1.5,9.5,0", "1.5,9.5,2001", "rain is 2001 mm"},
        Case{"1.5,9.5,0", "1.5;9.5,0", "has 3 fields, the header 4"},
        Case{"2023-03-30,", "2023-02-30,", "'2023-02-30' is not a date"},
        Case{"2023-03-30,", "2023-03-30T05:00,", "'2023-03-30T05:00' is not a date"}}) {
    EXPECT_THAT(csv_fault(replaced(three_days, from, to)),
                AllOf(testing::StartsWith("site.csv:2: "), HasSubstr(message)))
        << to;
  }
}

TEST(WeatherCsv, TakesValuesAtTheirLimitsInAnyUnit) {
  EXPECT_EQ(csv_fault("date,tmin [degF],tmax [degF],rain [in],wind [mph]\n"
                      "2023-04-01,-130,140,0,0\n"),
            ""); // -90 and 60 degC
  EXPECT_EQ(csv_fault("date,tmin [K],tmax [K],rain [cm],wind [km/h],humidity [fraction]\n"
                      "2023-04-01,183.15,333.15,200,432,1.05\n"),
            "");
}

TEST(WeatherCsv, ShowsAllFaultsOfTheFirstTwentyTogether) {
  std::string text = daily_header;
  for (int day = 1; day <= 30; ++day) {
    text += fmt::format("2023-04-{:02},20,10,-1\n", day);
  }
  const auto faults = csv_faults(text);
  ASSERT_THAT(faults, SizeIs(21));
  EXPECT_EQ(faults[0].where, "site.csv:2");
  EXPECT_THAT(faults[0].what, HasSubstr("rain is -1"));
  EXPECT_EQ(faults[1].where, "site.csv:2");
  EXPECT_THAT(faults[1].what, HasSubstr("above tmax"));
  EXPECT_EQ(faults[20].where, "site.csv");
  EXPECT_EQ(faults[20].what, "60 faults in all");
}

TEST(WeatherCsv, ReportsHeaderAndRowsTogether) {
  const auto faults = csv_faults("date,tmin [degC],tmax,rain [mm]\n2023-04-01,x,10,0\n");
  ASSERT_THAT(faults, SizeIs(2));
  EXPECT_THAT(faults[0].what, HasSubstr("'tmax' has no unit"));
  EXPECT_THAT(faults[1].what, HasSubstr("'x' is not a number"));
}

TEST(WeatherCsv, ARowWithoutADateIsNoGapAsWell) {
  EXPECT_EQ(csv_fault(replaced(three_days, "2023-03-31", "31 March")),
            "site.csv:3: '31 March' is not a date - write it as 2026-03-01");
}

TEST(WeatherCsv, AGapIsRefusedWhereverItIs) {
  // Several runs use years that one would not need: no hole in any of them.
  auto how = csv_options();
  how.first_needed = parse_time("2023-03-30");
  how.last_needed = parse_time("2023-03-31");
  EXPECT_EQ(csv_fault(three_days, how), "");
  EXPECT_THAT(csv_fault(replaced(three_days, "2023-04-01", "2024-04-01"), how),
              HasSubstr("are missing before this line"));
}

TEST(WeatherCsv, SaysWhatItCoversWhenItIsTooShort) {
  auto how = csv_options();
  how.first_needed = parse_time("2023-03-30");
  how.last_needed = parse_time("2023-04-02"); // the end of the last day
  EXPECT_EQ(csv_fault(three_days, how), "");
  how.last_needed = parse_time("2023-04-02T01:00");
  EXPECT_EQ(
      csv_fault(three_days, how),
      "site.csv:4: covers 2023-03-30T00:00 to 2023-04-02T00:00; needed is 2023-03-30T00:00 to "
      "2023-04-02T01:00 - give weather for the whole time, or choose another start or a "
      "shorter run");
  how.last_needed = std::nullopt;
  how.first_needed = parse_time("2023-03-29T23:00");
  EXPECT_THAT(csv_fault(three_days, how), HasSubstr("needed is 2023-03-29T23:00"));
}

TEST(WeatherCsv, RefusesWhatHoldsNoWeather) {
  for (const char* text : {"", "\n\n", "\xEF\xBB\xBF", "# nothing\n", "   \r\n"}) {
    EXPECT_THAT(csv_fault(text), HasSubstr("is empty")) << text;
  }
  EXPECT_THAT(csv_fault(daily_header), HasSubstr("site.csv:1: has no rows below its header"));
  EXPECT_EQ(csv_fault(daily_header + "1\n"),
            "site.csv:2: has 1 field, the header 4 - give one value for each column");
  EXPECT_EQ(
      csv_fault(std::string("\x7F"
                            "ELF\0\0",
                            6)),
      "site.csv:1: is not a text file (byte 0x7F) - give weather as CSV or EPW text in UTF-8");
  EXPECT_THAT(csv_fault("date\n2023-01-01\n2023" + std::string(1, '\0')),
              HasSubstr("site.csv:3: is not a text file (byte 0x00)"));
  EXPECT_THAT(csv_fault(std::string(100000, ',')), HasSubstr("has 100001 columns, more than 1000"));
  EXPECT_THAT(csv_fault("\"date"), HasSubstr("a quote is not closed"));
  EXPECT_THAT(csv_fault(three_days + "\"2023-04-02,1,2,3\n"), HasSubstr("site.csv:5: a quote"));
}

TEST(WeatherCsv, OffersTheNearestStationAndColumn) {
  const auto text = read_file(two_cities_path);
  auto how = two_cities("Seatle");
  EXPECT_THAT(csv_fault(text, how), AllOf(HasSubstr("has no rows with location = 'Seatle'"),
                                          HasSubstr("did you mean 'Seattle'?")));
  how = two_cities("Springfield");
  EXPECT_THAT(csv_fault(text, how), HasSubstr("there is New York, Seattle"));
  how.station->column = "locations";
  EXPECT_THAT(csv_fault(text, how), AllOf(HasSubstr("has no column 'locations' for the station"),
                                          HasSubstr("did you mean 'location'?")));
  how = two_cities("Seattle");
  how.columns[0].header = "temp_mn";
  EXPECT_THAT(csv_fault(text, how), AllOf(HasSubstr("has no column 'temp_mn' for tmin"),
                                          HasSubstr("did you mean 'temp_min'?")));
  how = two_cities("Seattle");
  how.columns[0].quantity = "tmn";
  EXPECT_THAT(csv_fault(text, how),
              AllOf(HasSubstr("no quantity is named 'tmn'"), HasSubstr("did you mean 'tmin'?")));
  how = two_cities("Seattle");
  how.columns[3].unit = "";
  EXPECT_THAT(csv_fault(text, how), HasSubstr("column 'wind' has no unit"));
}

TEST(WeatherCsv, TakesAColumnChoiceBeforeAKnownName) {
  auto how = csv_options();
  how.columns = {{.quantity = "rain", .header = "gauge 2 [mm]", .unit = ""},
                 {.quantity = "date", .header = "noted on", .unit = ""}};
  const auto weather = read_weather_csv(
      "noted on,tmin [C],tmax [C],rain [mm],gauge 2 [mm]\n2023-04-01,1,2,5,7\n", how);
  EXPECT_EQ(std::accumulate(weather.rain_kg_m2_h.begin(), weather.rain_kg_m2_h.end(), 0.0), 7.0);
}

TEST(WeatherCsv, KeepsMessagesAndEstimatesPrintable) {
  const auto printable = [](const std::string& text) {
    return std::all_of(text.begin(), text.end(), [](char c) { return c >= ' ' && c <= '~'; });
  };
  for (const auto& fault : csv_faults(three_days + "\xFF\xFE,\xC3,1,\x80\n")) {
    EXPECT_TRUE(printable(fault.what)) << fault.what;
  }
  const auto weather = read_weather_csv(
      "date,tmin [C],tmax [C],rain [mm],note \xE9\xFF\n2023-04-01,1,2,5,\xFF\n", csv_options());
  for (const auto& estimate : weather.estimates) {
    EXPECT_TRUE(printable(estimate.method)) << estimate.method;
  }
}

/// Every text is either read completely or refused with an InputError.
void expect_read_or_refused(const std::string& text) {
  try {
    const auto weather = read_weather_csv(text, csv_options());
    EXPECT_EQ(weather.soil_temperature_K.size(), weather.size());
    EXPECT_TRUE(std::all_of(weather.sky_temperature_K.begin(), weather.sky_temperature_K.end(),
                            [](double value) { return std::isfinite(value); }));
  } catch (const InputError& error) {
    EXPECT_THAT(error.faults(), Not(IsEmpty()));
    EXPECT_LE(error.faults().size(), 21U);
  }
}

TEST(WeatherCsv, SurvivesAnyBytes) {
  std::mt19937_64 random(1);
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
  const auto hourly = std::string("time,temperature [degC],humidity [%],rain [mm],sky_cover [%]\n"
                                  "2023-03-30T05:00,5,60,0.1,0\n2023-03-30T06:00,6,100,0,10\n");
  const std::string pieces =
      std::string("0123456789,;\t\"\n\r.-+:T[]()# eE_degCmm\xEF\xBB\xBF\xFF") + "nanif" +
      std::string(1, '\0');
  for (int run = 0; run < 4000; ++run) {
    std::string text = run % 2 == 0 ? three_days : hourly;
    for (std::size_t edits = 1 + below(4); edits > 0; --edits) {
      const std::size_t at = below(text.size());
      switch (below(5)) {
      case 0:
        text[at] = static_cast<char>(random());
        break;
      case 1:
        text[at] = pieces[below(pieces.size())];
        break;
      case 2:
        text.insert(at, 1 + below(3), pieces[below(pieces.size())]);
        break;
      case 3:
        text.erase(at, 1 + below(10));
        break;
      default:
        text += text.substr(at);
      }
      if (text.empty()) {
        break;
      }
    }
    expect_read_or_refused(text);
  }
  for (int run = 0; run < 500; ++run) {
    std::string junk(below(300), ' ');
    std::generate(junk.begin(), junk.end(), [&] { return static_cast<char>(random()); });
    expect_read_or_refused(junk);
    std::generate(junk.begin(), junk.end(), [&] { return pieces[below(pieces.size())]; });
    expect_read_or_refused(junk);
  }
}

TEST(WeatherCsv, SurvivesEveryCut) {
  for (std::size_t length = 0; length <= three_days.size(); ++length) {
    expect_read_or_refused(three_days.substr(0, length));
  }
}

} // namespace
