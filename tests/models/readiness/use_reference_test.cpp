// The limits of the built-in uses, against validation/reference/stability.csv.

#include "models/hygiene/hygiene_rule.hpp"
#include "models/readiness/use.hpp"

#include "engine/errors.hpp"
#include "models/pile.hpp"
#include "models/readiness/respiration.hpp"
#include "tests/models/pile_fixture.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace heapcast::models {
namespace {

using enum Measure;

constexpr std::string_view by_demand[] = {"mulch", "field", "garden_bed", "potting_mix"};

const tests::CsvTable& stability() {
  static const tests::CsvTable table("stability.csv");
  return table;
}

/// A limit is a number of a table, so that nothing but equality will do: rounding of a conversion.
void expect_limit(const char* id, double computed, double allowance = 1e-12) {
  const tests::ReferenceRow row = tests::reference_row(stability(), std::string(id));
  expect_row(row, computed, within(row, allowance));
}

TEST(UseTable, LimitsAreThePublishedOnes) {
  const auto uptake_mg = [](const char* use) {
    return Respiration::from_mmolO2_kg_h(built_in_limit(use, oxygen_uptake)).mgO2_g_h();
  };
  expect_limit("ccqc_our_m", uptake_mg("mulch"));
  expect_limit("our25_mg", uptake_mg("field"), 1e-3); // the row's own
  expect_limit("ccqc_our_vm", uptake_mg("potting_mix"));
  // "from 15 to 40" is the class that field compost must stay out of.
  EXPECT_EQ(stability().field(stability().find("id", "tmecc_u"), "inputs"), "from 15 to 40");
  EXPECT_EQ(built_in_limit("field", carbon_dioxide), 15.0);
  expect_limit("ccqc_co2_m", built_in_limit("garden_bed", carbon_dioxide));
  expect_limit("tmecc_s", built_in_limit("garden_bed", carbon_dioxide));
  expect_limit(
      "pas100_co2",
      Respiration::from_mgC_g_d(built_in_limit("potting_mix", carbon_dioxide)).mgCO2_g_d());
  // Class I is 10 K wide.
  expect_limit("dewar_I", built_in_limit("mulch", self_heating) + 10.0);
  expect_limit("dewar_III", built_in_limit("field", self_heating));
  expect_limit("dewar_IV", built_in_limit("garden_bed", self_heating));
  expect_limit("ccqc_dewar_m", built_in_limit("garden_bed", self_heating));
  expect_limit("dewar_V", built_in_limit("potting_mix", self_heating));
  expect_limit("ccqc_dewar_vm", built_in_limit("potting_mix", self_heating));
  expect_limit("ccqc_cn", built_in_limit("garden_bed", carbon_nitrogen_ratio));
  expect_limit("ccqc_ratio_m", built_in_limit("garden_bed", ammonium_nitrate_ratio));
}

TEST(UseTable, FieldCompostMeetsTheStabilityOfTheEuropeanRegulation) {
  const tests::CsvTable hygiene("sanitisation.csv");
  const tests::ReferenceRow uptake = tests::reference_row(hygiene, std::string("eu1009_our"));
  expect_row(uptake, built_in_limit("field", oxygen_uptake), within(uptake, 0.0));
  // The alternative is a self-heating class of III or better; its upper edge is the use's limit.
  const tests::ReferenceRow degree = tests::reference_row(hygiene, std::string("eu1009_rotte"));
  const auto& least =
      stability_class(self_heating_classes(), built_in_limit("field", self_heating));
  EXPECT_EQ(least.high, built_in_limit("field", self_heating));
  expect_row(degree, least.name == "III" ? 3.0 : std::nan(""), within(degree, 0.0),
             "the class that the use's limit of 30 K ends");
}

TEST(UseTable, NamesOnlyRowsThatAreThere) {
  int named = 0;
  for (const UseRow& row : use_table()) {
    const std::string source(row.source);
    const auto open = source.find('[');
    if (open == std::string::npos) {
      continue;
    }
    std::string ids = source.substr(open + 1, source.find(']') - open - 1);
    for (std::size_t comma = 0; comma != std::string::npos;) {
      comma = ids.find(", ");
      EXPECT_NO_THROW((void)stability().find("id", ids.substr(0, comma)));
      ids = comma == std::string::npos ? "" : ids.substr(comma + 2);
      ++named;
    }
  }
  EXPECT_GE(named, 14);
}

TEST(UseTable, EachUseAsksMoreThanTheOneBefore) {
  for (std::size_t u = 1; u < std::size(by_demand); ++u) {
    for (std::size_t m = 0; m < static_cast<std::size_t>(Measure::count); ++m) {
      const double before = built_in_limit(by_demand[u - 1], static_cast<Measure>(m));
      const double now = built_in_limit(by_demand[u], static_cast<Measure>(m));
      EXPECT_TRUE(std::isnan(before) || now < before)
          << by_demand[u] << " " << measure_row(static_cast<Measure>(m)).key;
    }
  }
}

TEST(UseTable, EveryRowSaysWhereItComesFrom) {
  for (const UseRow& row : use_table()) {
    EXPECT_FALSE(row.source.empty());
    EXPECT_TRUE(row.provenance == "read" || row.provenance == "memory" ||
                row.provenance == "common practice" || row.provenance == "judgement")
        << row.provenance;
  }
}

TEST(UseTable, EveryMeasureIsAskedForInAGardenBed) {
  EXPECT_EQ(built_in_use("garden_bed").criteria.size(), static_cast<std::size_t>(Measure::count));
  EXPECT_EQ(built_in_use(default_use).name, "garden_bed");
  EXPECT_THROW((void)built_in_use("roof garden"), InputError);
}

TEST(UseHygiene, EveryRuleOfAUseIsOneThatCanBeNamed) {
  for (const std::string_view use : by_demand) {
    for (const HeatTreatment treatment : {HeatTreatment::windrow, HeatTreatment::vessel}) {
      const std::string_view rule = hygiene_rule_of(use, treatment);
      EXPECT_TRUE(rule.empty() || find_hygiene_rule(rule) != nullptr) << rule;
    }
  }
}

TEST(UseHygiene, CountsWhereThereIsManureOrFoodUnlessItIsNamed) {
  PileDescription pile = tests::mild_heap(1.0);
  Use use = built_in_use("garden_bed");
  EXPECT_FALSE(asks_for_hygiene(use, pile));
  pile.additions = {tests::weekly_addition()};
  EXPECT_FALSE(asks_for_hygiene(use, pile));
  pile.additions[0].ingredients[0].material.group = "food";
  EXPECT_TRUE(asks_for_hygiene(use, pile));
  pile.additions.clear();
  pile.ingredients[1].material.group = "manure";
  EXPECT_TRUE(asks_for_hygiene(use, pile));
  EXPECT_FALSE(asks_for_hygiene(built_in_use("mulch"), pile));
  pile.ingredients[1].material.group = "green";
  use.hygiene_if_needed = false;
  EXPECT_TRUE(asks_for_hygiene(use, pile));
}

TEST(UseHygiene, WallsAndFansMakeAVessel) {
  PileDescription pile = tests::mild_heap(1.0);
  EXPECT_EQ(heat_treatment(pile), HeatTreatment::windrow);
  pile.aeration.fan_m3_h = 10.0;
  EXPECT_EQ(heat_treatment(pile), HeatTreatment::vessel);
  EXPECT_EQ(heat_treatment(tests::slatted_bin(1.0)), HeatTreatment::vessel);
}

} // namespace
} // namespace heapcast::models
