// EPW files. All of them are invented; the layout is that of EnergyPlus, Auxiliary Programs, "EPW
// Data Dictionary" (read).

#include "models/weather/epw.hpp"

#include "engine/errors.hpp"
#include "tests/models/weather/weather_helpers.hpp"
#include "tests/reference_csv.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <string>

namespace {

using namespace heapcast::models;
using heapcast::InputError;
using heapcast::tests::estimate;
using std::chrono::hours;
using testing::HasSubstr;

std::string header(const std::string& periods, const std::string& leap = "No",
                   const std::string& location = "47.5,12.0,1.0,420",
                   const std::string& ground = "0") {
  return "LOCATION,Invented,XX,XXX,Invented,000000," + location +
         "\nDESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES," + ground +
         "\nHOLIDAYS/DAYLIGHT SAVING," + leap +
         ",0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday," + periods + "\n";
}

struct Row {
  std::string temperature = "5.0";
  std::string dew_point = "2.0";
  std::string infrared = "290";
  std::string global = "0";
  std::string direct = "0";
  std::string diffuse = "0";
  std::string wind = "2.0";
  std::string rain = "0";
  std::string rain_hours = "1";
};

std::string row(const std::string& date, int hour, const Row& r = {}) {
  return fmt::format(
      "{},{},60,invented,{},{},80,96000,0,1400,{},{},{},{},999999,999999,999999,9999,"
      "180,{},5,4,9999,99999,9,999999999,999,.999,0,99,999,{},{}\n",
      date, hour, r.temperature, r.dew_point, r.infrared, r.global, r.direct, r.diffuse, r.wind,
      r.rain, r.rain_hours);
}

/// All hours of a day, at `temperature`.
std::string day(const std::string& date, const std::string& temperature = "5.0") {
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    rows += row(date, hour, {.temperature = temperature});
  }
  return rows;
}

EpwOptions epw_options() {
  EpwOptions options;
  options.source = "site.epw";
  options.site.latitude_deg = 47.5;
  return options;
}

std::string epw_fault(const std::string& text, const EpwOptions& how = epw_options()) {
  try {
    static_cast<void>(read_epw(text, how));
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

TEST(Epw, FieldsStandInThePublishedColumnsWithTheirMissingCodes) {
  const heapcast::tests::CsvTable table("formats.csv");
  for (const EpwField& field : epw_fields()) {
    const auto record = table.find("id", fmt::format("epw_{:02}", field.column));
    heapcast::tests::expect_row(
        heapcast::tests::reference_row(table, record), static_cast<double>(field.column),
        {.low = static_cast<double>(field.column), .high = static_cast<double>(field.column)});
    const std::string& code = table.field(record, "inputs");
    const auto at = code.find("missing code ");
    if (at == std::string::npos) {
      EXPECT_EQ(field.missing, std::numeric_limits<double>::infinity()) << field.name;
    } else {
      // Illuminance of 999900 and more is missing too, by the dictionary's note.
      const double published = std::stod(code.substr(at + 13));
      EXPECT_EQ(field.missing, published == 999999 && field.unit == "lux" ? 999900 : published)
          << field.name;
    }
  }
  EXPECT_EQ(epw_fields().size(), 35U);
}

TEST(Epw, HourOneEndsAtOneOClock) {
  std::string rows = day("2023,4,1");
  const std::string second = row("2023,4,1", 2);
  rows.replace(rows.find(second), second.size(),
               row("2023,4,1", 2, {.temperature = "9.0", .rain = "3"}));
  const auto weather = read_epw(header("4/1,4/1") + rows, epw_options());
  EXPECT_EQ(weather.start, "2023-04-01T00:00");
  ASSERT_EQ(weather.size(), 25U);
  EXPECT_DOUBLE_EQ(weather.air_temperature_K[2], 282.15); // at 02:00
  EXPECT_DOUBLE_EQ(weather.air_temperature_K[1], 278.15);
  EXPECT_EQ(weather.rain_kg_m2_h[1], 3.0); // from 01:00 to 02:00
  EXPECT_EQ(std::accumulate(weather.rain_kg_m2_h.begin(), weather.rain_kg_m2_h.end(), 0.0), 3.0);
}

TEST(Epw, RadiationOfTheHourBeforeLiesAboutItsMiddle) {
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    rows += row("2023,4,1", hour, {.global = hour == 12 ? "600" : "0"});
  }
  const auto weather = read_epw(header("4/1,4/1") + rows, epw_options());
  // 11:00 to 12:00 had 600 Wh: half of it at either end, and the sum of the trapezia is 600.
  EXPECT_EQ(weather.global_radiation_W_m2[11], 300.0);
  EXPECT_EQ(weather.global_radiation_W_m2[12], 300.0);
  EXPECT_EQ(weather.global_radiation_W_m2[13], 0.0);
}

TEST(Epw, RainOfSeveralHoursIsSpreadOverThem) {
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    rows += row("2023,4,1", hour, hour == 6 ? Row{.rain = "12", .rain_hours = "6"} : Row{});
  }
  const auto weather = read_epw(header("4/1,4/1") + rows, epw_options());
  for (std::size_t i = 0; i < 7; ++i) {
    EXPECT_DOUBLE_EQ(weather.rain_kg_m2_h[i], i < 6 ? 2.0 : 0.0);
  }
}

