// What turning alone changes, asked of the model with the library's materials and the default
// parameters. Published work differs in materials, size and weather from the piles here, which are
// invented: directions are asserted, sizes only where the model is inside what is published. Every
// size is printed beside the published one.
// Sources: validation/reference/field.csv and validation/reference/trials.

#include "models/forecast.hpp"
#include "tests/cli/field_piles.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
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
using heapcast::tests::scalar;

/// From and to, as published.
struct Range {
  double low;
  double high;
};

/// The row of a trial with this treatment and variable.
Range published(const CsvTable& trial, const std::string& treatment, const std::string& variable) {
  for (std::size_t i = 0; i < trial.size(); ++i) {
    if (trial.field(i, "treatment") == treatment && trial.field(i, "variable") == variable) {
      const auto end = [&](const char* column, double open) {
        const std::string& text = trial.field(i, column);
        return text.empty() ? open : std::stod(text);
      };
      return {end("low", 0.0), end("high", 100.0)};
    }
  }
  throw std::runtime_error("no row " + treatment + ", " + variable);
}

bool inside(double value, const Range& range) {
  return value >= range.low && value <= range.high;
}

/// Prints and records a size.
void tell(const std::string& what, double model, const std::string& beside = "") {
  std::printf("[ FACT     ] %s: model %.3g%s%s\n", what.c_str(), model, beside.empty() ? "" : "; ",
              beside.c_str());
  testing::Test::RecordProperty(what, std::to_string(model));
}

void tell(const std::string& what, double model, const Range& range) {
  const auto number = [](double value) {
    std::string text = std::to_string(value);
    text.erase(text.find_last_not_of('0') + 1);
    return text.back() == '.' ? text.substr(0, text.size() - 1) : text;
  };
  tell(what, model,
       "published " + number(range.low) +
           (range.high > range.low ? " to " + number(range.high) : std::string()) +
           (inside(model, range) ? "" : ": MISSED"));
}

double carbon_lost_percent(const ForecastResult& r) {
  return 100.0 * scalar(r, "carbon_lost_fraction");
}

double nitrogen_lost_percent(const ForecastResult& r) {
  return 100.0 * scalar(r, "nitrogen_lost_fraction");
}

/// Records what a pile does beside a row of field.csv; a miss fails no test.
void judge(const std::string& id, double computed, double low, double high,
           const std::string& pile) {
  static const CsvTable field("field.csv");
  judge_row(reference_row(field, id), computed, {low, high}, pile);
}

/// The good mix of the field facts, 100 days, turned by fork every so many days; 0: never.
ForecastResult good_mix_turned(double every_days, double days = 100.0) {
  PileDescription pile = heap(good_mix(), 18.0, days);
  if (every_days > 0.0) {
    pile.turning = every(every_days, 4.0);
  }
  return run_forecast(pile);
}

/// An ingredient as supplied drier than the library has it, with the same dry matter and volume.
void dry_to(Ingredient& ingredient, double moisture) {
  Material& m = ingredient.material;
  const double volume = ingredient.wet_mass_kg / m.bulk_density_wet_kg_m3;
  ingredient.wet_mass_kg *= (1.0 - m.moisture_wet_basis) / (1.0 - moisture);
  m.moisture_wet_basis = moisture;
  m.bulk_density_wet_kg_m3 = ingredient.wet_mass_kg / volume;
}

PileDescription windrow(std::vector<Ingredient> ingredients, double days, double height_m,
                        double width_m) {
  PileDescription pile = heap(std::move(ingredients), 18.0, days);
  pile.shape.kind = ShapeKind::windrow;
  pile.shape.height_m = height_m;
  pile.shape.width_m = width_m;
  return pile;
}

struct Both {
  ForecastResult never, turned;
};

Both with_and_without(PileDescription pile, const Turning& turning) {
  Both both;
  both.never = run_forecast(pile);
  pile.turning = turning;
  both.turned = run_forecast(pile);
  return both;
}

