#include "models/properties/heat.hpp"

#include "models/properties/free_air_space.hpp"
#include "tests/reference_csv.hpp"
#include "tests/steps.hpp"

#include <algorithm>
#include <initializer_list>
#include <string>
#include <vector>

namespace heapcast::models {
namespace {

const std::vector<HeatContent> contents = {
    {240.0, 360.0, 1400.0}, {0.001, 0.0, 1100.0}, {0.0, 5.0, 1400.0}, {3.0, 20.0, 1800.0}};

TEST(Heat, EnthalpyIsZeroAtFreezingWithAllWaterLiquid) {
  for (const auto& content : contents) {
    EXPECT_EQ(enthalpy_J(content, freezing_K), 0.0);
    EXPECT_EQ(temperature_K(content, 0.0), freezing_K);
  }
}

TEST(Heat, TemperatureUndoesEnthalpy) {
  // 1e-10 K: temperatures near 300 K carry 6e-14 K of rounding, a few operations long.
  for (const auto& content : contents) {
    for (const double T : tests::steps(230.0, 369.91, 0.17)) {
      EXPECT_NEAR(temperature_K(content, enthalpy_J(content, T)), T, 1e-10);
    }
  }
}

TEST(Heat, EnthalpyIsContinuousAndRises) {
  for (const auto& content : contents) {
    for (const double corner_K : {freezing_K, freezing_K - 1.0}) {
      const double jump_J =
          enthalpy_J(content, corner_K + 1e-9) - enthalpy_J(content, corner_K - 1e-9);
      EXPECT_GT(jump_J, 0.0);
      // What the larger capacity takes up over the 2e-9 K, and 1e-4 of it for the rounding of T.
      EXPECT_LE(jump_J, heat_capacities_J_K(content).freezing * 2e-9 * 1.0001 +
                            heat_capacities_J_K(content).thawed * 2e-9);
    }
    for (const double T : tests::steps(240.0, 289.95, 0.05)) {
      EXPECT_LT(enthalpy_J(content, T), enthalpy_J(content, T + 0.05));
    }
  }
}

TEST(Heat, CapacityIsTheSlopeOfEnthalpy) {
  for (const auto& content : contents) {
    for (const double T : {250.0, 271.0, 272.65, 280.0, 340.0}) {
      const double slope_J_K = (enthalpy_J(content, T + 0.1) - enthalpy_J(content, T - 0.1)) / 0.2;
      // Linear on either side, so only rounding of H over 0.2 K: 1e-9 of the slope is ample.
      EXPECT_NEAR(heat_capacity_J_K(content, T) / slope_J_K, 1.0, 1e-9) << T;
    }
  }
}

TEST(Heat, IceFollowsTemperature) {
  EXPECT_EQ(ice_fraction(freezing_K + 20.0), 0.0);
  EXPECT_EQ(ice_fraction(freezing_K), 0.0);
  // 0.5 K below 273.15 is exact to 6e-14.
  EXPECT_NEAR(ice_fraction(freezing_K - 0.5), 0.35, 1e-12);
  EXPECT_DOUBLE_EQ(ice_fraction(freezing_K - 1.0), 0.7);
  EXPECT_DOUBLE_EQ(ice_fraction(freezing_K - 30.0), 0.7);
}

TEST(Heat, FreezingReleasesTheLatentHeatOfTheIceThatForms) {
  // 10 kg of water alone from +10 to −10 °C, piece by piece: liquid 10 K; over the freezing kelvin
  // the mean of 0 and 70 % ice and the fusion of 7 kg; 9 K with 3 kg liquid and 7 kg ice.
  const double expected_J = 10.0 * 4186.0 * 10.0 + (6.5 * 4186.0 + 3.5 * 2050.0) * 1.0 +
                            7.0 * 333.55e3 + (3.0 * 4186.0 + 7.0 * 2050.0) * 9.0;
  const HeatContent water{0.0, 10.0, 1400.0};
  // Relative rounding of a handful of additions.
  EXPECT_NEAR(enthalpy_J(water, freezing_K + 10.0) - enthalpy_J(water, freezing_K - 10.0),
              expected_J, 1e-9 * expected_J);
}

/// Checks the least and the largest of some values against the two rows of a range: each must lie
/// between the two.
void expect_in_range(const char* low_id, const char* high_id, const std::vector<double>& values) {
  const tests::CsvTable table("physics_water_air.csv");
  const tests::ReferenceRow low = tests::reference_row(table, std::string(low_id));
  const tests::ReferenceRow high = tests::reference_row(table, std::string(high_id));
  const auto [least, largest] = std::minmax_element(values.begin(), values.end());
  expect_row(low, *least, {low.value, high.value}, "least of nine mixes");
  expect_row(high, *largest, {low.value, high.value}, "largest of nine mixes");
}

TEST(Heat, ConductivityLiesInsideMeasuredRanges) {
  const auto conductivities = [](std::initializer_list<double> densities_kg_m3,
                                 std::initializer_list<double> moistures) {
    std::vector<double> values;
    for (const double density_kg_m3 : densities_kg_m3) {
      for (const double moisture : moistures) {
        values.push_back(
            conductivity_W_mK({density_kg_m3 * moisture / water_density_kg_m3,
                               density_kg_m3 * (1.0 - moisture) / organic_density_kg_m3}));
      }
    }
    return values;
  };
  // Wet dense mixes at 500–1000 kg/m3 and 50–70 % moisture, organic solids of 1450 kg/m3.
  expect_in_range("k_comp_lo", "k_comp_hi",
                  conductivities({500.0, 750.0, 1000.0}, {0.5, 0.6, 0.7}));
  // Straw, hay and shavings at 30–150 kg/m3 and 10–60 % moisture.
  expect_in_range("k_straw_lo", "k_straw_hi",
                  conductivities({30.0, 90.0, 150.0}, {0.1, 0.35, 0.6}));
}

TEST(Heat, CapacityLiesInsideMeasuredRange) {
  // A cubic metre of the wet dense mixes above, from 500 to 1000 kg/m3.
  std::vector<double> capacities_MJ_m3K;
  for (const double density_kg_m3 : {500.0, 750.0, 1000.0}) {
    for (const double moisture : {0.5, 0.6, 0.7}) {
      const HeatContent content{density_kg_m3 * (1.0 - moisture), density_kg_m3 * moisture, 1400.0};
      capacities_MJ_m3K.push_back(1e-6 * heat_capacity_J_K(content, freezing_K + 20.0));
    }
  }
  expect_in_range("C_comp_lo", "C_comp_hi", capacities_MJ_m3K);
}

} // namespace
} // namespace heapcast::models
