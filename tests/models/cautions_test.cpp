#include "models/cautions.hpp"

#include "tests/models/pile_fixture.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace heapcast::models {
namespace {

using ::testing::HasSubstr;

Caution find(const CautionFigures& figures, Danger danger) {
  const std::vector<Caution> all = cautions(figures);
  const auto found = std::ranges::find(all, danger, &Caution::danger);
  return found == all.end() ? Caution{} : *found;
}

TEST(Cautions, NameEveryDangerEvenWithoutFigures) {
  using enum Danger;
  for (const Danger danger :
       {fire, germs, ammonia, dust, run_off, machinery, herbicide, unproven_hygiene}) {
    const Caution caution = find({}, danger);
    EXPECT_FALSE(caution.advice.empty()) << caution.title;
    EXPECT_FALSE(caution.brief.empty()) << caution.title;
    // Only that hygiene is an estimate holds whatever the pile.
    EXPECT_EQ(caution.applies, danger == unproven_hygiene) << caution.title;
  }
}

TEST(Cautions, PutThoseThatApplyFirst) {
  CautionFigures f;
  f.turns = 2;
  const std::vector<Caution> all = cautions(f);
  EXPECT_TRUE(
      std::is_partitioned(all.begin(), all.end(), [](const Caution& one) { return one.applies; }));
  EXPECT_TRUE(all.front().applies);
}

TEST(Cautions, WarnOfFireWhenVeryHotOrHotAndDryOrTall) {
  CautionFigures f;
  f.hottest_degC = 74.0;
  f.driest_where_warm_percent = 55.0;
  EXPECT_FALSE(find(f, Danger::fire).applies); // an ordinary hot pile
  f.driest_where_warm_percent = 38.0;
  EXPECT_TRUE(find(f, Danger::fire).applies);
  EXPECT_EQ(find(f, Danger::fire).finding,
            "hottest place 74 °C, moisture down to 38 % where it is above 60 °C");
  f.driest_where_warm_percent = 55.0;
  f.hottest_degC = 81.0;
  EXPECT_TRUE(find(f, Danger::fire).applies);
  f.hottest_degC = 60.0;
  f.height_m = 4.0; // field.csv sc_height: 3.66 m
  EXPECT_TRUE(find(f, Danger::fire).applies);
  EXPECT_THAT(find(f, Danger::fire).finding, HasSubstr("4.0 m high"));
}

TEST(Cautions, GiveTheCoreAtTheHottestTurnAndTheAmmonia) {
  CautionFigures f;
  f.turns = 3;
  f.core_at_turn_degC = 61.0;
  f.ammonia_kgN = 0.26;
  EXPECT_TRUE(find(f, Danger::ammonia).applies);
  EXPECT_EQ(find(f, Danger::ammonia).finding,
            "turned while the core is at 61 °C, 260 g of nitrogen leaves as ammonia");
  f.core_at_turn_degC = 30.0;
  EXPECT_FALSE(find(f, Danger::ammonia).applies);
}

TEST(Cautions, CountTurnsAndTellHandsFromMachines) {
  CautionFigures f;
  f.turns = 1;
  EXPECT_TRUE(find(f, Danger::dust).applies);
  EXPECT_EQ(find(f, Danger::dust).finding, "1 turn");
  EXPECT_FALSE(find(f, Danger::machinery).applies); // a fork
  f.by_machine = true;
  EXPECT_EQ(find(f, Danger::machinery).finding, "1 turn by machine");
  EXPECT_TRUE(find(f, Danger::machinery).applies);
  f.turns = 0;
  EXPECT_FALSE(find(f, Danger::dust).applies);
  EXPECT_FALSE(find(f, Danger::machinery).applies);
}

TEST(Cautions, GiveTheLitresThatDrainOutAndHowWetItIs) {
  CautionFigures f;
  f.leachate_L = 14.2;
  f.leached_kgN = 0.0043;
  f.wettest_percent = 64.0;
  f.least_air_percent = 35.0;
  EXPECT_TRUE(find(f, Danger::run_off).applies);
  EXPECT_EQ(find(f, Danger::run_off).finding,
            "moisture up to 64 %, free air space down to 35 %, 14 litres drain out, 4.3 g of "
            "nitrogen in it");
  f.leached_kgN = 1.25e-5;
  f.leachate_L = 0.0;
  EXPECT_FALSE(find(f, Danger::run_off).applies);
  f.wettest_percent = 76.0;
  EXPECT_TRUE(find(f, Danger::run_off).applies);
}

TEST(Cautions, ComeFromTheRunAndNameItsMaterials) {
  PileDescription pile = tests::mild_heap(8.0);
  pile.ingredients.front().material.group = "manure";
  pile.ingredients.front().material.title = "Invented manure";
  pile.turning = tests::turning(TurnMethod::loader, 3.0, 4.0);
  const ForecastResult result = run_forecast(pile);
  const CautionFigures f = caution_figures(pile, result);
  EXPECT_EQ(f.turns, result.find_scalar("turns")->value);
  EXPECT_TRUE(f.by_machine);
  ASSERT_EQ(f.animal.size(), 1U);
  EXPECT_EQ(f.animal.front(), "Invented manure");
  const std::vector<double>& core = result.find_series("core_temperature")->values;
  // On day 4 at the working hour the pile is turned: the value before is that of an hour earlier or
  // that hour, and none of the first four days' values is above it by more than the peak.
  EXPECT_LE(f.core_at_turn_degC, *std::max_element(core.begin(), core.end()));
  EXPECT_GT(f.core_at_turn_degC, 45.0);
  EXPECT_GT(f.hottest_degC, f.core_at_turn_degC);
  EXPECT_LT(f.driest_where_warm_percent, 70.0);
  EXPECT_TRUE(find(f, Danger::germs).applies);
}

TEST(Cautions, CountTheWorseEndOfSeveralRuns) {
  EnsembleResult runs;
  runs.central.series = {{"max_temperature", "degC", "", {50.0, 72.0}},
                         {"free_air_space", "%", "", {40.0, 30.0}}};
  runs.central.time_h = {0.0, 1.0};
  runs.bands = {{"max_temperature", "degC", "", {48.0, 60.0}, {50.0, 70.0}, {55.0, 84.0}},
                {"free_air_space", "%", "", {35.0, 15.0}, {40.0, 30.0}, {45.0, 40.0}}};
  const CautionFigures f = caution_figures(tests::mild_heap(1.0), runs);
  EXPECT_EQ(f.hottest_degC, 84.0);
  EXPECT_EQ(f.least_air_percent, 15.0);
  EXPECT_TRUE(find(f, Danger::fire).applies);
}

} // namespace
} // namespace heapcast::models
