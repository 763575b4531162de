// Default and range of every parameter against parameters.csv. Where the program names or splits a
// parameter otherwise, or takes another default on purpose, the comparison says so.

#include "models/coefficients.hpp"
#include "models/operations/mix.hpp"
#include "models/parameters.hpp"
#include "models/processes/decomposition_law.hpp"
#include "models/properties/ammonia.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/inactivation.hpp"
#include "models/properties/moist_air.hpp"
#include "models/surface/forcing.hpp"
#include "tests/models/pile_fixture.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <string_view>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::ReferenceRow;
using tests::within;
using tests::within_relative;

const CsvTable& table() {
  static const CsvTable parameters("parameters.csv");
  return parameters;
}

/// A number of the row of a symbol, as written there or as read from its text.
ReferenceRow number(const std::string& symbol, const std::string& column, double value) {
  return {symbol,  value,          table().field(table().find("symbol", symbol), "unit"),
          "exact", table().name(), column};
}

ReferenceRow number(const std::string& symbol, const std::string& column) {
  const std::string& text = table().field(table().find("symbol", symbol), column);
  return number(symbol, column, std::stod(text.front() == 'x' ? text.substr(1) : text));
}

void expect_equal(const ReferenceRow& row, double computed, const std::string& why = "") {
  expect_row(row, computed, within(row, 0.0), why);
}

const ParameterRow& parameter(Parameter p) {
  return parameter_table()[static_cast<std::size_t>(p)];
}

void expect_range(const std::string& symbol, const ParameterRow& own) {
  expect_equal(number(symbol, "low"), own.low);
  expect_equal(number(symbol, "high"), own.high);
}

void expect_all(const std::string& symbol, const ParameterRow& own) {
  expect_equal(number(symbol, "default"), own.value);
  expect_range(symbol, own);
}

TEST(ParametersReference, ParametersOfTheSameSymbolHaveTheSameNumbers) {
  const std::set<std::string> as_told_below = {
      "g_s",     "k_M",  "m50,mk", "K_O2",   "B0",  "b20,theta_b", "b_kill", "C_VS",
      "cp_s",    "k_th", "h_c",    "d_e",    "D0",  "shrink",      "settle", "tau_set",
      "rebound", "pKa",  "KH",     "f_free", "WHC", "mix",         "D55,z"};
  std::size_t same = 0;
  for (std::size_t i = 0; i < table().size(); ++i) {
    const std::string& symbol = table().field(i, "symbol");
    if (as_told_below.contains(symbol)) {
      continue;
    }
    const auto found = std::ranges::find(parameter_table(), symbol, &ParameterRow::symbol);
    ASSERT_NE(found, parameter_table().end()) << symbol;
    expect_all(symbol, *found);
    ++same;
  }
  EXPECT_EQ(same + as_told_below.size(), table().size());
}

TEST(ParametersReference, ParametersOfAnotherNameHaveTheSameNumbers) {
  expect_all("cp_s", parameter(Parameter::solids_heat_capacity));
  expect_all("k_th", parameter(Parameter::conductivity_scale));
  expect_all("shrink", parameter(Parameter::shrink));
  expect_all("rebound", parameter(Parameter::turn_rebound));
}

TEST(ParametersReference, PairsOfNumbersAreTwoParameters) {
  expect_equal(number("m50,mk", "first default", 0.40), parameter(Parameter::moisture_mid).value);
  expect_equal(number("m50,mk", "second default", 17.7),
               parameter(Parameter::moisture_slope).value);
  expect_range("m50,mk", parameter(Parameter::moisture_mid));
  expect_equal(number("b20,theta_b", "first default", 0.03),
               parameter(Parameter::decay_rate).value);
  expect_equal(number("b20,theta_b", "second default", 1.05),
               parameter(Parameter::decay_theta).value);
  expect_range("b20,theta_b", parameter(Parameter::decay_rate));
}

