#include "cli/report/hygiene.hpp"

#include "models/hygiene/hygiene_rule.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

void add(engine::Dataset& data, const std::string& name, const std::string& unit,
         const std::vector<double>& values, const std::string& reason = {}) {
  data.variables.push_back({name, {"run"}, values, {}, {{"units", unit}}});
  data.variables.push_back(
      {name + "_reason", {"run"}, {}, std::vector<std::string>(values.size(), reason), {}});
}

engine::Dataset file_of(std::size_t runs) {
  engine::Dataset data;
  data.dimensions.push_back({"run", runs, {}, {}});
  return data;
}

HygieneTables tables(const engine::Dataset& data) {
  return hygiene_tables(ResultsReader(data), Calendar("2025-03-01T09:00"));
}

TEST(ReportHygiene, ALineHasWhatTheRuleTableSays) {
  auto data = file_of(1);
  add(data, "hygiene_met_day_us503_psrp", "day", {7.0});
  add(data, "hygiene_volume_share_us503_psrp", "1", {0.62});
  const auto read = tables(data);
  ASSERT_EQ(read.rules.size(), 1U);
  const auto& line = read.rules.front();
  EXPECT_EQ(line.title, "US 503 PSRP");
  EXPECT_EQ(line.asks, "40 °C or more without a break for 5 days, and above 55 °C for 4 hours of "
                       "them");
  EXPECT_EQ(line.met, "day 7 (8 March 2025)");
  EXPECT_EQ(line.share, "62\u00a0%");
  EXPECT_EQ(line.missing, "");
  EXPECT_TRUE(line.source.ends_with("40 CFR 257 App. II; source read"));
  EXPECT_EQ(read.core_is_not_all, "US 503 PSRP: met at the core, and in 62\u00a0% of the volume.");
  EXPECT_THAT(read.numbers,
              ElementsAre("hygiene_met_day_us503_psrp", "hygiene_volume_share_us503_psrp"));
}

TEST(ReportHygiene, EveryRuleOfTheTableIsLookedFor) {
  auto data = file_of(1);
  for (const auto& rule : models::hygiene_rules()) {
    add(data, "hygiene_met_day_" + std::string(rule.key), "day", {nan}, "core: never hot");
    add(data, "hygiene_volume_share_" + std::string(rule.key), "1", {0.0});
  }
  const auto read = tables(data);
  EXPECT_EQ(read.rules.size(), models::hygiene_rules().size());
  EXPECT_EQ(read.rules.front().met, "not met");
  EXPECT_EQ(read.rules.front().missing, "core: never hot");
  EXPECT_EQ(read.core_is_not_all, "");
}

TEST(ReportHygiene, ARuleForOtherPilesIsNamedOnly) {
  auto data = file_of(1);
  add(data, "hygiene_met_day_abp", "day", {nan}, "a rule for closed vessels");
  add(data, "hygiene_volume_share_abp", "1", {nan}, "a rule for closed vessels");
  const auto read = tables(data);
  EXPECT_THAT(read.rules, IsEmpty());
  EXPECT_THAT(read.other_rules, ElementsAre("EU animal by-products standard treatment"));
}

TEST(ReportHygiene, TheRuleThatTheUseAsksForComesFirst) {
  auto data = file_of(1);
  data.attributes.emplace_back("hygiene_rule", std::string("eu1009_cmc3"));
  for (const std::string key : {"us503_psrp", "eu1009_cmc3", "de_bioabfv"}) {
    add(data, "hygiene_met_day_" + key, "day", {7.0});
    add(data, "hygiene_volume_share_" + key, "1", {0.5});
  }
  const auto read = tables(data);
  ASSERT_EQ(read.rules.size(), 3U);
  EXPECT_EQ(read.rules[0].title, "EU 2019/1009, compost (CMC 3)");
  EXPECT_TRUE(read.rules[0].asked);
  EXPECT_EQ(read.rules[1].title, "US 503 PSRP");
  EXPECT_FALSE(read.rules[1].asked);
  EXPECT_EQ(read.core_is_not_all,
            "EU 2019/1009, compost (CMC 3): met at the core, and in 50\u00a0% of the volume.");
}

TEST(ReportHygiene, SeveralRunsHaveAnIntervalAndTheShareThatMeetsIt) {
  // Points at places 0.3, 1.5 and 2.7 of 10, 20, 30 days and none: 13 and 25 days, and later.
  auto data = file_of(4);
  add(data, "hygiene_met_day_us503_psrp", "day", {10.0, 20.0, nan, 30.0});
  add(data, "hygiene_volume_share_us503_psrp", "1", {0.5, 0.5, 0.5, 0.5});
  EXPECT_EQ(tables(data).rules.front().met,
            "26 March (14 March\u2009–\u2009later); met in 75\u00a0% of the runs");
}

TEST(ReportHygiene, NeverClaimsMoreThanFivePowersOfTen) {
  auto data = file_of(3);
  add(data, "log10_survivors_salmonella", "1", {-31.0, -8.0, -6.0});
  add(data, "log10_survivors_ascaris", "1", {-31.0, -3.0, -1.0});
  add(data, "log10_survivors_clubroot", "1", {-0.1, -0.1, -0.1});
  const auto read = tables(data);
  ASSERT_EQ(read.survivors.size(), 3U);
  EXPECT_EQ(read.survivors[0].log10_share, "below -5");
  EXPECT_EQ(read.survivors[0].share, "fewer than 1 in 100\u00a0000");
  // The 10 % point of -31, -3, -1 is at place 0.2, -25.4; the 90 % point at 1.8, -1.4.
  EXPECT_EQ(read.survivors[1].log10_share, "-3.0 (below -5 to -1.4)");
  EXPECT_EQ(read.survivors[1].share, "1 in 1\u00a0000");
  // 10^-0.1 = 0.79.
  EXPECT_EQ(read.survivors[2].share, "79\u00a0%");
}

TEST(ReportHygiene, AFileWithoutItHasNothing) {
  const auto read = tables(engine::Dataset());
  EXPECT_THAT(read.rules, IsEmpty());
  EXPECT_THAT(read.survivors, IsEmpty());
  EXPECT_THAT(read.numbers, IsEmpty());
}

} // namespace
} // namespace heapcast::cli