/// Grams of a gas over 100 days, from the kilograms of its element.
double grams(const ForecastResult& r, const char* series, double gas_per_element) {
  return 1000.0 * gas_per_element * curve(r, series).back();
}

void judge_emissions_and_losses(const ForecastResult& r) {
  const char* pile = "an invented good mix of 2.5 m3, turned weekly, 100 days, 18 degC";
  const double dry_kg = curve(r, "dry_mass").front();
  const double wet_kg = dry_kg + curve(r, "water_mass").front();
  const double methane_g = grams(r, "cumulative_methane_carbon", 16.0 / 12.0);
  const double nitrous_g = grams(r, "cumulative_nitrous_oxide_nitrogen", 44.0 / 28.0);
  judge("ipcc06_ch4_wet", methane_g / wet_kg, 0.03, 8.0, pile);
  judge("ipcc06_ch4_dry", methane_g / dry_kg, 0.08, 20.0, pile);
  judge("ipcc06_n2o_wet", nitrous_g / wet_kg, 0.06, 0.6, pile);
  judge("ipcc19_n2o_wet", nitrous_g / wet_kg, 0.06, 0.6, pile);
  judge("ipcc06_n2o_dry", nitrous_g / dry_kg, 0.2, 1.6, pile);
  // Ash stays: the dry matter lost is volatile solids.
  const double lost_kg = dry_kg - curve(r, "dry_mass").back();
  judge("evap_kg", curve(r, "cumulative_evaporation").back() / lost_kg, 4.0, 6.5, pile);
  judge("vol_loss", 100.0 * (1.0 - curve(r, "volume").back() / curve(r, "volume").front()), 50.0,
        75.0, pile);
  judge("mass_loss",
        100.0 * (1.0 - (curve(r, "dry_mass").back() + curve(r, "water_mass").back()) / wet_kg),
        40.0, 80.0, pile);
}

TEST(TurningFacts, ATurnedPileLosesMoreCarbonAndAmmoniaAndTakesMoreWork) {
  const ForecastResult never = good_mix_turned(0.0);
  const ForecastResult weekly = good_mix_turned(7.0);
  const ForecastResult often = good_mix_turned(2.0);
  for (const char* name : {"carbon_lost_fraction", "nitrogen_lost_fraction",
                           "nitrogen_lost_ammonia", "labour_hours"}) {
    tell(std::string(name) + " never turned", scalar(never, name));
    tell(std::string(name) + " weekly", scalar(weekly, name));
    tell(std::string(name) + " every other day", scalar(often, name));
    EXPECT_GT(scalar(weekly, name), scalar(never, name)) << name;
    EXPECT_GT(scalar(often, name), scalar(never, name)) << name;
  }
  EXPECT_GT(scalar(often, "labour_hours"), scalar(weekly, "labour_hours"));
  judge_emissions_and_losses(weekly);
  // 14 and 48 turns of a pile that shrinks alike: at least twice the work of turning.
  EXPECT_GT(scalar(often, "labour_hours_turning"), 2.0 * scalar(weekly, "labour_hours_turning"));
  EXPECT_EQ(scalar(never, "labour_hours_turning"), 0.0);
}