TEST(Epw, MissingColumnsAreEstimatedAndSaid) {
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    rows += row("2023,4,1", hour,
                {.infrared = "9999",
                 .global = "9999",
                 .direct = "9999",
                 .diffuse = "",
                 .wind = "999",
                 .rain = "999"});
  }
  const auto weather = read_epw(header("4/1,4/1") + rows, epw_options());
  EXPECT_THAT(estimate(weather, "rain"), HasSubstr("no rain falls"));
  EXPECT_THAT(estimate(weather, "wind"), HasSubstr("2 m/s"));
  EXPECT_THAT(estimate(weather, "radiation"), HasSubstr("sky cover (FAO-56 eq. 35)"));
  EXPECT_NE(estimate(weather, "sky temperature"), "");
}

TEST(Epw, GlobalRadiationIsMadeOfDirectAndDiffuse) {
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    const bool light = hour >= 8 && hour <= 17;
    rows += row("2023,4,1", hour,
                {.global = "9999", .direct = light ? "500" : "0", .diffuse = light ? "100" : "0"});
  }
  const auto weather = read_epw(header("4/1,4/1") + rows, epw_options());
  EXPECT_THAT(estimate(weather, "global radiation"), HasSubstr("diffuse + direct"));
  // Declination of 1 April 4.1 deg (FAO-56 eq. 24): at noon the sun's sine is sin(47.5 deg) sin(4.1
  // deg) + 0.674 = 0.727, 463 W/m2. Hourly means of two hours' means and the two hours about the
  // sample spread over 1/12 + 1/4 + 1/4 h2, and noon is at 12:16: 337 W/m2 (0.2618/h)^2/2 0.65 h2 =
  // 7.5 W/m2 less. Terms of fourth order are below 1 W/m2.
  EXPECT_NEAR(
      *std::max_element(weather.global_radiation_W_m2.begin(), weather.global_radiation_W_m2.end()),
      455.8, 1.0);
  EXPECT_EQ(weather.global_radiation_W_m2[2], 0.0);
}

TEST(Epw, AGapIsAFaultUnlessItMayBeFilled) {
  std::string rows;
  for (int d = 1; d <= 3; ++d) {
    for (int hour = 1; hour <= 24; ++hour) {
      const bool missing = d == 2 && hour <= 12;
      rows +=
          row(fmt::format("2023,4,{}", d), hour,
              {.temperature = missing ? "99.9" : fmt::format("{}", d == 1 ? 4 + hour : 6 + hour)});
    }
  }
  const auto text = header("4/1,4/3") + rows;
  EXPECT_THAT(epw_fault(text), HasSubstr("site.epw:33: dry bulb temperature is missing from "
                                         "2023-04-02T01:00 for 12 h"));
  EXPECT_THAT(epw_fault(text), HasSubstr("fill_gaps"));
  auto how = epw_options();
  how.longest_gap_filled = hours{12};
  const auto weather = read_epw(text, how);
  // Between 4 + h the day before and 6 + h the day after.
  EXPECT_DOUBLE_EQ(weather.air_temperature_K[24 + 6], 273.15 + 5.0 + 6.0);
  EXPECT_THAT(estimate(weather, "gaps"),
              HasSubstr("2023-04-02T01:00 to 2023-04-02T12:00 (12 hours): temperature"));
  how.longest_gap_filled = hours{11};
  EXPECT_THAT(epw_fault(text, how), HasSubstr("for 12 h"));
}