TEST(ParametersReference, FormulasAreThoseOfTheirRows) {
  expect_range("K_O2", parameter(Parameter::oxygen_half_scale));
  // Away from the floor of 0.3: 0.79 - 0.041 T + 0.040 m with m in per cent; rounding.
  const double percent = 0.79 - 0.041 * 40.0 + 0.040 * 60.0;
  expect_row(number("K_O2", "at 40 degC and 60 %", percent),
             100.0 * oxygen_half_saturation(
                         {.temperature_K = freezing_K + 40.0, .moisture_wet_basis = 0.6}),
             {percent - 1e-9, percent + 1e-9});
  for (const double celsius : {10.0, 60.0}) {
    const std::string at = "at " + std::to_string(std::lround(celsius)) + " degC";
    const double kelvin = freezing_K + celsius;
    // The digits printed: 5e-6, and 0.005 over T.
    const ReferenceRow pka = number("pKa", at, 0.09018 + 2729.92 / kelvin);
    expect_row(pka, ammonium_pka(kelvin), within(pka, 5e-6 + 0.005 / kelvin));
    // 0.05 over T and 0.005 in the logarithm of base ten.
    const ReferenceRow henry = number("KH", at, std::pow(10.0, 1477.7 / kelvin - 1.69));
    expect_row(henry, ammonia_henry_ratio(kelvin),
               within_relative(henry, std::log(10.0) * (0.05 / kelvin + 0.005)));
  }
  // 2.0e-5 m2/s at 20 degC; chemistry.csv, D_O2_20, has 2.0683e-5.
  const ReferenceRow oxygen = number("D0", "default");
  expect_miss(oxygen, diffusivity_m2_s(Gas::oxygen, 293.15), within(oxygen, 0.05e-5),
              "3.4 % above: the program takes Massman's value at 20 degC (chemistry.csv D_O2_20)");
  // Its exponent is 1.75; the program takes Massman's 1.81 with his diffusivities.
  report_row(number("D0", "exponent of T", 1.75),
             std::log(diffusivity_m2_s(Gas::oxygen, 330.0) / diffusivity_m2_s(Gas::oxygen, 290.0)) /
                 std::log(330.0 / 290.0),
             "the program takes the exponent with the diffusivities it belongs to (chemistry.csv "
             "D_O2)");
}

TEST(ParametersReference, FilmRisesWithTheWindAsInItsRow) {
  expect_range("h_c", parameter(Parameter::surface_film_scale));
  for (const double wind_m_s : {0.0, 2.0}) {
    Weather weather = *tests::mild_heap(1.0).weather;
    std::ranges::fill(weather.wind_m_s, wind_m_s);
    const ReferenceRow row =
        number("h_c", "at " + std::to_string(std::lround(wind_m_s)) + " m/s", 5.7 + 3.8 * wind_m_s);
    expect_row(row, ForcingSeries(weather, 0.0).at(3600.0).film_W_m2K, within(row, 1e-9));
  }
}

TEST(ParametersReference, HeatKillsWithoutAJumpAndSoAlittleLess) {
  expect_range("b_kill", parameter(Parameter::heat_kill));
  Coefficients k(ParameterSet{});
  k.decay_rate_1_s = 0.0; // heat alone
  CarbonPools carbon{};
  carbon.biomass = 1.0;
  const auto rate_1_d = [&](double celsius) {
    return 86400.0 * biomass_decay_kgC_s(k, carbon, freezing_K + celsius);
  };
  EXPECT_EQ(rate_1_d(66.0), 0.0);
  // The row's law jumps to 0.15 exp(0.35 (66 - 72)) at 66 degC; the program takes that jump off.
  report_row(number("b_kill", "at 72 degC", 0.15), rate_1_d(72.0),
             "the row's law less its value at 66 degC, so that it begins without a jump");
  EXPECT_NEAR(rate_1_d(72.0), 0.15 * (1.0 - std::exp(0.35 * -6.0)), 1e-12);
}

TEST(ParametersReference, ScalesOfTheMaterialsTakeThePlaceOfOneNumberForAll) {
  const char* by_material =
      "the program takes the number of each material; the parameter scales them all";
  const auto report_all = [&](const char* symbol, Parameter p) {
    report_row(number(symbol, "default"), parameter(p).value, by_material);
    report_row(number(symbol, "low"), parameter(p).low, by_material);
    report_row(number(symbol, "high"), parameter(p).high, by_material);
    // The scale spans 1 and a range about it.
    EXPECT_LT(parameter(p).low, 1.0);
    EXPECT_GT(parameter(p).high, 1.0);
  };
  report_all("B0", Parameter::biomass_start_scale);
  report_all("d_e", Parameter::flow_size_scale);
  report_all("settle", Parameter::settling_scale);
  report_all("f_free", Parameter::free_ammonia_scale);
  report_all("WHC", Parameter::water_holding_scale);
}

