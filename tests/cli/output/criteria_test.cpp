#include "cli/output/criteria.hpp"

#include "models/readiness/use.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

engine::Dataset judged(const models::PileDescription& pile) {
  engine::Dataset data;
  add_criteria(data, pile);
  return data;
}

std::string root_text(const engine::Dataset& data, const std::string& name) {
  return std::get<std::string>(*data.attribute(name));
}

CriterionFacts of(const std::vector<CriterionFacts>& all, const std::string& key) {
  const auto found = std::ranges::find(all, key, &CriterionFacts::key);
  return found == all.end() ? CriterionFacts{} : *found;
}

models::Ingredient ingredient(const std::string& group) {
  models::Ingredient one;
  one.material.group = group;
  one.wet_mass_kg = 100.0;
  return one;
}

TEST(CriteriaDataset, APileWithoutAUseIsJudgedForAGardenBed) {
  const auto data = judged({});
  EXPECT_EQ(root_text(data, "use"), "garden bed");
  const auto all = criteria(data);
  EXPECT_EQ(all.size(), static_cast<std::size_t>(models::Measure::count));
  for (const auto& row : models::use_table()) {
    if (row.name == "garden_bed") {
      const auto read = of(all, std::string(models::measure_row(row.measure).key));
      EXPECT_EQ(read.title, models::measure_row(row.measure).title);
      EXPECT_EQ(read.unit, models::measure_row(row.measure).unit);
      EXPECT_EQ(read.limit, row.limit);
      EXPECT_TRUE(read.asked);
      EXPECT_EQ(read.source, row.source);
      EXPECT_EQ(read.provenance, row.provenance);
    }
  }
}

TEST(CriteriaDataset, WhatAUseLeavesOutHasTheLimitOfAGardenBed) {
  models::PileDescription pile;
  pile.use = models::built_in_use("mulch");
  const auto all = criteria(judged(pile));
  const auto uptake = of(all, "oxygen_uptake");
  EXPECT_TRUE(uptake.asked);
  EXPECT_EQ(uptake.limit, models::built_in_limit("mulch", models::Measure::oxygen_uptake));
  const auto ratio = of(all, "carbon_nitrogen_ratio");
  EXPECT_FALSE(ratio.asked);
  EXPECT_EQ(ratio.limit,
            models::built_in_limit("garden_bed", models::Measure::carbon_nitrogen_ratio));
  EXPECT_NE(ratio.provenance, "given");
}

TEST(CriteriaDataset, AnOwnUseHasNoSource) {
  models::PileDescription pile;
  pile.use.name = "nursery";
  pile.use.criteria = {{models::Measure::above_air, 6.0}};
  const auto data = judged(pile);
  EXPECT_EQ(root_text(data, "use"), "nursery");
  const auto air = of(criteria(data), "above_air");
  EXPECT_TRUE(air.asked);
  EXPECT_EQ(air.limit, 6.0);
  EXPECT_EQ(air.source, "as the pile file asks");
  EXPECT_EQ(air.provenance, "given");
}

TEST(CriteriaDataset, AHygieneRuleIsNamedOnlyWhereItCounts) {
  models::PileDescription pile;
  pile.ingredients = {ingredient("plant")};
  EXPECT_EQ(root_text(judged(pile), "hygiene_rule"), "");
  pile.ingredients = {ingredient("manure")};
  EXPECT_EQ(root_text(judged(pile), "hygiene_rule"),
            models::hygiene_rule_of(models::default_use, models::heat_treatment(pile)));
}

TEST(CriteriaDataset, AFileThatIsInconsistentHasNone) {
  EXPECT_TRUE(criteria(engine::Dataset()).empty());
  auto data = judged({});
  for (auto& variable : data.variables) {
    if (variable.name == "criterion_source") {
      variable.texts.pop_back();
    }
  }
  EXPECT_TRUE(criteria(data).empty());
}

} // namespace
} // namespace heapcast::cli
