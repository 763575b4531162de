// What anyone who has built piles knows, asked of the model with the library's materials and the
// default parameters.
// Sources: ids of validation/reference/field.csv, or "common practice, no source".

#include "models/forecast.hpp"
#include "models/pile_run.hpp"
#include "tests/cli/field_piles.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace {

using namespace heapcast::models;
using heapcast::tests::at_day;
using heapcast::tests::CsvTable;
using heapcast::tests::curve;
using heapcast::tests::every;
using heapcast::tests::good_mix;
using heapcast::tests::heap;
using heapcast::tests::mix;
using heapcast::tests::Part;
using heapcast::tests::reference_row;
using heapcast::tests::ReferenceRow;
using heapcast::tests::scalar;

ReferenceRow row_of(const std::string& id) {
  static const CsvTable table("field.csv");
  return reference_row(table, id);
}

double published(const std::string& id) {
  return row_of(id).value;
}

/// Records what a pile does beside a row's own range, for the validation; a miss fails no test.
void judge(const std::string& id, double computed, const std::string& pile) {
  const auto allowed = own_tolerance(row_of(id));
  ASSERT_TRUE(allowed) << id;
  judge_row(row_of(id), computed, *allowed, pile);
}

constexpr const char* invented_mix = "an invented good mix of 2.5 m3, 18 degC, never turned";

TEST(FieldFacts, GoodMixIsHotInOneToThreeDaysWithAColdSkin) {
  PileDescription pile = heap(good_mix(), 18.0, 20.0);
  pile.resolution = Resolution::standard;
  const ForecastResult r = run_forecast(pile);
  const double volume = curve(r, "volume").front();
  EXPECT_GT(volume, 1.0);
  EXPECT_LT(volume, 3.0);
  EXPECT_GE(scalar(r, "hot_day"), 1.0);
  EXPECT_LE(scalar(r, "hot_day"), published("t55_typ")); // 3 days
  judge("t55_typ", scalar(r, "hot_day"), invented_mix);
  judge("peak_typ", scalar(r, "peak_temperature"), invented_mix);
  EXPECT_GE(scalar(r, "peak_temperature"), 55.0);
  EXPECT_LE(scalar(r, "peak_temperature"), 72.0);
  for (const double day : {4.0, 6.0, 10.0}) {
    EXPECT_GT(at_day(r, "core_temperature", day) - at_day(r, "skin_temperature", day), 20.0);
  }
}

TEST(FieldFacts, CoreDipsAtATurnAndIsBackWithinADayWhileFoodLasts) {
  PileDescription pile = heap(good_mix(), 18.0, 8.0);
  pile.turning = every(100.0, 4.0);
  const ForecastResult r = run_forecast(pile);
  ASSERT_EQ(scalar(r, "turns"), 1.0);
  const double before = at_day(r, "core_temperature", 4.0);
  double lowest = before;
  for (int hour = 1; hour <= 6; ++hour) {
    lowest = std::min(lowest, at_day(r, "core_temperature", 4.0 + hour / 24.0));
  }
  EXPECT_LT(lowest, before - 3.0);
  double best = 0.0;
  for (int hour = 6; hour <= 24; ++hour) {
    best = std::max(best, at_day(r, "core_temperature", 4.0 + hour / 24.0));
  }
  EXPECT_GT(best, before - 2.0);
  RecordProperty("dip_K", std::to_string(before - lowest));
}

TEST(FieldFacts, OxygenOfATurnIsGoneWithinAboutAnHourInADenseWetMix) {
  PileDescription pile = heap(
      mix({{"poultry_manure", 300.0}, {"sawdust", 300.0}, {"horse_manure_bedding", 300.0}}, 0.62),
      18.0, 6.0);
  pile.turning = every(100.0, 4.0, TurnMethod::windrow_turner);
  PileRun run(pile);
  while (run.day() < 4.0 - 1e-9) {
    run.do_events();
    run.advance_hour();
  }
  const double before = run.readings().core_oxygen;
  run.do_events(); // the turn
  const double aired = run.readings().core_oxygen;
  run.advance_hour();
  const double after = run.readings().core_oxygen;
  EXPECT_LT(before, 0.01);
  EXPECT_GT(aired, 0.15);
  // o2_store of conduction_transport.csv: 70 min at 1 mg O2/g VS/h; a tenth of ambient left counts
  // as gone.
  EXPECT_LT(after, 0.02);
}