TEST(ParametersReference, SettlingIsThatOfItsRow) {
  expect_all("tau_set", parameter(Parameter::settling_days));
}

TEST(ParametersReference, SkinEvaporatesMoreThanInItsRow) {
  expect_range("g_s", parameter(Parameter::surface_vapour));
  // 0.001 m/s is a skin that is always as dry as dry soil; the program dries it by itself.
  expect_miss(
      number("g_s", "default"), parameter(Parameter::surface_vapour).value,
      within(number("g_s", "default"), 0.0),
      "0.002 m/s in the program in place of 0.001, inside the row's range: with 0.001 a good "
      "mix loses 3.6 kg of water per kg of volatile solids where 4-6.5 are published "
      "(field.csv evap_kg), with 0.002 it loses 5.9");
}

TEST(ParametersReference, MediumPoolIsFasterThanItsRow) {
  expect_range("k_M", parameter(Parameter::medium_rate));
  expect_miss(number("k_M", "default"), parameter(Parameter::medium_rate).value,
              within(number("k_M", "default"), 0.0),
              "0.07 1/d in the program in place of 0.05, inside the row's range: all degradable "
              "volatile solids of municipal waste go at 0.043-0.082 1/d (Baptista et al. 2010)");
  // What that range says of the medium pool: fast, medium and slow of food waste (0.4, 0.35, 0.17
  // of carbon) after 30 days at best conditions, left as exp(-30 k) of their sum.
  const auto left = [](double medium_1_d) {
    return (0.40 * std::exp(-0.5 * 30.0) + 0.35 * std::exp(-medium_1_d * 30.0) +
            0.17 * std::exp(-0.008 * 30.0)) /
           0.92;
  };
  EXPECT_GT(std::exp(-0.043 * 30.0), left(parameter(Parameter::medium_rate).value));
  EXPECT_LT(std::exp(-0.082 * 30.0), left(parameter(Parameter::medium_rate).value));
}

TEST(ParametersReference, EveryMethodOfTurningMixesAsItsRowSays) {
  expect_equal(number("mix", "windrow turner", 0.9), mixing_share(TurnMethod::windrow_turner));
  expect_equal(number("mix", "loader", 0.7), mixing_share(TurnMethod::loader));
  expect_equal(number("mix", "fork", 0.6), mixing_share(TurnMethod::fork));
}

TEST(ParametersReference, DecimalTimeOfTheTwoBacteriaIsThatOfTheRowOrSooner) {
  const auto& ecoli = inactivation_table[static_cast<std::size_t>(Organism::e_coli)];
  const auto& salmonella = inactivation_table[static_cast<std::size_t>(Organism::salmonella)];
  expect_equal(number("D55,z", "D55 of Salmonella", 2.0), salmonella.decimal_time_55_h);
  report_row(number("D55,z", "D55 of E. coli", 2.0), ecoli.decimal_time_55_h,
             "the program takes pathogens.csv, which has 1.5 h for E. coli");
  expect_equal(number("D55,z", "z", 8.0), ecoli.z_K);
  // The row's range is of D55 itself, the program's of its scale.
  const ParameterRow& scale = parameter(Parameter::inactivation_scale);
  report_row(number("D55,z", "low"), scale.low * salmonella.decimal_time_55_h,
             "a scale of D55 by three either way, for every organism");
  report_row(number("D55,z", "high"), scale.high * salmonella.decimal_time_55_h,
             "a scale of D55 by three either way, for every organism");
}

TEST(ParametersReference, CarbonOfVolatileSolidsIsLeftToTheMaterials) {
  EXPECT_TRUE(tests::reason_left_out("parameters.csv", "C_VS"));
}

} // namespace
} // namespace heapcast::models