TEST(Epw, TheYearOfLeftOutLeapDaysGoesOnWith28February) {
  const std::string rows = day("2024,2,28", "3") + day("2024,3,1", "7");
  const auto weather = read_epw(header("2/28/2024,3/1/2024") + rows, epw_options());
  EXPECT_EQ(weather.size(), 73U);
  EXPECT_EQ(weather.air_temperature_K[36], 276.15);
  EXPECT_THAT(estimate(weather, "leap day"), HasSubstr("2024-02-29"));
  EXPECT_THAT(epw_fault(header("2/28/2024,3/1/2024", "Yes") + rows), HasSubstr("are missing"));
}

/// A year from 1 January, at the month's number in degC, with the month m of the year 1990 + m.
std::string typical_rows() {
  std::string rows;
  constexpr int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  for (int month = 1; month <= 12; ++month) {
    for (int d = 1; d <= days[month - 1]; ++d) {
      rows += day(fmt::format("{},{},{}", 1990 + month, month, d), fmt::format("{}", month + 10));
    }
  }
  return rows;
}

TEST(Epw, ATypicalYearStandsForEveryYearNeeded) {
  auto how = epw_options();
  how.first_needed = parse_time("2023-11-01");
  how.last_needed = parse_time("2024-03-02");
  const auto weather = read_epw(header("1/1,12/31") + typical_rows(), how);
  const auto degC = [&](const char* time) {
    return weather.air_temperature_K[static_cast<std::size_t>(hours_from_start(weather, time))] -
           273.15;
  };
  EXPECT_NEAR(degC("2023-11-30T12:00"), 21.0, 1e-9);
  EXPECT_NEAR(degC("2024-01-02T12:00"), 11.0, 1e-9);
  EXPECT_NEAR(degC("2024-02-29T12:00"), 12.0, 1e-9);
  EXPECT_NEAR(degC("2024-03-01T12:00"), 13.0, 1e-9);
  EXPECT_THAT(estimate(weather, "year"), HasSubstr("typical year"));
  EXPECT_THAT(epw_fault(header("1/1,2/1") + day("1990,1,1") + day("1993,2,1")),
              HasSubstr("are missing before this line"));
}

TEST(Epw, SeveralYearsKeepTheirDates) {
  const auto weather = read_epw(
      header("12/31/2022,1/1/2023") + day("2022,12,31", "1") + day("2023,1,1", "2"), epw_options());
  EXPECT_EQ(weather.start, "2022-12-31T00:00");
  EXPECT_EQ(weather.size(), 49U);
  EXPECT_NEAR(weather.air_temperature_K[48], 275.15, 1e-9);
}

TEST(Epw, TimesAreMovedToTheSitesClock) {
  auto how = epw_options();
  how.site.utc_offset_h = 3.0;
  const auto weather = read_epw(header("4/1,4/1") + day("2023,4,1"), how);
  EXPECT_EQ(weather.start, "2023-04-01T02:00");
  EXPECT_THAT(estimate(weather, "time"), HasSubstr("moved by +2 h from UTC+1 h"));
  how.site.utc_offset_h = 5.5;
  EXPECT_THAT(epw_fault(header("4/1,4/1") + day("2023,4,1"), how),
              HasSubstr("site.epw:1: time zone UTC+1 h is not whole hours"));
}

TEST(Epw, TakesTheElevationOfLocationWhereThePileHasNone) {
  auto how = epw_options();
  how.elevation_known = false;
  EXPECT_EQ(read_epw(header("4/1,4/1") + day("2023,4,1"), how).elevation_m, 420.0);
  how.elevation_known = true;
  EXPECT_EQ(read_epw(header("4/1,4/1") + day("2023,4,1"), how).elevation_m, 0.0);
}

/// Header and a day with these ground temperatures.
std::string with_ground(const std::string& ground) {
  return header("4/1,4/1", "No", "47.5,12.0,1.0,420", ground) + day("2023,4,1");
}

/// Twelve months between `low` and `high` degC, hottest in August.
std::string ground_months(double low, double high) {
  std::string months;
  for (int month = 1; month <= 12; ++month) {
    months += fmt::format(",{:.6f}",
                          0.5 * (low + high) +
                              0.5 * (high - low) * std::cos(std::numbers::pi / 6.0 * (month - 8)));
  }
  return months;
}

