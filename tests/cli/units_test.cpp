#include "cli/input/units.hpp"

#include "cli/input/pile_keys.hpp"
#include "engine/nearest.hpp"

#include <cmath>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

using ::testing::HasSubstr;
using enum Dimension;

struct Good {
  const char* text;
  Dimension dimension;
  double si;
};

// Expected values are the definitions of the units written out. At most ten roundings of 1.1e-16
// each lie between a definition and either side of the comparison, so 2e-15 of the value is room
// enough and far below the 1e-3 by which neighbouring units (US and metric) differ.
TEST(ParseQuantity, GivesTheSiValueOfEveryWrittenForm) {
  constexpr double lb = 0.45359237;
  constexpr double ft = 0.3048;
  constexpr double yd3 = 0.9144 * 0.9144 * 0.9144;
  for (const Good& good : std::vector<Good>{
           {"1.5 m3", volume, 1.5},
           {"1.5m3", volume, 1.5},
           {"  1.5   m³ ", volume, 1.5},
           {"1.5 m^3", volume, 1.5},
           {"2.5 yd3", volume, 2.5 * yd3},
           {"2.5 cu yd", volume, 2.5 * yd3},
           {"3 cubic feet", volume, 3 * ft * ft * ft},
           {"12 L", volume, 0.012},
           {"12 litres", volume, 0.012},
           {"5 gal", volume, 5 * 231 * 0.0254 * 0.0254 * 0.0254},
           {"420 kg", mass, 420},
           {"420 KG", mass, 420},
           {"40 lb", mass, 40 * lb},
           {"2 short tons", mass, 4000 * lb},
           {"2 t", mass, 2000},
           {"+2 t", mass, 2000},
           {"1e3 g", mass, 1},
           {"20 cm", length, 0.2},
           {"5 ft", length, 5 * ft},
           {"5'", length, 5 * ft},
           {"130 degF", temperature, (130 - 32) * 5.0 / 9.0 + 273.15},
           {"130 °F", temperature, (130 - 32) * 5.0 / 9.0 + 273.15},
           {"-40 F", temperature, -40 + 273.15},
           {"55 degC", temperature, 328.15},
           {"55 °C", temperature, 328.15},
           {"300 K", temperature, 300},
           {"18 degF", temperature_difference, 10},
           {"8 degC", temperature_difference, 8},
           {"3 weeks", time, 21 * 86400.0},
           {"1 day", time, 86400},
           {"90 min", time, 5400},
           {"1 year", time, 365.25 * 86400},
           {"36 m3/h", volume_flow, 0.01},
           {"60 cfm", volume_flow, ft * ft * ft},
           {"36 km/h", speed, 10},
           {"60 %", fraction, 0.6},
           {"60%", fraction, 0.6},
           {"60 percent", fraction, 0.6},
           {"800 lb/yd3", mass_density, 800 * lb / yd3},
           {"0.5 kg/L", mass_density, 500},
           {"4 W/m2/K", heat_conductance, 4},
           {"4 W/(m2 K)", heat_conductance, 4},
           {"0.1 W/(m·K)", conductivity, 0.1},
           {"180 deg", angle, 3.14159265358979323846},
           {"25.4 mm", depth_of_water, 0.0254},
           {"1 in", depth_of_water, 0.0254},
           {"86.4 %/day", rate_per_day, 1e-5},
           {"0.0864 1/d", rate_per_day, 1e-6},
           {"0.0864 per day", rate_per_day, 1e-6},
           {"60 % wet", fraction_wet, 0.6},
           {"60 %", fraction_wet, 0.6},
           {"2.1 % dry", fraction_dry, 0.021},
           {"21 g/kg dry", fraction_dry, 0.021},
           {"12 % of VS", fraction_of_solids, 0.12},
           {"30 % of carbon", fraction_of_carbon, 0.3},
           {"10 % of nitrogen", fraction_of_nitrogen, 0.1},
           {"2.6 kg/kg", water_ratio, 2.6},
           {"36 mmol O2/kg OM/h", respiration, 1e-5},
           {"36 mmol/kg/h", respiration, 1e-5},
           {"31.998 mg O2/g/h", respiration, 1.0 / 3600},
           {"31998 mg O2/kg VS/h", respiration, 1.0 / 3600},
           {"12.011 mg CO2-C/g OM/d", respiration, 1.0 / 86400},
           {"44.009 mg CO2/g/day", respiration, 1.0 / 86400},
           {"7.5", acidity, 7.5},
           {"7.5 pH", acidity, 7.5},
           {"25", ratio, 25},
           {"25:1", ratio, 25},
       }) {
    SCOPED_TRACE(good.text);
    EXPECT_NEAR(parse_quantity(good.text, good.dimension), good.si, 2e-15 * std::abs(good.si));
  }
}

