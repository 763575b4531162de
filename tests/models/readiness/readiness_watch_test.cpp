// How a run is judged: with a core and turns that are made up, and on whole runs.

#include "models/readiness/readiness_watch.hpp"

#include "models/pile_run.hpp"
#include "models/readiness/stability_tests.hpp"
#include "tests/models/pile_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::models {
namespace {

using enum Measure;
using testing::HasSubstr;

PileDescription pile_for(std::vector<Criterion> criteria) {
  PileDescription pile = tests::lumped_heap(1.0);
  pile.use = {"made up", std::move(criteria), "", true};
  return pile;
}

/// A pile whose matter stays as it is and whose core does what it is told.
class Trial {
public:
  explicit Trial(PileDescription pile)
      : bench_(std::move(pile)), workspace_(bench_.site.mesh), watch_(bench_.pile, bench_.site) {}

  /// Hours from where it stands up to and including the end of `day`.
  void until(double day, const std::function<double(double day)>& core_C, double air_C = 10.0) {
    for (; hour_ <= day * 24.0; hour_ += 1.0) {
      watch_.hour(hour_, freezing_K + core_C(hour_ / 24.0), freezing_K + air_C, bench_.state,
                  workspace_);
    }
  }
  void until(double day, double core_C) {
    until(day, [core_C](double) { return core_C; });
  }
  /// At the hour that was last told.
  void turn(double core_C) { watch_.turned(hour_ - 1.0, freezing_K + core_C); }
  void add() { watch_.added(hour_ - 1.0); }
  PileState& state() { return bench_.state; }