TEST(TurningFacts, ANeverTurnedPileKeepsItsColdSkinsSurvivors) {
  // MODEL, section 9: with a hot share f of the volume a pile that is turned n times keeps
  // (1 - f)^(n + 1), a never-turned one 1 - f.
  const ForecastResult never = good_mix_turned(0.0);
  const ForecastResult weekly = good_mix_turned(7.0);
  const double cold = 1.0 - scalar(never, "hygiene_volume_share_us503_eq1");
  const auto hot_turns =
      static_cast<double>(std::ranges::count_if(weekly.events, [&](const EventRecord& event) {
        return event.kind == "turn" && at_day(weekly, "core_temperature", event.day) >= 50.0;
      }));
  tell("log10 of the never-turned pile's cold share", std::log10(cold));
  tell("log10 of what weekly turns while it is hot leave of it",
       (hot_turns + 1.0) * std::log10(cold));
  for (const Scalar& one : never.scalars) {
    if (!one.name.starts_with("log10_survivors_")) {
      continue;
    }
    tell(one.name + " never turned", one.value);
    tell(one.name + " weekly", scalar(weekly, one.name.c_str()));
    EXPECT_LT(scalar(weekly, one.name.c_str()), one.value) << one.name;
  }
  // Of what little but heat kills, and the heat of 50 degC does. Half a log: the rule takes what is
  // hot for dead and what is not for untouched, and there is warm material between; with turns a
  // whole one, for a turn that finds the core just above or below 50 degC counts or not.
  for (const char* name : {"log10_survivors_ascaris", "log10_survivors_weed_seeds"}) {
    EXPECT_NEAR(scalar(never, name), std::log10(cold), 0.5) << name;
    EXPECT_NEAR(scalar(weekly, name), (hot_turns + 1.0) * std::log10(cold), 1.0) << name;
  }
}

TEST(TurningFacts, HeatAddedUpReachesMorePlacesOfATurnedPileButNotDaysOnEnd) {
  // MISSED for rules that want heat for days on end (EU 2019/1009): with every turn more of the
  // material meets a heat rule (MODEL, section 9; the rules for windrows ask for turns for that
  // reason); model: fewer places do, because a rule's clock stands at a place of the pile, not in
  // the material. The skin's places stay cold however often other material comes there, and each
  // turn costs hot days. What turning does to the material shows in the survivors.
  const ForecastResult never = good_mix_turned(0.0);
  const ForecastResult weekly = good_mix_turned(7.0);
  const ForecastResult often = good_mix_turned(2.0);
  for (const char* name : {"hygiene_volume_share_us503_eq1", "hygiene_volume_share_eu1009_cmc3"}) {
    tell(std::string(name) + " never turned", scalar(never, name));
    tell(std::string(name) + " weekly", scalar(weekly, name),
         scalar(weekly, name) > scalar(never, name) ? "" : "more is expected: MISSED");
    tell(std::string(name) + " every other day", scalar(often, name),
         scalar(often, name) > scalar(never, name) ? "" : "more is expected: MISSED");
  }
  const char* added_up = "hygiene_volume_share_us503_eq1";
  EXPECT_GT(scalar(weekly, added_up), scalar(never, added_up));
  EXPECT_GT(scalar(often, added_up), scalar(never, added_up));
  // The skin's places stay cold in all of them.
  EXPECT_LT(scalar(often, added_up), 0.8);
}

/// A day that does not come within the run is later than any.
double day_or_never(const ForecastResult& r, const char* name) {
  const double day = scalar(r, name);
  return std::isnan(day) ? std::numeric_limits<double>::infinity() : day;
}