TEST(ParseQuantity, ExampleOfEveryDimensionParses) {
  for (int i = 0; i < static_cast<int>(Dimension::count); ++i) {
    const auto dimension = static_cast<Dimension>(i);
    SCOPED_TRACE(dimension_info(dimension).noun);
    EXPECT_TRUE(std::isfinite(parse_quantity(dimension_info(dimension).example, dimension)));
  }
}

TEST(ParseQuantity, EveryShownUnitNameIsUnderstood) {
  for (int i = 0; i < static_cast<int>(Dimension::count); ++i) {
    const auto dimension = static_cast<Dimension>(i);
    EXPECT_FALSE(unit_names(dimension).empty());
    for (const std::string& name : unit_names(dimension)) {
      SCOPED_TRACE(name);
      EXPECT_TRUE(std::isfinite(parse_quantity("1 " + name, dimension)));
    }
  }
}

struct Bad {
  const char* text;
  Dimension dimension;
  const char* what;
  const char* remedy;
};

TEST(ParseQuantity, SaysWhatIsWrongAndWhatToWrite) {
  for (const Bad& bad : std::vector<Bad>{
           {"", volume, "nothing is written", "\"1.5 m3\""},
           {"  ", volume, "nothing is written", "\"1.5 m3\""},
           {"1.5", volume, "\"1.5\" has no unit", "(m3, L, mL, yd3, ft3, gal, qt, pt, bu)"},
           {"60", fraction, "\"60\" has no unit", "\"60 %\""},
           {"m3", volume, "does not start with a number", "\"1.5 m3\""},
           {"nan m3", volume, "does not start with a number", "\"1.5 m3\""},
           {"inf m3", volume, "does not start with a number", "\"1.5 m3\""},
           {"-inf m3", volume, "does not start with a number", "\"1.5 m3\""},
           {"+-1 m3", volume, "does not start with a number", "\"1.5 m3\""},
           {"0x1F m3", volume, "hexadecimal", "decimal"},
           {"1,5 m3", volume, "has a comma in its number", "\"1.5\""},
           {"1,200 kg", mass, "has a comma in its number", "\"1200\""},
           {"1 200 kg", mass, "has its number in pieces", "\"1200\""},
           {"1.2.3 kg", mass, "has its number in pieces", "\"1200\""},
           {"1/2 yd3", volume, "written as a fraction", "\"0.5\""},
           {"1e999 m3", volume, "too large or too small", "\"1.5 m3\""},
           {"1e308 t", mass, "too large to hold", "\"420 kg\""},
           {"3 tons", mass, "more than one meaning", "\"short ton\" (2000 lb)"},
           {"5 kg", volume, "is a mass, but a volume is needed", "\"1.5 m3\""},
           {"5 m", time, "is a length, but a time is needed", "\"3 days\""},
           {"5 ft 6 in", length, "more than one number", "\"1.2 m\""},
           {"3 weks", time, "did you mean \"weeks\"?", "\"3 days\""},
           {"3 wibble", time, "\"wibble\" in \"3 wibble\" is not a known unit", "\"3 days\""},
           {"3 kg kg", mass, "not a known unit", "\"420 kg\""},
           {"2.1 %", fraction_dry, "is a share, but a share of the dry matter", "\"2.1 % dry\""},
           {"12 barrows", volume, "not a known unit", "\"1.5 m3\""},
       }) {
    SCOPED_TRACE(bad.text);
    try {
      const double value = parse_quantity(bad.text, bad.dimension);
      ADD_FAILURE() << "accepted as " << value;
    } catch (const UnitError& error) {
      EXPECT_THAT(error.what(), HasSubstr(bad.what));
      EXPECT_THAT(error.remedy(), HasSubstr(bad.remedy));
    }
  }
}

