#include "cli/report/readiness.hpp"

#include "cli/output/criteria.hpp"
#include "cli/report/answer.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::cli {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// Results of as many runs as are given, over 60 days from 1 March 2025.
struct File {
  explicit File(std::size_t runs) {
    data.dimensions.push_back({"run", runs, {}, {}});
    data.dimensions.push_back({"time", 2, {0.0, 60.0 * 24.0}, {}});
    add_criteria(data, models::PileDescription());
  }

  File& number(const std::string& name, const std::vector<double>& values,
               const std::vector<std::string>& reasons = {}, const std::string& unit = "day") {
    data.variables.push_back({name, {"run"}, values, {}, {{"units", unit}}});
    if (!reasons.empty()) {
      texts(name + "_reason", reasons);
    }
    return *this;
  }

  File& texts(const std::string& name, const std::vector<std::string>& by_run) {
    data.variables.push_back({name, {"run"}, {}, by_run, {}});
    return *this;
  }

  [[nodiscard]] ReadinessTable table() const {
    return readiness_table(ResultsReader(data), calendar);
  }
  [[nodiscard]] CriterionLine line(const std::string& title) const {
    const auto all = table().lines;
    const auto found = std::ranges::find(all, title, &CriterionLine::title);
    return found == all.end() ? CriterionLine{} : *found;
  }
  [[nodiscard]] Answer answer() const { return cli::answer(ResultsReader(data), calendar); }
  [[nodiscard]] Deciders deciders(bool of_ready_runs) const {
    return cli::deciders(ResultsReader(data), of_ready_runs);
  }

  engine::Dataset data;
  Calendar calendar{"2025-03-01T09:00"};
};

TEST(ReportReadiness, ALineHasLimitValueDayAndSource) {
  File file(1);
  file.number("ready_day_oxygen_uptake", {13.0})
      .number("final_oxygen_uptake", {8.15}, {}, "mmol O2/kg OM/h");
  const auto line = file.line("oxygen uptake at 30 °C");
  EXPECT_EQ(line.limit, "15 mmol O₂/kg OM/h or less");
  EXPECT_EQ(line.at_end, "8.15\u00a0mmol O₂/kg OM/h");
  EXPECT_EQ(line.day, "day 13 (14 March 2025)");
  EXPECT_TRUE(line.asked);
  EXPECT_EQ(line.source, "stable, Veeken, de Wilde & Hamelers 2003; quoted from memory");
  EXPECT_THAT(file.table().numbers, ElementsAre("final_oxygen_uptake", "ready_day_oxygen_uptake"));
}

TEST(ReportReadiness, ACriterionWithoutNumbersHasDashes) {
  const auto line = File(1).line("C:N");
  EXPECT_EQ(line.at_end, "–");
  EXPECT_EQ(line.day, "–");
}

TEST(ReportReadiness, TheCarbonDioxideAtTheEndIsFoundUnderItsOwnName) {
  File file(1);
  file.number("final_carbon_dioxide_rate", {3.0}, {}, "mg CO2-C/g OM/d");
  EXPECT_EQ(file.line("carbon dioxide evolution at 37 °C").at_end, "3\u00a0mg CO₂-C/g OM/d");
}

TEST(ReportReadiness, WhatIsNotMetSaysWhy) {
  File file(1);
  file.number("ready_day_above_air", {nan},
              {"core above the air of five days: still 13 K on day 60, must be 10 K or less"})
      .number("ready_day_reheating", {nan},
              {"not tested and left out: no turn after the hot phase"});
  EXPECT_EQ(file.line("core above the air of five days").day,
            "not met: still 13 K on day 60, must be 10 K or less");
  EXPECT_EQ(file.line("warming of the core after a turn").day,
            "not tested, left out: no turn after the hot phase");
}

TEST(ReportReadiness, SeveralRunsHaveAnIntervalAndWhoLacksIt) {
  // Points at places 0.3, 1.5 and 2.7 of 10, 20, 30 days and none: 13 and 25 days, and later.
  File file(4);
  file.number("ready_day_above_air", {20.0, nan, 10.0, 30.0}, {"", "core: still warm", "", ""});
  EXPECT_EQ(file.line("core above the air of five days").day,
            "26 March (14 March\u2009–\u2009later); not met in 1 of 4 runs: still warm");
}

TEST(ReportReadiness, NoRunOrFewRunsHaveNoMedian) {
  const auto day = [](const std::vector<double>& values) {
    File file(4);
    file.number("ready_day_above_air", values);
    return file.line("core above the air of five days").day;
  };
  EXPECT_EQ(day({nan, nan, nan, nan}), "not met");
  // The 10 % point of 10, 20 days and two without is at place 0.3: 13 days, 14 March.
  EXPECT_EQ(day({nan, 10.0, nan, 20.0}), "14 March at the earliest; not met in 2 of 4 runs");
}