TEST(TurningFacts, TheMoreAPileIsTurnedTheSoonerItIsReady) {
  // That turning makes compost ready sooner is common practice, no source. The good mix is ready
  // first when turned every other day, then when turned weekly; never turned it is not within 150
  // days. Of its criteria only the core's excess over the air is met later than in the pile never
  // turned, whose core has burnt what it had and cools with the rest still raw: turned once on the
  // day when its core has cooled, it is warm again for weeks.
  const ForecastResult never = good_mix_turned(0.0, 150.0);
  const ForecastResult weekly = good_mix_turned(7.0, 150.0);
  const ForecastResult often = good_mix_turned(2.0, 150.0);
  for (const char* name : {"ready_day", "ready_day_oxygen_uptake", "ready_day_above_air"}) {
    tell(std::string(name) + " never turned", scalar(never, name));
    for (const auto& [how, turned] :
         {std::pair{" weekly", &weekly}, std::pair{" every other day", &often}}) {
      tell(name + std::string(how), scalar(*turned, name),
           day_or_never(*turned, name) <= day_or_never(never, name) ? ""
                                                                    : "sooner is expected: MISSED");
    }
  }
  EXPECT_LT(scalar(often, "ready_day"), scalar(weekly, "ready_day"));
  for (const ForecastResult* turned : {&weekly, &often}) {
    EXPECT_LT(scalar(*turned, "ready_day"), 90.0);
    EXPECT_LT(scalar(*turned, "ready_day"), day_or_never(never, "ready_day"));
    EXPECT_LT(scalar(*turned, "ready_day_oxygen_uptake"), 60.0);
    EXPECT_LT(scalar(*turned, "ready_day_oxygen_uptake"),
              day_or_never(never, "ready_day_oxygen_uptake"));
  }

  const double cooled = std::ceil(scalar(never, "ready_day_above_air"));
  PileDescription late = heap(good_mix(), 18.0, 150.0);
  late.turning = Turning{};
  late.turning->schedule.on_days = {cooled};
  const ForecastResult turned_late = run_forecast(late);
  ASSERT_EQ(scalar(turned_late, "turns"), 1.0);
  tell("ready_day_above_air turned once on day " + std::to_string(static_cast<int>(cooled)),
       scalar(turned_late, "ready_day_above_air"));
  EXPECT_GT(day_or_never(turned_late, "ready_day_above_air"), cooled + 14.0);
}

TEST(TurningFacts, SwineManureWithCornStalksInWindrowsFortyTwoDays) {
  // Trial 21 (Tiquia, Richard & Honeyman 2002), its sizes from memory: windrows of 1.2 m by 2 m,
  // turned weekly. Manure that has lain in deep bedding is drier than the library's: 70 %.
  //
  // MISSED: published 50 to 63 % of the carbon (turned), model 41 %, because after 42 days nearly
  // all of the slow pool and some of the medium one is left.
  //
  // MISSED: published 37 to 60 % of the nitrogen, model 8 and 22 %, because, so it seems, much left
  // there with water or in handling: the trial lost 20 to 52 % of its potassium, which is no gas,
  // and here next to nothing drains. Urine in the bedding adds to it.
  const CsvTable trial("trials/trial_21_tiquia2002_turned_vs_unturned_MEMORY.csv");
  std::vector<Ingredient> ingredients =
      mix({{"swine_manure", 2000.0}, {"corn_stalks", 300.0, 0.05}});
  dry_to(ingredients.front(), 0.70);
  const Both both = with_and_without(windrow(ingredients, 42.0, 1.2, 2.0),
                                     every(7.0, 7.0, TurnMethod::windrow_turner));
  tell("initial C:N", curve(both.never, "carbon_nitrogen_ratio").front());
  tell("initial moisture, %", curve(both.never, "moisture_wet_basis").front());
  tell("carbon lost unturned, %", carbon_lost_percent(both.never),
       published(trial, "unturned", "C loss"));
  tell("carbon lost turned, %", carbon_lost_percent(both.turned),
       published(trial, "turned", "C loss"));
  tell("nitrogen lost unturned, %", nitrogen_lost_percent(both.never),
       published(trial, "both", "N loss"));
  tell("nitrogen lost turned, %", nitrogen_lost_percent(both.turned),
       published(trial, "both", "N loss"));
  EXPECT_GT(carbon_lost_percent(both.turned), carbon_lost_percent(both.never));
  EXPECT_GT(nitrogen_lost_percent(both.turned), nitrogen_lost_percent(both.never));
  EXPECT_LT(scalar(both.turned, "log10_survivors_ascaris"),
            scalar(both.never, "log10_survivors_ascaris"));
}

double greenhouse_gas_kg(const ForecastResult& r) {
  // As carbon dioxide over 100 years: methane 25, nitrous oxide 298 (IPCC 2007, from memory).
  return curve(r, "cumulative_carbon_dioxide_carbon").back() * 44.0 / 12.0 +
         25.0 * curve(r, "cumulative_methane_carbon").back() * 16.0 / 12.0 +
         298.0 * curve(r, "cumulative_nitrous_oxide_nitrogen").back() * 44.0 / 28.0;
}