  ForecastResult report(double hygiene_met_day = unset) {
    ForecastResult result;
    watch_.report(hygiene_met_day, result);
    return result;
  }

private:
  tests::Bench bench_;
  Workspace workspace_;
  ReadinessWatch watch_;
  double hour_ = 0.0;
};

double value(const ForecastResult& result, const char* name) {
  const Scalar* scalar = result.find_scalar(name);
  EXPECT_NE(scalar, nullptr) << name;
  return scalar == nullptr ? unset : scalar->value;
}

std::string reason(const ForecastResult& result, const char* name) {
  const Scalar* scalar = result.find_scalar(name);
  return scalar == nullptr ? "no scalar" : scalar->reason;
}

TEST(ReadinessWatch, CriterionHoldsFromTheDayAfterWhichItIsNeverBroken) {
  Trial trial(pile_for({{above_air, 10.0}}));
  trial.until(5.0, 15.0);  // holds
  trial.until(10.0, 50.0); // hot
  trial.until(12.0, 18.0); // holds
  trial.until(13.0, 21.0); // 11 K above 10 degC: broken once more
  trial.until(20.0, 19.0);
  const ForecastResult result = trial.report();
  // Day 13 ends with 21 degC: the next hour is the first that holds.
  EXPECT_DOUBLE_EQ(value(result, "ready_day_above_air"), 13.0 + 1.0 / 24.0);
  EXPECT_EQ(value(result, "ready_day"), value(result, "ready_day_above_air"));
  EXPECT_EQ(result.decided_by, "above_air");
}

TEST(ReadinessWatch, ComparesTheCoreWithTheAirOfFiveDays) {
  Trial trial(pile_for({{above_air, 10.0}}));
  trial.until(
      6.0, [](double) { return 19.0; }, 10.0);
  // The air falls to 0 degC: after 1 K x 120 h/10 K = 12 h the mean has fallen by 1 K, after the
  // 13th by more.
  trial.until(
      7.0, [](double) { return 19.0; }, 0.0);
  const ForecastResult result = trial.report();
  EXPECT_TRUE(std::isnan(value(result, "ready_day_above_air")));
  // 24 of 120 hours at 0 degC: mean 8 degC.
  EXPECT_THAT(reason(result, "ready_day_above_air"),
              HasSubstr("still 11 K on day 7, must be 10 K or less"));
}

TEST(ReadinessWatch, NotMetIsNoDayAndSaysByHowMuch) {
  Trial trial(pile_for({{oxygen_uptake, 5.0}, {above_air, 10.0}}));
  trial.until(3.0, 40.0);
  const ForecastResult result = trial.report();
  EXPECT_TRUE(std::isnan(value(result, "ready_day")));
  EXPECT_EQ(result.decided_by, "oxygen_uptake, above_air");
  EXPECT_THAT(reason(result, "ready_day"),
              HasSubstr("on day 3, must be 5 mmol O2/kg OM/h or less; core above the air"));
}

TEST(ReadinessWatch, ReheatingBreaksTheCriterionForFiveDays) {
  Trial trial(pile_for({{reheating, 10.0}}));
  trial.until(10.0, 60.0);
  trial.until(20.0, 40.0);
  trial.turn(30.0);
  trial.until(22.0, 41.0); // 11 K warmer than just after the turn
  trial.until(30.0, 35.0);
  trial.turn(30.0);
  trial.until(40.0, 38.0); // 8 K
  const ForecastResult result = trial.report();
  EXPECT_DOUBLE_EQ(value(result, "ready_day_reheating"), 25.0);
  EXPECT_EQ(result.decided_by, "reheating");
}

TEST(ReadinessWatch, TurnThatDoesNotReheatCountsFromThatTurn) {
  Trial trial(pile_for({{reheating, 10.0}}));
  trial.until(10.0, 60.0);
  trial.until(20.0, 40.0);
  trial.turn(30.0);
  trial.until(22.0, 39.0);
  trial.turn(33.0); // the next turn ends what the first one shows
  trial.until(30.0, 41.0);
  EXPECT_DOUBLE_EQ(value(trial.report(), "ready_day_reheating"), 20.0);
}

TEST(ReadinessWatch, ReheatingAtTheEndIsNotMet) {
  Trial trial(pile_for({{reheating, 10.0}}));
  trial.until(10.0, 60.0);
  trial.until(20.0, 40.0);
  trial.turn(25.0);
  trial.until(22.0, 38.0);
  const ForecastResult result = trial.report();
  EXPECT_TRUE(std::isnan(value(result, "ready_day")));
  EXPECT_THAT(reason(result, "ready_day"),
              HasSubstr("13 K after the turn on day 20, must be 10 K or less"));
}

TEST(ReadinessWatch, WithoutATurnAfterTheHotPhaseReheatingIsLeftOut) {
  Trial trial(pile_for({{reheating, 10.0}, {above_air, 10.0}}));
  trial.until(5.0, 60.0);
  trial.turn(50.0);
  trial.until(10.0, 60.0);
  trial.until(20.0, 15.0);
  const ForecastResult result = trial.report();
  EXPECT_TRUE(std::isnan(value(result, "ready_day_reheating")));
  EXPECT_THAT(reason(result, "ready_day_reheating"), HasSubstr("not tested and left out"));
  EXPECT_EQ(result.decided_by, "above_air");
  EXPECT_DOUBLE_EQ(value(result, "ready_day"), 10.0 + 1.0 / 24.0);
}

TEST(ReadinessWatch, NotReadyBeforeTheLastMaterialWentIn) {
  Trial trial(pile_for({{above_air, 10.0}}));
  trial.until(8.0, 15.0);
  trial.add();
  trial.until(10.0, 15.0);
  const ForecastResult result = trial.report();
  EXPECT_EQ(value(result, "ready_day"), 8.0);
  EXPECT_EQ(result.decided_by, "addition");
}

TEST(ReadinessWatch, HygieneRuleCanComeLastOrBeMissed) {
  PileDescription pile = pile_for({{above_air, 10.0}});
  pile.use.hygiene_rule = "nop_vessel";
  pile.use.hygiene_if_needed = false;
  Trial trial(pile);
  trial.until(4.0, 15.0);
  const ForecastResult met = trial.report(3.0);
  EXPECT_EQ(value(met, "ready_day"), 3.0);
  EXPECT_EQ(met.decided_by, "hygiene");
  const ForecastResult missed = trial.report(unset);
  EXPECT_TRUE(std::isnan(value(missed, "ready_day")));
  EXPECT_THAT(reason(missed, "ready_day"), HasSubstr("nop_vessel is not met"));
  EXPECT_EQ(missed.decided_by, "hygiene");
}

TEST(ReadinessWatch, HygieneRuleIsNotAskedOfAPileWithoutManureOrFood) {
  PileDescription pile = pile_for({{above_air, 10.0}});
  pile.use.hygiene_rule = "nop_vessel";
  Trial trial(pile);
  trial.until(4.0, 15.0);
  EXPECT_EQ(value(trial.report(unset), "ready_day"), 0.0);
}

TEST(ReadinessWatch, PileWithoutUseIsJudgedForAGardenBedAndSaysSo) {
  PileDescription pile = tests::lumped_heap(1.0);
  Trial trial(pile);
  trial.until(1.0, 15.0);
  EXPECT_THAT(trial.report().find_scalar("ready_day")->long_name,
              HasSubstr("garden bed; no use is given"));
}

TEST(ReadinessWatch, MeasuresNotAskedForAreHeldAgainstAGardenBed) {
  Trial trial(pile_for({{above_air, 12.0}}));
  trial.until(2.0, 15.0);
  const ForecastResult result = trial.report();
  EXPECT_THAT(result.find_scalar("ready_day_carbon_nitrogen_ratio")->long_name,
              HasSubstr("25 or less; not asked for, the limit of a garden bed"));
  EXPECT_THAT(result.find_scalar("ready_day_above_air")->long_name, HasSubstr("12 K or less"));
}

TEST(ReadinessWatch, TracesOfAmmoniumMeetAnyRatio) {
  using F = CellField;
  Trial trial(pile_for({{ammonium_nitrate_ratio, 0.5}}));
  const auto set = [&](double ammonium_mg_kg, double nitrate_mg_kg) {
    const double dry_kg = parcel_dry_mass_kg(take_apart(trial.state())[0]);
    trial.state().field(F::ammonium_nitrogen)[0] = 1e-6 * ammonium_mg_kg * dry_kg;
    trial.state().field(F::nitrate_nitrogen)[0] = 1e-6 * nitrate_mg_kg * dry_kg;
  };
  set(400.0, 0.0);
  trial.until(1.0, 15.0);
  EXPECT_THAT(reason(trial.report(), "ready_day"), HasSubstr("no nitrate yet on day 1"));
  EXPECT_EQ(reason(trial.report(), "final_ammonium_nitrate_ratio"), "there is no nitrate");
  set(100.0, 190.0); // 0.53
  trial.until(2.0, 15.0);
  EXPECT_NEAR(value(trial.report(), "final_ammonium_nitrate_ratio"), 100.0 / 190.0, 1e-12);
  EXPECT_TRUE(std::isnan(value(trial.report(), "ready_day")));
  set(70.0, 1.0); // below 75 mg/kg
  trial.until(3.0, 15.0);
  EXPECT_EQ(value(trial.report(), "ready_day"), 3.0);
}

TEST(ReadinessWatch, TestsAreThoseOfTheSampleOfThatDay) {
  Trial trial(pile_for({{above_air, 10.0}}));
  trial.until(2.0, 15.0);
  const ForecastResult result = trial.report();
  EXPECT_EQ(result.test_time_h, (std::vector<double>{0.0, 24.0, 48.0}));
  const Sample sample = mixed_sample(trial.state());
  const Coefficients k{ParameterSet{}};
  ASSERT_EQ(result.tests.size(), 3U);
  EXPECT_EQ(result.tests[0].values.back(), oxygen_uptake_test(k, sample).mmolO2_kg_h());
  EXPECT_EQ(result.tests[1].values.back(), carbon_dioxide_test(k, sample).mgC_g_d());
  EXPECT_EQ(result.tests[2].values.back(), self_heating_test(k, sample));
  EXPECT_EQ(value(result, "final_oxygen_uptake"), result.tests[0].values.back());
  EXPECT_EQ(value(result, "final_carbon_dioxide_rate"), result.tests[1].values.back());
  EXPECT_EQ(value(result, "final_self_heating"), result.tests[2].values.back());
}

TEST(Readiness, OfAWholeRunFallsWithTheWeeksAndComesLaterForMoreDemandingUses) {
  PileDescription pile = tests::mild_heap(120.0);
  pile.turning = tests::turning(TurnMethod::fork, 7.0, 5.0);
  pile.turning->schedule.until_day = 50.0;
  double before = 0.0;
  for (const char* name : {"mulch", "field", "garden_bed"}) {
    pile.use = built_in_use(name);
    const ForecastResult result = run_forecast(pile);
    ASSERT_FALSE(std::isnan(value(result, "ready_day"))) << reason(result, "ready_day");
    std::printf("made-up heap, turned weekly: %s on day %.1f, decided by %s\n", name,
                value(result, "ready_day"), result.decided_by.c_str());
    EXPECT_GE(value(result, "ready_day"), before);
    before = value(result, "ready_day");
    for (const Series& test : result.tests) {
      ASSERT_EQ(test.values.size(), 121U);
      for (std::size_t day = 14; day < test.values.size(); day += 7) {
        EXPECT_LT(test.values[day], test.values[day - 7]) << test.name << " on day " << day;
      }
    }
  }
}

TEST(Readiness, WatchingChangesNothingInThePile) {
  PileDescription pile = tests::mild_heap(5.0);
  pile.use = built_in_use("mulch");
  const ForecastResult mulch = run_forecast(pile);
  pile.use = built_in_use("potting_mix");
  const ForecastResult mix = run_forecast(pile);
  for (std::size_t i = 0; i < mulch.series.size(); ++i) {
    EXPECT_EQ(mulch.series[i].values, mix.series[i].values) << mulch.series[i].name;
  }
}

} // namespace
} // namespace heapcast::models