UnitTable farm_measures() {
  UnitTable table;
  table.add_measure("barrow", {.m3 = 0.09});
  table.add_measure("sack", {.kg = 25});
  table.add_measure("box", {.m3 = 0.02});
  return table;
}

TEST(ParseAmount, TakesMassVolumeAndOwnMeasures) {
  const UnitTable table = farm_measures();
  EXPECT_DOUBLE_EQ(parse_amount("420 kg", table).kg, 420);
  EXPECT_TRUE(std::isnan(parse_amount("420 kg", table).m3));
  EXPECT_DOUBLE_EQ(parse_amount("1.5 m3", table).m3, 1.5);
  EXPECT_TRUE(std::isnan(parse_amount("1.5 m3", table).kg));
  EXPECT_DOUBLE_EQ(parse_amount("12 barrows", table).m3, 12 * 0.09);
  EXPECT_DOUBLE_EQ(parse_amount("1 Barrow", table).m3, 0.09);
  EXPECT_DOUBLE_EQ(parse_amount("3 boxes", table).m3, 3 * 0.02);
  EXPECT_DOUBLE_EQ(parse_amount("2 sacks", table).kg, 2 * 25);
  EXPECT_DOUBLE_EQ(parse_amount("0 kg", table).kg, 0);
}

TEST(ParseAmount, RefusesWhatIsNoAmount) {
  const UnitTable table = farm_measures();
  for (const char* text : {"-1 kg", "12", "12 metres", "barrow", "2 barows"}) {
    SCOPED_TRACE(text);
    EXPECT_THROW((void)parse_amount(text, table), UnitError);
  }
  try {
    (void)parse_amount("2 barows", table);
    ADD_FAILURE() << "accepted";
  } catch (const UnitError& error) {
    EXPECT_THAT(error.what(), HasSubstr("did you mean \"barrow\"?"));
    EXPECT_THAT(error.remedy(), HasSubstr("barrow"));
  }
}

TEST(ParseQuantity, TakesOwnMeasuresOfItsDimension) {
  const UnitTable table = farm_measures();
  EXPECT_DOUBLE_EQ(parse_quantity("2 barrows", volume, table), 0.18);
  EXPECT_DOUBLE_EQ(parse_quantity("2 sacks", mass, table), 50);
  EXPECT_THROW((void)parse_quantity("2 sacks", volume, table), UnitError);
  EXPECT_THROW((void)parse_quantity("2 sacks", time, table), UnitError);
}