double gas_ratio(const Both& both) {
  return greenhouse_gas_kg(both.turned) / greenhouse_gas_kg(both.never);
}

/// Of 80 days' carbon dioxide.
double early_percent(const ForecastResult& r) {
  return 100.0 * at_day(r, "cumulative_carbon_dioxide_carbon", 23.0) /
         curve(r, "cumulative_carbon_dioxide_carbon").back();
}

double methane_percent(const ForecastResult& r) {
  return 100.0 * 25.0 * 16.0 / 12.0 * curve(r, "cumulative_methane_carbon").back() /
         greenhouse_gas_kg(r);
}

TEST(TurningFacts, DairyManureMixedFourTimesInEightyDaysGivesMoreGreenhouseGas) {
  // Trial 02 (Ahn et al. 2011): about 1.5 m3 of bedded dairy manure. Its bedding is not told: here
  // straw, for a loose mix that gets hot, and mostly sawdust, for a dense one.
  //
  // MISSED with straw: 2 % in place of 18 to 21 % of the greenhouse gas as methane, because the
  // pile is open to air throughout, and 59 (static) and 53 % (mixed) in place of 70 % of the carbon
  // dioxide by day 23, because lumps and skin come to the air late. MISSED with sawdust, which
  // gives the methane: 47 and 42 % by day 23, because without air the pile stays cold. The trial's
  // piles were hot and had airless places at once; a mean over each cell of this mesh does not.
  const CsvTable field("field.csv");
  Turning four = every(16.0, 16.0, TurnMethod::loader);
  four.schedule.at_most = 4;
  const Range ratio_published = {reference_row(field, "ahn_mix").value - 0.1,
                                 reference_row(field, "ahn_mix").value + 0.1}; // as in the table
  const Range share_published = {reference_row(field, "ahn_co2").value - 8.0,
                                 reference_row(field, "ahn_co2").value + 8.0}; // as in the table
  const CsvTable trial("trials/trial_02_ahn2011_mixed_vs_static.csv");
  const Range methane_published = published(trial, "both", "share of GHG as CH4 (CO2eq)");
  const auto run = [&](const char* bedding, const std::vector<Part>& parts) {
    Both both = with_and_without(heap(mix(parts), 18.0, 80.0), four);
    const std::string name = std::string(", ") + bedding;
    tell("initial C:N" + name, curve(both.never, "carbon_nitrogen_ratio").front());
    tell("volume, m3" + name, curve(both.never, "volume").front());
    tell("greenhouse gas, mixed over static" + name, gas_ratio(both), ratio_published);
    tell("carbon dioxide by day 23, %, static" + name, early_percent(both.never), share_published);
    tell("carbon dioxide by day 23, %, mixed" + name, early_percent(both.turned), share_published);
    tell("methane in the greenhouse gas, %, static" + name, methane_percent(both.never),
         methane_published);
    tell("methane in the greenhouse gas, %, mixed" + name, methane_percent(both.turned),
         methane_published);
    EXPECT_EQ(scalar(both.turned, "turns"), 4.0);
    EXPECT_GT(gas_ratio(both), 1.0) << bedding;
    const std::string pile = "1.5 m3 of cattle manure bedded with " + std::string(bedding) +
                             ", the bedding assumed; trial 02";
    judge("ahn_mix", gas_ratio(both), ratio_published.low, ratio_published.high, pile);
    for (const auto& [result, how] :
         {std::pair{&both.never, ", static"}, std::pair{&both.turned, ", mixed"}}) {
      judge("ahn_co2", early_percent(*result), share_published.low, share_published.high,
            pile + how);
      judge("ahn_ch4",
            100.0 * at_day(*result, "cumulative_methane_carbon", 23.0) /
                curve(*result, "cumulative_methane_carbon").back(),
            90.0, 100.0, pile + how); // 95 +- 5
    }
    return both;
  };
  const Both straw = run("straw", {{"cattle_manure", 400.0}, {"wheat_straw", 80.0, 0.05}});
  EXPECT_TRUE(inside(gas_ratio(straw), ratio_published));
  const Both sawdust =
      run("sawdust", {{"cattle_manure", 800.0}, {"sawdust", 120.0}, {"wheat_straw", 32.0, 0.05}});
  EXPECT_TRUE(inside(gas_ratio(sawdust), ratio_published));
}

