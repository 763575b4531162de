// Respiration on every scale and the published classes, against validation/reference/stability.csv.

#include "models/readiness/respiration.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::reference_row;
using tests::ReferenceRow;

ReferenceRow stability_row(const std::string& id) {
  static const CsvTable table("stability.csv");
  return reference_row(table, id);
}

// A few roundings in the last place.
constexpr double rounding = 1e-14;

TEST(Respiration, LimitOfOxygenUptakeConvertsToMassAndCarbon) {
  const Respiration limit = Respiration::from_mmolO2_kg_h(25.0);
  expect_row(stability_row("our25_mg"), limit.mgO2_g_h());
  // 25 x 24 x 12.011/1000 = 7.2066, given to four digits.
  expect_row(stability_row("our25_c"), limit.mgC_g_d(), within(stability_row("our25_c"), 5e-4));
}

TEST(Respiration, CarbonDioxideConvertsToItsCarbon) {
  const double written = stability_row("pas100_co2").value;
  // The row's own 0.01; in fact 16 x 12.011/44.009 = 4.36675, given to four digits.
  expect_row(stability_row("pas100_co2c"), Respiration::from_mgCO2_g_d(written).mgC_g_d(),
             within(stability_row("pas100_co2c"), 5e-4));
}

TEST(Respiration, DynamicIndexIsOxygenByTheKilogram) {
  // 1000 mg O2/kg VS/h = 1 mg/g/h = 1/0.031998 mmol/kg/h.
  const Respiration limit = Respiration::from_mgO2_kg_h(stability_row("dri_1000").value);
  EXPECT_NEAR(limit.mgO2_g_h(), 1.0, rounding);
  EXPECT_NEAR(limit.mmolO2_kg_h(), 1.0 / 0.031998, 100.0 * rounding);
}

TEST(Respiration, EveryScaleGoesThereAndBack) {
  constexpr double value = 17.3;
  EXPECT_NEAR(Respiration::from_mmolO2_kg_h(value).mmolO2_kg_h(), value, value * rounding);
  EXPECT_NEAR(Respiration::from_mgO2_g_h(value).mgO2_g_h(), value, value * rounding);
  EXPECT_NEAR(Respiration::from_mgO2_kg_h(value).mgO2_kg_h(), value, value * rounding);
  EXPECT_NEAR(Respiration::from_mgC_g_d(value).mgC_g_d(), value, value * rounding);
  EXPECT_NEAR(Respiration::from_mgCO2_g_d(value).mgCO2_g_d(), value, value * rounding);
  EXPECT_EQ(Respiration::from_mol_kg_s(value).mol_kg_s(), value);
}

/// The class of this name; its value just at the upper edge lies in it, beyond no more.
const StabilityClass& named(std::span<const StabilityClass> classes, std::string_view name) {
  const auto found = std::ranges::find(classes, name, &StabilityClass::name);
  if (found == classes.end()) {
    throw std::out_of_range(std::string(name));
  }
  EXPECT_EQ(stability_class(classes, found->high).name, name);
  EXPECT_TRUE(std::isinf(found->high) ||
              stability_class(classes, found->high * (1.0 + 1e-9)).name != name);
  return *found;
}

/// The upper edge of a class: a number of a table, so that nothing but equality will do.
void expect_upper_edge(const std::string& id, std::span<const StabilityClass> classes,
                       std::string_view name) {
  expect_row(stability_row(id), named(classes, name).high, within(stability_row(id), 0.0));
}

/// The lower edge of the topmost class, which the row tells among its inputs.
void expect_lower_edge(const std::string& id, std::span<const StabilityClass> classes,
                       std::string_view name, double low) {
  ReferenceRow row = stability_row(id);
  row.value = low;
  row.column = "lower edge";
  expect_row(row, named(classes, name).low, within(row, 0.0), "no upper end here");
}

TEST(StabilityClasses, SelfHeatingEdgesAreThePublishedOnes) {
  for (const char* name : {"V", "IV", "III"}) {
    expect_upper_edge(std::string("dewar_") + name, self_heating_classes(), name);
  }
  // Published from 40 to 50 K; the class has no upper end here.
  expect_lower_edge("dewar_I", self_heating_classes(), "I", 40.0);
}

TEST(StabilityClasses, CarbonDioxideEdgesAreThePublishedOnes) {
  expect_upper_edge("tmecc_vs", carbon_dioxide_classes(), "very stable");
  expect_upper_edge("tmecc_s", carbon_dioxide_classes(), "stable");
  expect_upper_edge("tmecc_u", carbon_dioxide_classes(), "unstable");
  EXPECT_EQ(named(carbon_dioxide_classes(), "unstable").low, 15.0); // the row's "from 15 to 40"
  // "from 40 to 999": 999 stands for no upper end.
  expect_lower_edge("tmecc_raw", carbon_dioxide_classes(), "very unstable", 40.0);
}

TEST(StabilityClasses, OxygenUptakeEdgesAreThePublishedOnes) {
  expect_upper_edge("ccqc_our_vm", oxygen_uptake_classes(), "very mature");
  expect_upper_edge("ccqc_our_m", oxygen_uptake_classes(), "mature");
}

TEST(StabilityClasses, LeaveNoGapAndRefuseWhatIsNoValue) {
  for (const auto classes :
       {self_heating_classes(), carbon_dioxide_classes(), oxygen_uptake_classes()}) {
    EXPECT_EQ(classes.front().low, 0.0);
    for (std::size_t i = 1; i < classes.size(); ++i) {
      EXPECT_EQ(classes[i].low, classes[i - 1].high);
    }
    EXPECT_TRUE(std::isinf(classes.back().high));
    EXPECT_THROW((void)stability_class(classes, -1.0), std::out_of_range);
    EXPECT_THROW((void)stability_class(classes, std::numeric_limits<double>::quiet_NaN()),
                 std::out_of_range);
  }
}

} // namespace
} // namespace heapcast::models