TEST(UnitTable, RefusesBadMeasures) {
  UnitTable table = farm_measures();
  EXPECT_THROW(table.add_measure("", {.m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("2nd barrow", {.m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("barrow", {.m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("Barrows", {.m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("gallon", {.m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("ton", {.kg = 1}), UnitError);
  EXPECT_THROW(table.add_measure("crate", {}), UnitError);
  EXPECT_THROW(table.add_measure("crate", {.kg = 1, .m3 = 1}), UnitError);
  EXPECT_THROW(table.add_measure("crate", {.m3 = 0}), UnitError);
  EXPECT_THROW(table.add_measure("crate", {.m3 = -1}), UnitError);
}

TEST(ParseNumber, TakesANumberAlone) {
  EXPECT_DOUBLE_EQ(parse_number(" -1.5e2 "), -150);
  EXPECT_THROW((void)parse_number("1.5 m"), UnitError);
  EXPECT_THROW((void)parse_number("1,5"), UnitError);
  EXPECT_THROW((void)parse_number("nan"), UnitError);
}

/// A US way of writing each dimension that has one, with its SI value.
const std::map<Dimension, std::pair<std::string, double>>& us_quantities() {
  constexpr double lb = 0.45359237;
  constexpr double in = 0.0254;
  constexpr double ft3 = 1728 * in * in * in;
  constexpr double btu_h = 1055.05585262 / 3600;
  static const std::map<Dimension, std::pair<std::string, double>> quantities = {
      {mass, {"2 short tons", 4000 * lb}},
      {volume, {"5 cubic yards", 5 * 27 * ft3}},
      {length, {"4 ft", 48 * in}},
      {area, {"100 sq ft", 100 * 144 * in * in}},
      {temperature, {"131 degF", 328.15}},
      {temperature_difference, {"9 degF", 5}},
      {volume_flow, {"12 cfm", 12 * ft3 / 60}},
      {speed, {"10 mph", 10 * 63360 * in / 3600}},
      {mass_density, {"800 lb/yd3", 800 * lb / (27 * ft3)}},
      {heat_conductance, {"1 Btu/h/ft2/degF", btu_h / (144 * in * in) * 1.8}},
      {conductivity, {"1 Btu/h/ft/degF", btu_h / (12 * in) * 1.8}},
      {depth_of_water, {"1.5 in", 1.5 * in}},
      {water_ratio, {"2.6 lb/lb", 2.6}},
      {fraction, {"0.6 lb/lb", 0.6}}};
  return quantities;
}

TEST(ParseQuantity, TakesUsUnitsWhereverTheyDiffer) {
  for (const auto& [dimension, quantity] : us_quantities()) {
    EXPECT_NEAR(parse_quantity(quantity.first, dimension), quantity.second, 2e-15 * quantity.second)
        << quantity.first;
  }
  for (const auto& [text, dimension] :
       std::vector<std::pair<std::string, Dimension>>{{"20 lb", mass},
                                                      {"300 gal", volume},
                                                      {"3 cubic feet", volume},
                                                      {"2 bu", volume},
                                                      {"6 in", length},
                                                      {"20 yd", length},
                                                      {"30 lb/ft3", mass_density},
                                                      {"8 lb/gal", mass_density},
                                                      {"5 gal/min", volume_flow},
                                                      {"150 gal/h", volume_flow},
                                                      {"40 yd3/h", volume_flow}}) {
    EXPECT_NO_THROW((void)parse_quantity(text, dimension)) << text;
  }
  EXPECT_DOUBLE_EQ(parse_quantity("40 yd3/h", volume_flow),
                   parse_quantity("40 yd3", volume) / 3600);
}

// Every key of the pile file is of a dimension with US units, or of one that has the same units
// there: times, angles, shares, pH, ratios and the laboratory's respiration rates.
TEST(PileKeys, EveryQuantityTakesUsUnits) {
  for (const Key& key : pile_keys()) {
    const bool measured = key.kind == ValueKind::quantity || key.kind == ValueKind::monthly ||
                          key.kind == ValueKind::property;
    if (!measured || us_quantities().contains(key.dimension)) {
      continue;
    }
    const bool same_everywhere =
        key.dimension == time || key.dimension == angle || key.dimension == rate_per_day ||
        key.dimension == acidity || key.dimension == ratio ||
        (key.dimension >= fraction_wet && key.dimension <= fraction_of_nitrogen);
    EXPECT_TRUE(same_everywhere) << key.section << "." << key.name;
  }
}

TEST(EditDistance, CountsInsertDeleteReplaceAndSwap) {
  EXPECT_EQ(engine::edit_distance("", ""), 0U);
  EXPECT_EQ(engine::edit_distance("straw", "Straw"), 0U);
  EXPECT_EQ(engine::edit_distance("straw", "strw"), 1U);
  EXPECT_EQ(engine::edit_distance("strw", "straw"), 1U);
  EXPECT_EQ(engine::edit_distance("straw", "strow"), 1U);
  EXPECT_EQ(engine::edit_distance("straw", "starw"), 1U);
  EXPECT_EQ(engine::edit_distance("hay", "bark"), 3U);
  EXPECT_EQ(engine::edit_distance("", "bark"), 4U);
}

TEST(Nearest, FindsTheMeantWordOrNone) {
  const std::vector<std::string> names = {"moisture", "nitrogen", "carbon"};
  EXPECT_EQ(engine::nearest("mositure", names), "moisture");
  EXPECT_EQ(engine::nearest("Nitrogn", names), "nitrogen");
  EXPECT_EQ(engine::nearest("colour", names), "");
  EXPECT_EQ(engine::nearest("", names), "");
  EXPECT_EQ(engine::nearest("carbon", {}), "");
}

} // namespace
} // namespace heapcast::cli
