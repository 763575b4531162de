#include "cli/display_units.hpp"

#include "cli/input/units.hpp"

#include <gtest/gtest.h>

#include <string>
#include <utility>
#include <vector>

namespace heapcast::cli {
namespace {

constexpr DisplayUnits metric = DisplayUnits::metric;
constexpr DisplayUnits us = DisplayUnits::us;

// Factors are products and quotients of a few exact definitions: ten roundings of 1.1e-16.
void expect_shown(double value, const std::string& unit, double wanted, const std::string& name) {
  const DisplayUnit shown = display_unit(unit, us);
  EXPECT_EQ(shown.name, name) << unit;
  EXPECT_NEAR(shown(value), wanted, 2e-15 * std::max(1.0, wanted) * 100) << unit;
}

TEST(DisplayUnit, IsTheUsUnitByItsDefinition) {
  constexpr double ft = 0.3048;
  constexpr double yd3 = 27 * ft * ft * ft;
  expect_shown(100, "degC", 212, "degF");
  expect_shown(-40, "degC", -40, "degF");
  expect_shown(0.45359237, "kg", 1, "lb");
  expect_shown(907.18474 / 1000, "t", 1, "short ton");
  expect_shown(0.45359237 / 16 * 1000, "g", 1, "oz");
  expect_shown(yd3, "m3", 1, "yd3");
  expect_shown(3.785411784, "L", 1, "gal");
  expect_shown(3 * ft, "m", 3, "ft");
  expect_shown(2.54, "cm", 1, "in");
  expect_shown(25.4, "mm", 1, "in");
  expect_shown(0.44704, "m/s", 1, "mph");
  expect_shown(0.45359237 / yd3, "kg/m3", 1, "lb/yd3");
  expect_shown(60 * ft * ft * ft, "m3/h", 1, "cfm");
  expect_shown(60 * ft * ft * ft, "m3 h-1", 1, "cfm");
  expect_shown(25.4, "mm h-1", 1, "in h-1");
  expect_shown(50.8, "mm/day", 2, "in/day");
}

// 10 degrees more are 18 degrees more, not 50.
TEST(DisplayUnit, OfADifferenceOfTemperaturesHasNoZeroOfItsOwn) {
  expect_shown(10, "K", 18, "degF");
  EXPECT_EQ(display_unit("K", us).offset, 0.0);
  EXPECT_DOUBLE_EQ(display_unit("degC", us)(10), 50);
}

TEST(DisplayUnit, LeavesWhatHasNoCounterpart) {
  for (const std::string unit : {"%", "1", "h", "day", "pH", "mmol O2/kg OM/h", "kg/kg", ""}) {
    for (const DisplayUnits units : {metric, us}) {
      const DisplayUnit same = display_unit(unit, units);
      EXPECT_EQ(same.name, unit);
      EXPECT_EQ(same(3.25), 3.25) << unit;
    }
  }
  EXPECT_EQ(display_unit("degC", metric)(55), 55);
}

// What is shown can be written into a pile file again.
TEST(DisplayUnit, NamesAUnitThatIsRead) {
  for (const auto& [unit, dimension] :
       std::vector<std::pair<std::string, Dimension>>{{"degC", Dimension::temperature},
                                                      {"K", Dimension::temperature_difference},
                                                      {"kg", Dimension::mass},
                                                      {"t", Dimension::mass},
                                                      {"m3", Dimension::volume},
                                                      {"L", Dimension::volume},
                                                      {"m", Dimension::length},
                                                      {"mm", Dimension::length},
                                                      {"m/s", Dimension::speed},
                                                      {"kg/m3", Dimension::mass_density},
                                                      {"m3/h", Dimension::volume_flow}}) {
    EXPECT_NO_THROW((void)parse_quantity("1 " + display_unit(unit, us).name, dimension)) << unit;
  }
}

TEST(InDisplayUnits, TurnsEveryQuantityOfASentence) {
  for (const auto& [text, wanted] : std::vector<std::pair<std::string, std::string>>{
           {"hottest place 69 °C, 3.7 m high", "hottest place 156 °F, 12 ft high"},
           {"days above 55 °C", "days above 131 °F"},
           {"55.0 to 76.7 degC without a break", "131.0 to 170.1 degF without a break"},
           {"self-heating is 9.1 K, 30 K or less", "self-heating is 16.4 °F, 54 °F or less"},
           {"583 g of nitrogen leaves", "20.6 oz of nitrogen leaves"},
           {"12 litres drain out", "3.2 gallons drain out"},
           {"particles of 12 mm or less", "particles of 0.47 in or less"},
           {"covered with 20 cm of straw", "covered with 7.9 in of straw"},
           {"weighs 300 kg/m3", "weighs 506 lb/yd3"},
           {"-5 degC", "23 degF"},
           {"(0 °C)", "(32 °F)"}}) {
    EXPECT_EQ(in_display_units(text, us), wanted);
    EXPECT_EQ(in_display_units(text, metric), text);
    EXPECT_EQ(in_display_units(wanted, us), wanted) << "said twice";
  }
}

TEST(InDisplayUnits, LeavesWhatIsNoQuantity) {
  for (const std::string text :
       {"18 mmol O2/kg OM/h", "EU 2019/1009", "5 more", "7 turns", "8 mg CO2-C/g OM/d",
        "C:N 25 to 40", "days 3 to 10", "R2 m", "1.5.3 kg5", "20 % wet", "10 m/day2", "12 Kilo",
        "72 hours", "5 kg/kg"}) {
    EXPECT_EQ(in_display_units(text, us), text);
  }
}

TEST(UnitSign, IsPlainWithoutUtf8) {
  EXPECT_EQ(unit_sign("degF", true), "°F");
  EXPECT_EQ(unit_sign("degF", false), "degF");
  EXPECT_EQ(unit_sign("yd3", true), "yd³");
  EXPECT_EQ(unit_sign("kg", true), "kg");
}

} // namespace
} // namespace heapcast::cli
