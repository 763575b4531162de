#include "models/weather/columns.hpp"

#include <gtest/gtest.h>

#include <set>

namespace {

using namespace heapcast::models;

double in_si(WeatherDimension dimension, const char* unit_text, double number) {
  const auto* unit = find_weather_unit(dimension, unit_text);
  if (unit == nullptr) {
    ADD_FAILURE() << "no unit " << unit_text;
    return 0.0;
  }
  return number * unit->factor + unit->offset;
}

TEST(WeatherUnits, ConvertMetricAndUsCustomary) {
  using enum WeatherDimension;
  // One rounding in the factor and one in the sum each: 4 ulp covers them (EXPECT_DOUBLE_EQ).
  EXPECT_DOUBLE_EQ(in_si(temperature, "degC", 20.0), 293.15);
  EXPECT_DOUBLE_EQ(in_si(temperature, "degF", 68.0), 293.15);
  EXPECT_DOUBLE_EQ(in_si(temperature, "K", 293.15), 293.15);
  EXPECT_DOUBLE_EQ(in_si(water, "in", 2.0), 50.8);
  EXPECT_DOUBLE_EQ(in_si(speed, "km/h", 36.0), 10.0);
  EXPECT_DOUBLE_EQ(in_si(speed, "mph", 10.0), 4.4704);
  EXPECT_DOUBLE_EQ(in_si(speed, "kn", 3600.0), 1852.0);
  EXPECT_DOUBLE_EQ(in_si(share, "%", 50.0), 0.5);
  EXPECT_DOUBLE_EQ(in_si(share, "tenths", 3.0), 0.3);
  EXPECT_DOUBLE_EQ(in_si(pressure, "hPa", 1013.0), 101300.0);
  EXPECT_DOUBLE_EQ(in_si(radiation, "MJ/m2/d", 8.64), 100.0);
  EXPECT_DOUBLE_EQ(in_si(radiation, "kWh/m2/d", 2.4), 100.0);
  EXPECT_DOUBLE_EQ(in_si(radiation, "MJ/m2/h", 3.6), 1000.0);
  EXPECT_DOUBLE_EQ(in_si(time, "min", 90.0), 1.5);
}

TEST(WeatherUnits, AreKnownHoweverTheyAreWritten) {
  using enum WeatherDimension;
  EXPECT_NE(find_weather_unit(temperature, "\xC2\xB0"
                                           "C"),
            nullptr); // degree sign in UTF-8
  EXPECT_NE(find_weather_unit(temperature, "\xB0"
                                           "F"),
            nullptr); // and in Latin-1
  EXPECT_NE(find_weather_unit(radiation, "W/m\xC2\xB2"), nullptr);
  EXPECT_NE(find_weather_unit(radiation, "MJ m-2 d-1"), nullptr);
  EXPECT_NE(find_weather_unit(radiation, "mj_m2_d"), nullptr);
  EXPECT_NE(find_weather_unit(speed, "m_s"), nullptr);
  EXPECT_EQ(find_weather_unit(speed, "mm"), nullptr);
  EXPECT_EQ(find_weather_unit(speed, ""), nullptr);
}

TEST(WeatherColumns, AreKnownByNameAliasAndUnit) {
  struct Case {
    const char* text;
    const char* column;
    const char* unit;
  };
  for (const auto& [text, column, unit] :
       {Case{"tmin [degC]", "tmin", "degC"}, Case{"Temp_Max (F)", "tmax", "F"},
        Case{"rain_mm", "rain", "mm"}, Case{"wind_m_s", "wind", "m_s"},
        Case{"radiation_MJ_m2_d", "radiation", "mj_m2_d"}, Case{"Dew Point [K]", "dew_point", "K"},
        Case{"precipitation", "rain", ""}, Case{"humidity_min [%]", "humidity_min", "%"},
        Case{"temp_c", "temperature", "c"}}) {
    const auto cell = read_header_cell(text);
    ASSERT_NE(cell.column, nullptr) << text;
    EXPECT_EQ(cell.column->name, column) << text;
    EXPECT_EQ(cell.unit, unit) << text;
  }
  for (const char* text : {"", "[mm]", "weather", "wind_direction", "rain_type", "]", "([)"}) {
    EXPECT_EQ(read_header_cell(text).column, nullptr) << text;
  }
}

TEST(WeatherColumns, HaveOneNameEachAndAUnitOfTheirOwn) {
  std::set<std::string_view> names;
  for (const auto& column : weather_columns()) {
    EXPECT_TRUE(names.insert(column.name).second) << column.name;
    EXPECT_NE(find_weather_unit(column.dimension, column.unit), nullptr) << column.name;
    EXPECT_TRUE(column.has(SeriesStep::day) || column.has(SeriesStep::hour)) << column.name;
    EXPECT_EQ(find_weather_column(column.name), &column);
  }
}

} // namespace