TEST(FieldFacts, LooseStrawStaysCoolWithOxygenNearAmbientAndCompactingMakesItHotter) {
  const auto loose_mix = mix({{"cattle_manure", 300.0}, {"wheat_straw", 120.0}}, 0.60);
  const ForecastResult loose = run_forecast(heap(loose_mix, 15.0, 20.0));
  PileDescription trodden = heap(loose_mix, 15.0, 20.0);
  trodden.compaction = 0.5;
  const ForecastResult dense = run_forecast(trodden);
  // trial 01: straw mixes with 75-93 % free air space had oxygen near ambient and never met 55 degC
  EXPECT_GT(curve(loose, "free_air_space").front(), 75.0);
  EXPECT_LT(scalar(loose, "peak_temperature"), 45.0);
  judge_row(row_of("straw_cool"), scalar(loose, "days_above_55") > 0.0 ? 1.0 : 0.0, {0.0, 0.0},
            "an invented loose mix of cattle manure and straw, 15 degC");
  EXPECT_GT(at_day(loose, "core_oxygen", 5.0), 18.0);
  EXPECT_GT(scalar(dense, "peak_temperature"), scalar(loose, "peak_temperature") + 10.0);
  RecordProperty("loose_peak", std::to_string(scalar(loose, "peak_temperature")));
  RecordProperty("trodden_peak", std::to_string(scalar(dense, "peak_temperature")));
}

TEST(FieldFacts, DenseMixAboveSeventyPercentMoistureStaysCool) {
  const ForecastResult r =
      run_forecast(heap(mix({{"cattle_manure", 1200.0}, {"sawdust", 60.0}}), 15.0, 30.0));
  EXPECT_GT(curve(r, "moisture_wet_basis").front(), 70.0);
  EXPECT_LT(scalar(r, "peak_temperature"), 45.0);
  EXPECT_LT(at_day(r, "core_oxygen", 5.0), 1.0);
}

TEST(FieldFacts, LeafWindrowHalvesInAMonthAndNeedsOverAYear) {
  PileDescription pile = heap(mix({{"dry_leaves", 2500.0}}, 0.55), 10.0, 365.0);
  pile.shape.kind = ShapeKind::windrow;
  pile.shape.height_m = 1.8; // 6 ft x 12-14 ft, trial 16
  pile.shape.width_m = 4.0;
  const ForecastResult r = run_forecast(pile);
  const double left = 100.0 * at_day(r, "volume", 30.0) / curve(r, "volume").front();
  EXPECT_NEAR(left, published("leaf_vol"), 10.0); // 50 +- 10 % of initial
  judge("leaf_vol", left, "an invented windrow of dry leaves, 1.8 m by 4 m, 10 degC");
  // "over a year": 16-18 months for such windrows, turned a few times (trial 16). Never turned it
  // is not ready for a garden bed within the year.
  EXPECT_TRUE(std::isnan(scalar(r, "ready_day"))) << scalar(r, "ready_day");
  RecordProperty("fast_and_medium_carbon_left",
                 std::to_string(at_day(r, "fast_carbon", 364.0) / curve(r, "fast_carbon").front()));
  RecordProperty("volume_left_percent", std::to_string(left));
}

TEST(FieldFacts, GreenPileLosesAFifthOfItsVolumeInAWeek) {
  const ForecastResult r = run_forecast(heap(good_mix(), 18.0, 8.0));
  const double left = 100.0 * at_day(r, "volume", 7.0) / curve(r, "volume").front();
  EXPECT_NEAR(left, published("vt_vol"), 8.0); // 80 +- 8 % of initial
  judge("vt_vol", left, invented_mix);
  judge_row(row_of("vt_66"), at_day(r, "core_temperature", 40.0 / 24.0),
            within(row_of("vt_66"), 5.0), invented_mix);
  judge_row(row_of("vt_peak"), scalar(r, "peak_temperature"), within(row_of("vt_peak"), 4.0),
            invented_mix);
}

