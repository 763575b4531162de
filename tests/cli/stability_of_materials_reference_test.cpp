// The virtual laboratory tests of the library's materials and of the examples' piles, beside what
// is published. Values that lie outside are printed as such: the score is part of the result.
// Sources: ids of validation/reference/field.csv, stability.csv and trials/.

#include "cli/input/material_file.hpp"
#include "cli/input/pile_file.hpp"
#include "models/pile_run.hpp"
#include "models/processes/decomposition_law.hpp"
#include "models/readiness/stability_tests.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <string>
#include <string_view>

namespace heapcast::models {
namespace {

const Coefficients& defaults() {
  static const Coefficients k{ParameterSet{}};
  return k;
}

/// A pile of this material alone, as supplied.
Sample sample_of(const char* name) {
  static const MaterialLibrary library = cli::load_builtin_library();
  const Material& m = library.find(name)->material;
  const double organic = m.volatile_solids_dry_basis;
  const double carbon = m.carbon_dry_basis / organic;
  const double nitrogen = m.nitrogen_dry_basis / organic;
  const double rest = carbon * (1.0 - m.active_biomass_fraction);
  return {.carbon = {rest * m.fast_fraction, rest * m.medium_fraction, rest * m.slow_fraction,
                     rest * m.resistant_fraction, rest * m.humus_fraction,
                     carbon * m.active_biomass_fraction},
          .organic_nitrogen = nitrogen * (1.0 - m.ammoniacal_fraction),
          .ammonium_nitrogen = nitrogen * m.ammoniacal_fraction,
          .ash = (1.0 - organic) / organic,
          .start_fast = rest * m.fast_fraction,
          .start_ph = m.ph,
          .particle_size_m = m.chop_size_m};
}

double response(double celsius) {
  const Coefficients& k = defaults();
  return temperature_factor(k, freezing_K + celsius);
}

/// Largest oxygen uptake at the best temperature, mg O2/g OM/h: the 30 degC test over what 30 degC
/// leaves of the activity.
double best_uptake(const char* name) {
  return oxygen_uptake_test(defaults(), sample_of(name)).mgO2_g_h() / response(30.0);
}

TEST(StabilityOfMaterials, PeakUptakeOfYardMatterManureAndFoodIsThatOfReviews) {
  const tests::CsvTable field("field.csv");
  // "1-2 (yard, manure) to 5-10 (food, raw sludge) mg O2/g VS/h", factor 2 (memory).
  const tests::ReferenceRow published = tests::reference_row(field, std::string("our_peak"));
  ASSERT_EQ(published.value, 10.0);
  constexpr double factor = 2.0;
  for (const char* name : {"dry_leaves", "green_prunings", "cattle_manure", "horse_manure_bedding",
                           "sheep_manure", "hay"}) {
    const double peak = best_uptake(name);
    expect_row(published, peak, {1.0 / factor, 2.0 * factor}, name);
  }
  for (const char* name : {"food_scraps", "vegetable_scraps", "fruit_waste"}) {
    const double peak = best_uptake(name);
    expect_row(published, peak, {5.0 / factor, 10.0 * factor}, name);
  }
}

TEST(StabilityOfMaterials, FinishedCompostPassesEveryTestAndFreshGreensNone) {
  // "Stable" is cured compost (tmecc_s, up to 8 mg CO2-C/g OM/d); "very stable" (up to 2) is well
  // cured.
  const Sample finished = sample_of("finished_compost");
  EXPECT_EQ(stability_class(self_heating_classes(), self_heating_test(defaults(), finished)).name,
            "V");
  EXPECT_EQ(
      stability_class(oxygen_uptake_classes(), oxygen_uptake_test(defaults(), finished).mgO2_g_h())
          .name,
      "very mature");
  EXPECT_EQ(
      stability_class(carbon_dioxide_classes(), carbon_dioxide_test(defaults(), finished).mgC_g_d())
          .name,
      "stable");
  for (const char* name : {"grass_clippings", "legume_greens", "food_scraps", "vegetable_scraps"}) {
    const Sample fresh = sample_of(name);
    EXPECT_EQ(stability_class(self_heating_classes(), self_heating_test(defaults(), fresh)).name,
              "I")
        << name;
    EXPECT_EQ(
        stability_class(oxygen_uptake_classes(), oxygen_uptake_test(defaults(), fresh).mgO2_g_h())
            .name,
        "immature")
        << name;
    EXPECT_EQ(
        stability_class(carbon_dioxide_classes(), carbon_dioxide_test(defaults(), fresh).mgC_g_d())
            .name,
        "unstable")
        << name;
  }
}

PileDescription example(const char* name, const char* days) {
  return *cli::read_pile_file(std::string(HEAPCAST_EXAMPLES_DIR) + "/" + name + "/pile.toml",
                              {"run.resolution=\"coarse\"", std::string("run.days=") + days}, {})
              .pile;
}

double number(const ForecastResult& result, const char* name) {
  return result.find_scalar(name)->value;
}

/// Without the hygiene rule, which is judged elsewhere.
ForecastResult judged(PileDescription pile, const char* use) {
  pile.use = built_in_use(use, heat_treatment(pile));
  pile.use.hygiene_rule.clear();
  return run_forecast(pile);
}

struct Example {
  const char* name;
  const char* days;
  double field_from, field_to; ///< weeks in which it may be fit for a field
  bool too_late = false;       ///< a known miss
};

TEST(ReadinessOfExamples, MoreDemandingUsesComeLater) {
  // A turned mix is fit for a field after 4 to 8 weeks, in the heat of the tropics sooner; a pile
  // of the winter after its turn in spring; a bin that is fed to the end not before (common
  // practice, no source).
  // MISSED: the windrow needs 10 weeks and the pile of the winter more than its 120 days, for their
  // cores: turns bring them lumps and skin, and they stay 25 K above the air for longer than people
  // tell.
  for (const Example& one : {Example{"01_market_garden_windrow", "120", 4.0, 8.0, true},
                             {"02_household_bin", "150", 19.0, 22.0},
                             {"03_humid_tropics_heap", "180", 2.0, 8.0},
                             {"04_stable_winter_pile", "120", 8.0, 16.0, true}}) {
    const PileDescription pile = example(one.name, one.days);
    double before = 0.0;
    for (const char* use : {"mulch", "field", "garden_bed", "potting_mix"}) {
      const ForecastResult result = judged(pile, use);
      const Scalar& ready = *result.find_scalar("ready_day");
      std::printf("%-26s %-12s day %6.1f  %s\n", one.name, use, ready.value,
                  result.decided_by.c_str());
      if (use == std::string_view("field")) {
        EXPECT_FALSE(ready.value < 7.0 * one.field_from) << one.name;
        EXPECT_EQ(ready.value <= 7.0 * one.field_to, !one.too_late) << one.name;
      }
      if (std::isnan(ready.value)) {
        std::printf("    %s\n", ready.reason.c_str());
        EXPECT_FALSE(ready.reason.empty());
        before = pile.horizon_days;
      } else {
        EXPECT_GE(ready.value, before) << one.name << " " << use;
        before = ready.value;
      }
    }
  }
}

TEST(ReadinessOfExamples, RespirationOfAnOldPileIsNearThatOfATrialAndClassFiveComesTooSoon) {
  const ForecastResult result = judged(example("01_market_garden_windrow", "120"), "garden_bed");
  // Trial 08 (food waste, dairy solids, yard trimmings; read): 0.5-4 mg CO2-C/g C/d at 25 degC
  // after 71-99 days. Organic matter is a little over half carbon: 1/0.5.
  const auto& carbon_dioxide = result.tests[1].values;
  const std::string pile = "the invented market-garden windrow of the examples";
  const tests::ReferenceRow respiration =
      tests::reference_row(tests::CsvTable("field.csv"), std::string("eugene_resp_hi"));
  const auto per_carbon = [&](std::size_t day) {
    return carbon_dioxide[day] * response(25.0) / response(37.0) / 0.5;
  };
  expect_miss(
      respiration, per_carbon(71), {0.5, 4.0},
      "an eighth too high: lumps and skin come to the core's work late, and mesophiles keep "
      "a sample of 25 degC at 59 % of its best; day 71 of " +
          pile);
  expect_row(respiration, per_carbon(99), {0.5, 4.0}, "day 99 of " + pile);
  const tests::CsvTable stability("stability.csv");
  const tests::ReferenceRow weeks = tests::reference_row(stability, std::string("rotte_V"));
  const double class_five_weeks =
      number(judged(example("01_market_garden_windrow", "120"), "potting_mix"),
             "ready_day_self_heating") /
      7.0;
  // A miss: the fast and medium pools of what lies hot are gone by then, and the slow pool alone
  // does not warm the vessel by 10 K. It is told by its size, and the pile is held back by its core
  // above the air instead. "ca. 16": within a quarter.
  expect_miss(weeks, class_five_weeks, within(weeks, 0.25 * weeks.value),
              "the slow pool alone does not warm the vessel by 10 K; " + pile);
  EXPECT_GT(class_five_weeks, 4.0);
  EXPECT_LT(class_five_weeks, weeks.value);
}

} // namespace
} // namespace heapcast::models