TEST(ReportReadiness, TheHygieneRuleAndTheLastAdditionFollow) {
  File file(1);
  std::erase_if(file.data.attributes, [](const auto& one) { return one.first == "hygiene_rule"; });
  file.data.attributes.emplace_back("hygiene_rule", std::string("us503_psrp"));
  file.number("ready_day_hygiene", {7.0}).number("ready_day_addition", {20.0});
  EXPECT_EQ(file.line("hygiene rule").limit, "US 503 PSRP");
  EXPECT_EQ(file.line("hygiene rule").day, "day 7 (8 March 2025)");
  EXPECT_EQ(file.line("last material added").day, "day 20 (21 March 2025)");
}

TEST(ReportReadiness, AFileWithoutCriteriaHasNoTable) {
  const engine::Dataset nothing;
  EXPECT_THAT(readiness_table(ResultsReader(nothing), Calendar("")).lines, IsEmpty());
}

TEST(ReportDeciders, TheMostFrequentOfTheRunsAskedComesFirst) {
  File file(5);
  file.number("ready_day", {40.0, 41.0, 42.0, nan, nan})
      .texts("ready_decided_by",
             {"above_air", "hygiene", "above_air", "oxygen_uptake, hygiene", "hygiene"});
  // Two ready runs of three; both that are not, and one of two.
  EXPECT_THAT(file.deciders(true).keys, ElementsAre("above_air"));
  EXPECT_FALSE(file.deciders(true).in_every_run);
  EXPECT_THAT(file.deciders(false).keys, ElementsAre("hygiene", "oxygen_uptake"));
  EXPECT_FALSE(file.deciders(false).in_every_run);
}

TEST(ReportDeciders, RunsThatFailedAreNotAsked) {
  File file(3);
  file.number("ready_day", {40.0, nan, nan})
      .texts("ready_decided_by", {"above_air", "hygiene", "oxygen_uptake"})
      .texts("run_failure", {"", "too small", ""});
  EXPECT_THAT(file.deciders(false).keys, ElementsAre("oxygen_uptake"));
  EXPECT_TRUE(file.deciders(false).in_every_run);
}

TEST(ReportAnswer, NamesWhatCameLast) {
  File file(1);
  file.number("ready_day", {36.0}).texts("ready_decided_by", {"above_air"});
  EXPECT_EQ(file.answer().headline,
            "Ready about day 36 (6 April 2025); core above the air came last.");
}

TEST(ReportAnswer, NamesWhatCameLastMostOften) {
  File file(3);
  file.number("ready_day", {36.0, 36.0, 36.0})
      .texts("ready_decided_by", {"above_air", "hygiene", "above_air"});
  EXPECT_EQ(file.answer().headline, "Ready about 6 April, between 6 April and 6 April (80\u00a0% "
                                    "of the runs); core above the air came last most often.");
}

TEST(ReportAnswer, TellsTheNumbersOfOneThingThatIsMissing) {
  File file(1);
  const std::string reason =
      "core above the air of five days: still 13 K on day 60, must be 10 K or less";
  file.number("ready_day", {nan}, {reason})
      .number("ready_day_above_air", {nan}, {reason})
      .texts("ready_decided_by", {"above_air"});
  EXPECT_EQ(file.answer().headline, "Not ready within 60 days: core above the air of five days, "
                                    "still 13 K on day 60, must be 10 K or less.");
}

TEST(ReportAnswer, NamesTwoOrThreeThingsThatAreMissingAndCountsMore) {
  const auto headline = [](const std::string& keys) {
    File file(1);
    file.number("ready_day", {nan}).texts("ready_decided_by", {keys});
    return file.answer().headline;
  };
  EXPECT_EQ(headline("hygiene"), "Not ready within 60 days; missing: the hygiene rule.");
  EXPECT_EQ(headline("oxygen_uptake, above_air, hygiene"),
            "Not ready within 60 days; missing: oxygen uptake, core above the air and the hygiene "
            "rule.");
  EXPECT_EQ(headline("oxygen_uptake, self_heating, above_air, hygiene"),
            "Not ready within 60 days; missing: oxygen uptake, self-heating and 2 more.");
}

TEST(ReportAnswer, CountsTheRunsThatAreNotReady) {
  File file(4);
  file.number("ready_day", {nan, nan, nan, 50.0})
      .texts("ready_decided_by", {"above_air", "above_air", "hygiene", "above_air"});
  EXPECT_EQ(file.answer().headline,
            "Not ready within 60 days in 3 of 4 runs; most often missing: core above the air.");
}

TEST(ReportAnswer, SaysWhenNoRunIsReady) {
  File file(2);
  file.number("ready_day", {nan, nan}).texts("ready_decided_by", {"hygiene", "hygiene"});
  EXPECT_EQ(file.answer().headline,
            "Not ready within 60 days in any of 2 runs; missing: the hygiene rule.");
}

TEST(ReportCalendar, ShortDatesLeaveOutTheYearOfTheStart) {
  const Calendar calendar("2025-12-01T09:00");
  EXPECT_EQ(calendar.short_date(5.0), "6 December");
  EXPECT_EQ(calendar.short_date(36.0), "6 January 2026");
  EXPECT_EQ(Calendar("soon").short_date(4.4), "day 4");
}

} // namespace
} // namespace heapcast::cli