TEST(FieldFacts, WholeCobsAloneHardlyRotInAYearAndChoppedInAGoodPileTheyGo) {
  // Common practice, no source.
  const ForecastResult alone = run_forecast(heap(mix({{"corn_cobs", 700.0}}), 15.0, 365.0));
  EXPECT_LT(scalar(alone, "carbon_lost_fraction"), 0.05);

  const auto base = [](double cobs_kg) {
    std::vector<Part> parts = {{"grass_clippings", 350.0, 0.02}, {"horse_manure_bedding", 450.0}};
    if (cobs_kg > 0.0) {
      parts.push_back({"corn_cobs", cobs_kg, 0.01});
    }
    return parts;
  };
  const ForecastResult with = run_forecast(heap(mix(base(80.0), 0.6), 18.0, 90.0));
  const ForecastResult without = run_forecast(heap(mix(base(0.0), 0.6), 18.0, 90.0));
  const auto lost = [&](const ForecastResult& r) {
    return curve(r, "cumulative_carbon_dioxide_carbon").back();
  };
  // What 80 kg of cobs (85 % dry, 46 % C) add to the carbon dioxide is theirs.
  const double share = (lost(with) - lost(without)) / (80.0 * 0.85 * 0.463);
  EXPECT_GT(share, 0.2);
  RecordProperty("cob_carbon_gone_in_90_days", std::to_string(share));
}

TEST(FieldFacts, PileBuiltFrozenStillWakes) {
  PileDescription pile =
      heap(mix({{"horse_manure_bedding", 1400.0}, {"wheat_straw", 50.0, 0.05}}), 5.0, 120.0);
  pile.build_temperature_K = 273.15 - 2.0;
  const ForecastResult r = run_forecast(pile);
  EXPECT_GT(curve(r, "frozen_share").front(), 60.0);
  EXPECT_GT(scalar(r, "peak_temperature"), 40.0);
  RecordProperty("peak_day", std::to_string(scalar(r, "peak_day")));
}

TEST(FieldFacts, TallGrassLeftUnchoppedIsRefusedForTurningByFork) {
  PileDescription pile = heap(mix({{"tall_grass", 400.0}, {"cattle_manure", 200.0}}), 24.0, 10.0);
  pile.turning = every(2.0, 4.0);
  const ForecastResult refused = run_forecast(pile);
  EXPECT_EQ(scalar(refused, "turns"), 0.0);
  ASSERT_EQ(refused.warnings.size(), 1U);
  EXPECT_NE(refused.warnings.front().find("Chop it"), std::string::npos)
      << refused.warnings.front();
  EXPECT_EQ(refused.events.front().kind, "refused");

  pile.ingredients = mix({{"tall_grass", 400.0, 0.1}, {"cattle_manure", 200.0}});
  EXPECT_GT(scalar(run_forecast(pile), "turns"), 0.0);

  // Laid on a pile that could be turned, it stops the fork from then on.
  Addition laid_on;
  laid_on.schedule.on_days = {5.0};
  laid_on.ingredients = mix({{"tall_grass", 400.0}});
  pile.additions = {laid_on};
  const ForecastResult later = run_forecast(pile);
  EXPECT_EQ(scalar(later, "turns"), 1.0); // on day 4
  EXPECT_EQ(later.warnings.size(), 1U);
}

TEST(FieldFacts, WhatDoesNotFitIntoAFullBinIsRefused) {
  PileDescription pile =
      heap(mix({{"vegetable_scraps", 60.0, 0.03}, {"dry_leaves", 25.0}}), 18.0, 30.0);
  pile.shape.kind = ShapeKind::bin;
  pile.shape.width_m = 0.8;
  pile.shape.length_m = 0.8;
  pile.shape.height_m = 0.6;
  Addition weekly;
  weekly.schedule.every_days = 2.0;
  weekly.schedule.from_day = 2.0;
  weekly.ingredients = mix({{"dry_leaves", 5.0}});
  pile.additions = {weekly};
  const ForecastResult r = run_forecast(pile);
  const auto count = [&](const char* kind) {
    return std::count_if(r.events.begin(), r.events.end(),
                         [&](const EventRecord& e) { return e.kind == kind; });
  };
  EXPECT_GT(count("add"), 0);
  EXPECT_GT(count("refused"), 0);
  EXPECT_FALSE(r.warnings.empty());
  // Nothing lies above the rim: 0.8 m by 0.8 m by 0.6 m is 0.384 m3.
  EXPECT_LE(*std::max_element(curve(r, "volume").begin(), curve(r, "volume").end()), 0.384 * 1.001);
}

