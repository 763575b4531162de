// Respiration on every scale and the published classes, against validation/reference/stability.csv.

#include "models/readiness/respiration.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::reference_row;
using tests::ReferenceRow;

ReferenceRow published(const std::string& id) {
  static const CsvTable table("stability.csv");
  return reference_row(table, id);
}

// A few roundings in the last place.
constexpr double rounding = 1e-14;

TEST(Respiration, LimitOfOxygenUptakeConvertsToMassAndCarbon) {
  const Respiration limit = Respiration::from_mmolO2_kg_h(25.0);
  expect_row(published("our25_mg"), limit.mgO2_g_h());
  // 25 x 24 x 12.011/1000 = 7.2066, given to four digits.
  expect_row(published("our25_c"), limit.mgC_g_d(), within(published("our25_c"), 5e-4));
}

TEST(Respiration, CarbonDioxideConvertsToItsCarbon) {
  const double written = published("pas100_co2").value;
  // The row's own 0.01; in fact 16 x 12.011/44.009 = 4.36675, given to four digits.
  expect_row(published("pas100_co2c"), Respiration::from_mgCO2_g_d(written).mgC_g_d(),
             within(published("pas100_co2c"), 5e-4));
}

TEST(Respiration, DynamicIndexIsOxygenByTheKilogram) {
  // 1000 mg O2/kg VS/h = 1 mg/g/h = 1/0.031998 mmol/kg/h.
  const Respiration limit = Respiration::from_mgO2_kg_h(published("dri_1000").value);
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

TEST(StabilityClasses, SelfHeatingEdgesAreThePublishedOnes) {
  for (const char* name : {"V", "IV", "III"}) {
    const ReferenceRow edge = published(std::string("dewar_") + name);
    EXPECT_EQ(stability_class(self_heating_classes(), edge.value).name, name);
    EXPECT_NE(stability_class(self_heating_classes(), edge.value + 1e-9).name, name);
  }
  EXPECT_EQ(stability_class(self_heating_classes(), published("dewar_I").value).name, "I");
  EXPECT_EQ(stability_class(self_heating_classes(), published("dewar_I").value - 10.1).name, "II");
}

TEST(StabilityClasses, CarbonDioxideEdgesAreThePublishedOnes) {
  for (const auto& [id, name] :
       {std::pair{"tmecc_vs", "very stable"}, {"tmecc_s", "stable"}, {"tmecc_u", "unstable"}}) {
    EXPECT_EQ(stability_class(carbon_dioxide_classes(), published(id).value).name, name);
    EXPECT_NE(stability_class(carbon_dioxide_classes(), published(id).value + 1e-9).name, name);
  }
}

TEST(StabilityClasses, OxygenUptakeEdgesAreThePublishedOnes) {
  for (const auto& [id, name] :
       {std::pair{"ccqc_our_vm", "very mature"}, {"ccqc_our_m", "mature"}}) {
    EXPECT_EQ(stability_class(oxygen_uptake_classes(), published(id).value).name, name);
    EXPECT_NE(stability_class(oxygen_uptake_classes(), published(id).value + 1e-9).name, name);
  }
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