TEST(Epw, GroundTemperaturesOfHeaderAreTheSoils) {
  const std::string half = ".5,,," + ground_months(4, 16);
  const std::string two = "2,1.2,1500,1600" + ground_months(7, 13);
  // Monthly means of a wave are 0.9886 of it: 6.07 K. 1 April is 4.5 months before the middle of
  // August, where the cosine is cos(135 deg) = -0.707: 10 - 4.29 degC; the months' twelfths and the
  // calendar's agree to a day, 0.07 K.
  const auto weather = read_epw(with_ground("2," + two + "," + half), epw_options());
  EXPECT_NEAR(weather.soil_temperature_K[0] - 273.15, 10.0 - 4.29, 0.1);
  EXPECT_THAT(estimate(weather, "soil temperature"),
              HasSubstr("of the file's ground temperatures at 0.5 m: mean 10.0 degC, 6.1 K"));
  // 3 K / 0.9886 at 2 m is exp(1.5/2.196) = 1.98 times that at 0.5 m.
  EXPECT_THAT(estimate(read_epw(with_ground("1," + two), epw_options()), "soil temperature"),
              HasSubstr("mean 10.0 degC, 6.0 K"));
  // What is deeper says little of it; the day's air does instead.
  for (const std::string& none :
       {"1,4,,," + ground_months(9, 11), std::string("0"), std::string()}) {
    // A mean of 25 times 278.15, added one by one.
    EXPECT_NEAR(read_epw(with_ground(none), epw_options()).soil_temperature_K[0], 278.15, 1e-9)
        << none;
  }
}

TEST(Epw, GroundTemperaturesThatAreNoneAreNamed) {
  EXPECT_THAT(epw_fault(with_ground("2,.5,,," + ground_months(4, 16))),
              HasSubstr("site.epw:4: GROUND TEMPERATURES does not hold the depths that it names - "
                        "give for each depth"));
  EXPECT_THAT(epw_fault(with_ground("many")), HasSubstr("does not hold the depths"));
  EXPECT_THAT(epw_fault(with_ground("-1")), HasSubstr("does not hold the depths"));
  EXPECT_THAT(epw_fault(with_ground("1,.5,,," + ground_months(4, 61))),
              HasSubstr("depth 1 of GROUND TEMPERATURES has a value that is none"));
  EXPECT_THAT(epw_fault(with_ground("1,,,," + ground_months(4, 16))),
              HasSubstr("depth 1 of GROUND TEMPERATURES"));
  EXPECT_THAT(epw_fault(with_ground("1,.5,,,,nan" + ground_months(4, 16).substr(9))),
              HasSubstr("depth 1 of GROUND TEMPERATURES"));
}

TEST(Epw, TimeZonesOfHalfHoursKeepTheFilesClock) {
  // 82.5 deg east is UTC+5.5 h: the sun is highest at noon by that clock.
  const std::string location = "47.5,82.5,5.5,200";
  std::string rows;
  for (int hour = 1; hour <= 24; ++hour) {
    rows += row("2023,4,1", hour, {.global = "9999", .direct = "9999", .diffuse = "9999"});
  }
  const auto weather = read_epw(header("4/1,4/1", "No", location) + rows, epw_options());
  const auto& sun = weather.global_radiation_W_m2;
  EXPECT_EQ(std::max_element(sun.begin(), sun.end()) - sun.begin(), 12);
  EXPECT_EQ(weather.start, "2023-04-01T00:00");
  auto how = epw_options();
  how.site.utc_offset_h = 4.5;
  EXPECT_EQ(read_epw(header("4/1,4/1", "No", location) + rows, how).start, "2023-03-31T23:00");
}

TEST(Epw, ATypicalYearWith29FebruaryStandsForYearsWithout) {
  // 366 days of a year that stands for every year: 2023 takes no 29 February from it. Each day has
  // 5 degC and a tenth of its number.
  std::string rows;
  for (LocalDays date = *parse_date("2020-01-01"); date <= *parse_date("2020-12-31");
       date += std::chrono::days{1}) {
    const std::chrono::year_month_day civil{date};
    rows += day(fmt::format("2020,{},{}", static_cast<unsigned>(civil.month()),
                            static_cast<unsigned>(civil.day())),
                fmt::format("{:.1f}", 5.0 + 0.1 * day_of_year(date)));
  }
  auto how = epw_options();
  how.first_needed = parse_time("2023-02-20");
  how.last_needed = parse_time("2024-03-05");
  const auto weather = read_epw(header("1/1,12/31", "Yes") + rows, how);
  const auto degC = [&](const char* time) {
    return weather.air_temperature_K[static_cast<std::size_t>(hours_from_start(weather, time))] -
           273.15;
  };
  // 28 February is day 59 of 2020, the 29th day 60, 1 March day 61.
  EXPECT_NEAR(degC("2023-02-28T12:00"), 10.9, 1e-9);
  EXPECT_NEAR(degC("2023-03-01T12:00"), 11.1, 1e-9);
  EXPECT_NEAR(degC("2024-02-29T12:00"), 11.0, 1e-9);
  EXPECT_NEAR(degC("2024-03-01T12:00"), 11.1, 1e-9);
}