TEST(FieldFacts, ManureStartsAPileAsSoonAsGrassAndKeepsItHotter) {
  // 100 kg of grass through a cow leaves about 20 kg of manure, concentrated feed and a starter
  // (common practice, no source): 20 kg of manure in place of 20 kg of grass.
  const auto heats = [](const std::vector<Part>& parts) {
    return run_forecast(heap(mix(parts, 0.6), 18.0, 6.0));
  };
  const ForecastResult with =
      heats({{"cattle_manure", 60.0}, {"grass_clippings", 540.0, 0.02}, {"dry_leaves", 120.0}});
  const ForecastResult without = heats({{"grass_clippings", 600.0, 0.02}, {"dry_leaves", 120.0}});
  // MISSED: people tell that manure starts a pile sooner; here it is at 55 degC an hour later. Its
  // microbes (2 % of its carbon, 1 % in grass) are 7 % more for the mix, but the grass that it
  // replaces had a tenth of the fast carbon, and with it as many microbes as the start takes.
  const double ahead_h = 24.0 * (scalar(without, "hot_day") - scalar(with, "hot_day"));
  printf("[ FACT     ] manure for grass: at 55 degC %.0f h sooner (people tell: sooner)\n",
         ahead_h);
  EXPECT_GE(ahead_h, -2.0);
  EXPECT_GT(scalar(with, "peak_temperature"), scalar(without, "peak_temperature"));
}

/// First day from which the core stays within `kelvin` of the mean air temperature.
double cooled_day(const ForecastResult& r, double mean_C, double kelvin) {
  const auto& core = curve(r, "core_temperature");
  std::size_t i = core.size();
  while (i > 0 && core[i - 1] < mean_C + kelvin) {
    --i;
  }
  return static_cast<double>(i) / 24.0;
}

TEST(FieldFacts, TurningSpeedsAPileUpTowardsTheDaysPeopleTell) {
  // Common practice, no source: turned every other day a good chopped mix is finished in about 18
  // days; never turned it takes on the order of a year. The model's day of "no more than 10 K above
  // the air" is printed beside both, and the day from which a mixed sample takes up little enough
  // oxygen for a garden bed; the assertion is on the direction of that one. The core of a pile
  // never turned cools because it is burnt out, with lumps and skin still raw.
  PileDescription turned = heap(good_mix(), 18.0, 120.0);
  turned.turning = every(2.0, 4.0);
  const ForecastResult fast = run_forecast(turned);
  const ForecastResult slow = run_forecast(heap(good_mix(), 18.0, 120.0));
  const double fast_day = cooled_day(fast, 18.0, 10.0);
  const double slow_day = cooled_day(slow, 18.0, 10.0);
  RecordProperty("cooled_turned_every_other_day", std::to_string(fast_day));
  RecordProperty("cooled_never_turned", std::to_string(slow_day));
  printf("[ FACT     ] turned every other day: cooled on day %.0f (people tell: 18)\n", fast_day);
  printf("[ FACT     ] never turned: cooled on day %.0f (people tell: about a year)\n", slow_day);
  const double stable = scalar(fast, "ready_day_oxygen_uptake");
  const double stable_unturned = scalar(slow, "ready_day_oxygen_uptake");
  printf("[ FACT     ] stable by oxygen uptake: day %.0f turned, day %.0f never turned\n", stable,
         stable_unturned);
  EXPECT_LT(stable, 60.0);
  EXPECT_FALSE(stable_unturned < stable); // not within 120 days counts as later
}

} // namespace
