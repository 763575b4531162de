// The virtual laboratory tests: what holds for any of them.

#include "models/readiness/stability_tests.hpp"

#include "models/parameters.hpp"
#include "models/processes/decomposition_law.hpp"
#include "models/properties/heat.hpp"
#include "tests/models/pile_bench.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <stdexcept>

namespace heapcast::models {
namespace {

const Coefficients& defaults() {
  static const Coefficients k{ParameterSet{}};
  return k;
}

/// Invented: like grass clippings, with microbes and nitrogen.
Sample fresh() {
  return {.carbon = {.fast = 0.15,
                     .medium = 0.2,
                     .slow = 0.1,
                     .resistant = 0.05,
                     .humus = 0.0,
                     .biomass = 0.005},
          .organic_nitrogen = 0.03,
          .ammonium_nitrogen = 0.001,
          .ash = 0.15,
          .start_fast = 0.15,
          .start_ph = 7.0,
          .particle_size_m = 0.02};
}

/// Invented: like compost of a year.
Sample rotted() {
  return {.carbon = {.fast = 0.001,
                     .medium = 0.01,
                     .slow = 0.1,
                     .resistant = 0.25,
                     .humus = 0.15,
                     .biomass = 0.002},
          .organic_nitrogen = 0.04,
          .ammonium_nitrogen = 0.0001,
          .nitrate_nitrogen = 0.001,
          .ash = 1.0,
          .start_fast = 0.2,
          .start_ph = 7.0,
          .particle_size_m = 0.005};
}

double carbon_of(const TestCourse& course) {
  return course.carbon.degradable() + course.carbon.resistant + course.carbon.humus +
         course.carbon.biomass;
}

constexpr Vessel warm{.temperature_K = freezing_K + 37.0};

TEST(StabilityTests, FreshMatterIsOfTheFirstClassAndRottedOfTheLast) {
  EXPECT_EQ(stability_class(self_heating_classes(), self_heating_test(defaults(), fresh())).name,
            "I");
  EXPECT_EQ(stability_class(self_heating_classes(), self_heating_test(defaults(), rotted())).name,
            "V");
}

TEST(StabilityTests, SelfHeatingStaysBelowWhatMicrobesBear) {
  EXPECT_LT(self_heating_test(defaults(), fresh()),
            defaults().temperature_max_K - (freezing_K + 20.0));
}

TEST(StabilityTests, CarbonClosesInEveryVessel) {
  for (const Vessel& vessel : {warm, Vessel{.temperature_K = freezing_K + 30.0, .nutrients = true},
                               self_heating_vessel(defaults(), fresh())}) {
    TestCourse course = start_test(fresh(), vessel);
    continue_test(defaults(), fresh(), vessel, 240.0, course);
    EXPECT_GT(course.respired_kgC, 0.05);
    // Some 500 steps' rounding of 0.5 kg C.
    EXPECT_NEAR(carbon_of(course) + course.respired_kgC, fresh().total_carbon(), 1e-13);
  }
}

TEST(StabilityTests, NitrogenClosesUnlessItIsGiven) {
  TestCourse course = start_test(fresh(), warm);
  continue_test(defaults(), fresh(), warm, 240.0, course);
  EXPECT_GT(std::abs(course.ammonium_nitrogen - fresh().ammonium_nitrogen), 1e-4);
  EXPECT_NEAR(course.organic_nitrogen + course.ammonium_nitrogen + course.nitrate_nitrogen,
              fresh().total_nitrogen(), 1e-14);
}

TEST(StabilityTests, NitrateIsTakenUpWithAmmonium) {
  Sample sample = fresh();
  sample.organic_nitrogen = 0.005;
  sample.ammonium_nitrogen = 0.001;
  sample.nitrate_nitrogen = 0.001;
  TestCourse course = start_test(sample, warm);
  continue_test(defaults(), sample, warm, 48.0, course);
  EXPECT_LT(course.nitrate_nitrogen, 0.0009);
  EXPECT_NEAR(course.nitrate_nitrogen / course.ammonium_nitrogen, 1.0, 1e-9);
}

TEST(StabilityTests, OlderMatterBreathesLessInEveryTest) {
  Sample older = fresh();
  double uptake = oxygen_uptake_test(defaults(), older).mmolO2_kg_h();
  double carbon_dioxide = carbon_dioxide_test(defaults(), older).mgC_g_d();
  double rise = self_heating_test(defaults(), older);
  for (int age = 0; age < 4; ++age) {
    TestCourse course = start_test(older, warm);
    continue_test(defaults(), older, warm, 14.0 * 24.0, course);
    older.carbon = course.carbon;
    older.organic_nitrogen = course.organic_nitrogen;
    older.ammonium_nitrogen = course.ammonium_nitrogen;
    EXPECT_LT(oxygen_uptake_test(defaults(), older).mmolO2_kg_h(), uptake);
    EXPECT_LT(carbon_dioxide_test(defaults(), older).mgC_g_d(), carbon_dioxide);
    EXPECT_LT(self_heating_test(defaults(), older), rise);
    uptake = oxygen_uptake_test(defaults(), older).mmolO2_kg_h();
    carbon_dioxide = carbon_dioxide_test(defaults(), older).mgC_g_d();
    rise = self_heating_test(defaults(), older);
  }
}

TEST(StabilityTests, FinerMatterBreathesFasterAndTheSieveLeavesNothingCoarse) {
  Sample fine = fresh();
  fine.particle_size_m = 0.004;
  Sample coarse = fresh();
  coarse.particle_size_m = 0.2;
  EXPECT_GT(oxygen_uptake_test(defaults(), fine).mmolO2_kg_h(),
            oxygen_uptake_test(defaults(), fresh()).mmolO2_kg_h());
  EXPECT_EQ(oxygen_uptake_test(defaults(), coarse).mmolO2_kg_h(),
            oxygen_uptake_test(defaults(), fresh()).mmolO2_kg_h());
}

TEST(StabilityTests, FewMicrobesGrowWithinTheTest) {
  Sample few = fresh();
  few.carbon.biomass = 0.0002;
  const Vessel vessel{.temperature_K = freezing_K + 30.0, .nutrients = true};
  TestCourse start = start_test(few, vessel);
  continue_test(defaults(), few, vessel, 0.01, start);
  const double at_first = start.largest_rate_mol_kg_s;
  EXPECT_GT(oxygen_uptake_test(defaults(), few).mol_kg_s(), 3.0 * at_first);
}

TEST(StabilityTests, NutrientsLiftTheShortageOfNitrogen) {
  Sample starved = fresh();
  starved.organic_nitrogen = 0.002;
  starved.ammonium_nitrogen = 0.0;
  const auto largest = [&](bool nutrients) {
    const Vessel vessel{.temperature_K = freezing_K + 30.0, .nutrients = nutrients};
    TestCourse course = start_test(starved, vessel);
    continue_test(defaults(), starved, vessel, 120.0, course);
    return course.largest_rate_mol_kg_s;
  };
  EXPECT_GT(largest(true), 1.5 * largest(false));
}

TEST(StabilityTests, VesselWithNothingToLiveOnCoolsByItsHeatLoss) {
  Sample dead;
  dead.carbon.humus = 0.5;
  dead.ash = 0.25;
  const Vessel vessel = self_heating_vessel(defaults(), dead);
  TestCourse course = start_test(dead, vessel);
  EXPECT_EQ(course.temperature_K, freezing_K + 20.0);
  course.temperature_K = freezing_K + 60.0;
  continue_test(defaults(), dead, vessel, 12.0, course);
  // 0.047 W/K on 0.45 kg of solids and 0.45 kg of water; the integrator's 0.05 K a step over some
  // ten steps that count.
  const double capacity_J_K =
      0.45 * defaults().solids_heat_capacity_J_kgK + 0.45 * heat_capacity_water_J_kgK;
  const double rise_K = 40.0 * std::exp(-0.047 / capacity_J_K * 12.0 * 3600.0);
  EXPECT_NEAR(course.temperature_K - freezing_K - 20.0, rise_K, 0.1);
  EXPECT_EQ(self_heating_test(defaults(), dead), 0.0);
}

TEST(StabilityTests, LimitOfOxygenUptakeWarmsTheVesselToTheEdgeOfClassThree) {
  // A steady 25 mmol/kg/h at 30 degC, a quarter of ash over the organic matter: Regulation (EU)
  // 2019/1009 takes either that or class III. The vessel's heat loss is chosen by it: good to 5 %.
  const Coefficients& k = defaults();
  Sample sample = fresh();
  sample.ash = 0.25;
  const Vessel vessel = self_heating_vessel(k, sample);
  const double at_50_mol_kg_s = Respiration::from_mmolO2_kg_h(25.0).mol_kg_s() *
                                temperature_factor(k, freezing_K + 50.0) /
                                temperature_factor(k, freezing_K + 30.0);
  const double heat_W_kg = at_50_mol_kg_s * molar_mass_oxygen_kg_mol * k.heat_per_oxygen_J_kg;
  EXPECT_NEAR(heat_W_kg / vessel.heat_loss_W_kgK, self_heating_classes()[2].high, 1.5);
}

TEST(StabilityTests, AgreeWithSmallSteps) {
  for (const Sample& sample : {fresh(), rotted()}) {
    for (const Vessel& vessel :
         {warm, Vessel{.temperature_K = freezing_K + 30.0, .nutrients = true},
          self_heating_vessel(defaults(), sample)}) {
      TestCourse course = start_test(sample, vessel);
      continue_test(defaults(), sample, vessel, 240.0, course);
      TestCourse fine = start_test(sample, vessel);
      for (int piece = 0; piece < 4800; ++piece) {
        continue_test(defaults(), sample, vessel, 0.05, fine);
      }
      // Steps of up to 3 h; the largest rate and the peak lie on the parabola through their ends.
      EXPECT_NEAR(course.largest_rate_mol_kg_s, fine.largest_rate_mol_kg_s,
                  0.002 * fine.largest_rate_mol_kg_s);
      EXPECT_NEAR(course.highest_temperature_K, fine.highest_temperature_K, 0.2);
      EXPECT_NEAR(course.respired_kgC, fine.respired_kgC, 0.002 * fine.respired_kgC);
    }
  }
}

TEST(MixedSample, HoldsEqualSharesOfEveryCellAndLeavesThePileAsItIs) {
  using F = CellField;
  tests::Bench bench(tests::layered_heap(1.0));
  std::mt19937 random(3);
  bench.randomise(random);
  const std::vector<double> before = bench.state.y;
  const Sample sample = mixed_sample(bench.state);
  (void)self_heating_test(bench.site.coefficients, sample);
  EXPECT_EQ(bench.state.y, before);

  double organic_kg = 0.0;
  double dry_kg = 0.0;
  double dry_ph = 0.0;
  for (std::size_t i = 0; i < bench.cells(); ++i) {
    double carbon = 0.0;
    for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass}) {
      carbon += bench.state.field(f)[i];
    }
    const double organic = bench.state.field(F::volatile_per_carbon)[i] * carbon;
    organic_kg += organic;
    dry_kg += organic + bench.state.field(F::ash)[i];
    dry_ph += (organic + bench.state.field(F::ash)[i]) * bench.state.field(F::start_ph)[i];
  }
  // Sums of a few dozen cells in another order.
  constexpr double rounding = 1e-12;
  EXPECT_NEAR(sample.carbon.fast, bench.state.sum(F::fast) / organic_kg, rounding);
  EXPECT_NEAR(sample.carbon.biomass, bench.state.sum(F::biomass) / organic_kg, rounding);
  EXPECT_NEAR(sample.nitrate_nitrogen, bench.state.sum(F::nitrate_nitrogen) / organic_kg, rounding);
  EXPECT_NEAR(sample.dry_mass(), dry_kg / organic_kg, rounding);
  EXPECT_NEAR(sample.start_ph, dry_ph / dry_kg, rounding);
}

TEST(MixedSample, NeedsOrganicMatter) {
  EXPECT_THROW((void)mixed_sample(PileState(3)), std::invalid_argument);
}

} // namespace
} // namespace heapcast::models