TEST(Epw, NamesWhatIsWrongWithItsLine) {
  const auto with = [](const Row& r) { return header("4/1,4/1") + row("2023,4,1", 1, r); };
  EXPECT_THAT(epw_fault(with({.temperature = "70.5"})),
              HasSubstr("site.epw:9: dry bulb temperature is '70.5' - allowed is -70 to 70 degC, "
                        "99.9 when it is missing"));
  EXPECT_THAT(epw_fault(with({.temperature = "warm"})), HasSubstr("is 'warm'"));
  EXPECT_THAT(epw_fault(with({.temperature = "nan"})), HasSubstr("is 'nan'"));
  EXPECT_THAT(epw_fault(with({.dew_point = "7"})),
              HasSubstr("dew point temperature 7 degC is above"));
  EXPECT_THAT(epw_fault(with({.rain = "-1"})), HasSubstr("liquid precipitation depth is '-1'"));
  EXPECT_THAT(epw_fault(header("4/1,4/1") + row("2023,4,31", 1)),
              HasSubstr("there is no 2023-04-31"));
  EXPECT_THAT(epw_fault(header("4/1,4/1") + row("2023,4,1", 25)), HasSubstr("hour is '25'"));
  EXPECT_THAT(epw_fault(header("4/1,4/1") + row("2023,4,1", 0)), HasSubstr("write 1 to 24"));
  EXPECT_THAT(epw_fault(header("4/1,4/1") + "2023,4,1,1,60,x,5\n"), HasSubstr("has 7 fields"));
  EXPECT_THAT(epw_fault(header("4/1,4/1") + row("2023,4,1", 1) + row("2023,4,1", 1)),
              HasSubstr("is there twice (before in line 9)"));
  EXPECT_THAT(epw_fault(header("4/1,4/2") + day("2023,4,1")),
              HasSubstr("site.epw:8: DATA PERIODS says that the last day is 04-02"));
  EXPECT_THAT(epw_fault(header("4/1,4/1")), HasSubstr("has no rows"));
  EXPECT_THAT(epw_fault(""), HasSubstr("is empty"));
  EXPECT_THAT(epw_fault("date,tmin\n"), HasSubstr("is no LOCATION line"));
  EXPECT_THAT(epw_fault(header("4/1,4/1", "No", "-47.5,12,1,420") + day("2023,4,1")),
              HasSubstr("the weather is at latitude -47.5, the site at 47.5 deg"));
  EXPECT_THAT(epw_fault(header("4/1,4/1", "No", "47.5,12,15,420") + day("2023,4,1")),
              HasSubstr("the time zone of LOCATION is '15'"));
  EXPECT_THAT(epw_fault("LOCATION,x\n" + day("2023,4,1")), HasSubstr("LOCATION has 2 fields"));
  auto how = epw_options();
  how.last_needed = parse_time("2023-04-03");
  EXPECT_THAT(epw_fault(header("4/1,4/1") + day("2023,4,1"), how), HasSubstr("needed is"));
}

TEST(Epw, OneRecordAnHourIsRead) {
  std::string text = header("4/1,4/1") + day("2023,4,1");
  text.replace(text.find("PERIODS,1,1"), 11, "PERIODS,1,4");
  EXPECT_THAT(epw_fault(text), HasSubstr("site.epw:8: has 4 records an hour"));
  text.replace(text.find("PERIODS,1,4"), 11, "PERIODS,1,x");
  EXPECT_THAT(epw_fault(text), HasSubstr("site.epw:8: has an unknown number of records an hour"));
}

TEST(Epw, IsKnownByItsLines) {
  EXPECT_TRUE(is_epw(header("4/1,4/1")));
  EXPECT_TRUE(is_epw("\xEF\xBB\xBF" + header("4/1,4/1")));
  EXPECT_FALSE(is_epw("location,date,precipitation\n"));
}

TEST(Epw, SurvivesEveryCut) {
  const std::string text = header("4/1,4/1") + day("2023,4,1");
  int refused = 0;
  for (std::size_t length = 0; length < text.size(); ++length) {
    refused += epw_fault(text.substr(0, length)).empty() ? 0 : 1;
  }
  // All but the cuts between a row's rain and its end, seven bytes in each of 24 rows.
  EXPECT_GE(refused, static_cast<int>(text.size()) - 7 * 24);
}

} // namespace