TEST(TurningFacts, TurnedDairyWindrowsLoseLessNitrogenTheMoreCarbonThereIs) {
  // Trial 01 (Michel et al. 2004): turned windrows of dairy manure with sawdust, 100 days, C:N of
  // 25 to 50. "Workable moisture": the library's driest manure, 67 %, for its common 81 % makes
  // these mixes 66 to 76 % wet.
  //
  // MISSED, beside what turning does: published 55 degC within 10 days and for more than 60 days,
  // model so at a C:N of 51, within 9 days for 59 at 44, and late and for 9 and 21 days at 26 and
  // 33, because the core stays without oxygen until the mix is drier than about 60 %. At 51, beyond
  // the published range, it loses 1.4 % of the nitrogen, below the least of the trial.
  const CsvTable field("field.csv");
  const CsvTable trial("trials/trial_01_michel2004_dairy_bedding.csv");
  const Range all = published(trial, "all", "manure N lost");
  const Range above_forty = published(trial, "C:N>40", "N lost");
  double last = 100.0;
  for (const double sawdust_kg : {400.0, 800.0, 1400.0, 1800.0}) {
    std::vector<Ingredient> ingredients = mix({{"cattle_manure", 3000.0}, {"sawdust", sawdust_kg}});
    dry_to(ingredients.front(), 0.67);
    const Both both = with_and_without(windrow(ingredients, 100.0, 1.3, 3.0),
                                       every(7.0, 7.0, TurnMethod::windrow_turner));
    const double ratio = curve(both.never, "carbon_nitrogen_ratio").front();
    const double lost = nitrogen_lost_percent(both.turned);
    const std::string name = "C:N " + std::to_string(std::lround(ratio));
    tell("nitrogen lost turned, %, " + name, lost, all);
    tell("nitrogen lost unturned, %, " + name, nitrogen_lost_percent(both.never));
    tell("days above 55 degC turned, " + name, scalar(both.turned, "days_above_55"),
         Range{reference_row(field, "dur55_sawdust").value, 100.0});
    const std::string pile = "turned windrow of dairy manure with sawdust, " + name +
                             ", its manure's moisture assumed; trial 01";
    // No day at 55 degC: later than the trial's 100 days.
    const double hot_day = scalar(both.turned, "hot_day");
    judge("t55_sawdust", std::isnan(hot_day) ? 100.0 : hot_day, 0.0, 10.0,
          pile + (std::isnan(hot_day) ? ", never: 100 stands for that" : ""));
    judge("dur55_sawdust", scalar(both.turned, "days_above_55"), 60.0, 100.0, pile);
    judge("nloss_lo", lost, all.low, all.high, pile);
    judge("nloss_hi", lost, all.low, all.high, pile);
    if (ratio > 40.0) {
      judge("nloss_cn40", lost, 0.0, above_forty.high, pile);
    }
    if (ratio <= 50.0) {
      EXPECT_TRUE(inside(lost, all)) << lost;
    }
    if (ratio > 40.0) {
      EXPECT_LT(lost, above_forty.high);
    }
    EXPECT_LT(lost, last) << name; // a negative correlation
    EXPECT_GT(lost, nitrogen_lost_percent(both.never)) << name;
    last = lost;
  }
}

} // namespace
