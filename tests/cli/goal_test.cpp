#include "cli/goal.hpp"

#include "cli/input/units.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using models::unset;
using testing::HasSubstr;

const std::string start = "2026-01-01T09:00";

/// Two days by half days, two cells of 1 and 3 m3 with pictures once a day. Nothing is computed.
models::ForecastResult sample() {
  models::ForecastResult result;
  result.time_h = {0, 12, 24, 36, 48};
  result.series = {{"core_temperature", "degC", "", {-1, 56, 40, 57, 58}},
                   {"core_oxygen", "%", "", {21, 4, 3, 12, 20}}};
  result.scalars = {{"ready_day", "day", "", 1.5, ""},
                    {"peak_day", "day", "", unset, "never"},
                    {"turns", "1", "", 2, ""}};
  result.field_time_h = {0, 24, 48};
  result.cell_volume_m3 = {1, 3};
  // [time][cell]
  result.fields = {{"temperature", "degC", "", {10, 20, 60, 30, 61, 58}}};
  return result;
}

bool met(const std::string& text) {
  const models::ForecastResult result = sample();
  return Goal(text, result, start).outcome({}, result).met;
}

std::string goal_fault(const std::string& text) {
  try {
    const Goal goal(text, sample(), start);
  } catch (const UnitError& error) {
    return std::string(error.what()) + " - " + error.remedy();
  }
  return "";
}

TEST(Goal, ComparesTheNumbersOfARun) {
  EXPECT_TRUE(met("ready_day <= 1.5 and turns == 2"));
  EXPECT_FALSE(met("ready_day < 1.5"));
  EXPECT_FALSE(met("peak_day < 100")) << "what is missing is not reached";
  EXPECT_TRUE(met("not fire_risk"));
}

TEST(Goal, LooksAtCurvesOverTime) {
  EXPECT_TRUE(met("lowest(core_temperature) == -1 and highest(core_temperature) == 58"));
  EXPECT_TRUE(met("final(core_oxygen) == 20 and mean(core_oxygen) == 12"));
  // 56, 57 and 58 at steps of half a day; two of them in a row.
  EXPECT_TRUE(met("days(core_temperature >= 55) == 1.5"));
  EXPECT_TRUE(met("days_in_a_row(core_temperature >= 55) == 1"));
  EXPECT_TRUE(met("days(core_temperature >= 55 and core_oxygen < 5) == 0.5"));
  EXPECT_TRUE(met("first_day(core_oxygen < 5) == 0.5"));
  EXPECT_FALSE(met("first_day(core_oxygen < 1) >= 0"));
  EXPECT_TRUE(met("days(core_oxygen < 5) + turns == 3 and lowest (core_oxygen) > 2"));
}

TEST(Goal, LooksThroughTheVolume) {
  // The cell of 1 m3 has 60 and 61 degC, that of 3 m3 58 degC at the end alone.
  EXPECT_TRUE(met("volume_share(days(temperature >= 55) >= 2) == 0.25"));
  EXPECT_TRUE(met("volume_share(highest(temperature) >= 55) == 1"));
  EXPECT_FALSE(met("volume_share(days_in_a_row(temperature >= 55) >= 2) >= 0.9"));
  EXPECT_TRUE(Goal("volume_share(final(temperature) > 0) > 0", sample(), start).needs_pictures());
  EXPECT_FALSE(Goal("ready_day < 3", sample(), start).needs_pictures());
}

TEST(Goal, TellsItsConditionsApartAndWhatEachComesTo) {
  const models::ForecastResult result = sample();
  const Goal goal("days(core_oxygen < 5) <= 2 and 1 < turns and not fire_risk", result, start);
  ASSERT_EQ(goal.conditions().size(), 3U);
  EXPECT_EQ(goal.conditions()[0].text, "days(core_oxygen < 5) <= 2");
  EXPECT_EQ(goal.conditions()[0].measured, "days(core_oxygen < 5)");
  EXPECT_EQ(goal.conditions()[0].wanted, -1);
  EXPECT_EQ(goal.conditions()[1].measured, "turns");
  EXPECT_EQ(goal.conditions()[1].wanted, 1);
  EXPECT_EQ(goal.conditions()[2].measured, "");
  const Goal::Outcome outcome = goal.outcome({}, result);
  EXPECT_TRUE(outcome.met);
  EXPECT_EQ(outcome.measured[0], 1.0); // at 12 and 24 hours, steps of half a day
  EXPECT_EQ(outcome.measured[1], 2.0);

  const Goal missed("ready_day <= 2026-01-02 && (turns > 5 or turns < 1)", result, start);
  EXPECT_EQ(missed.conditions()[0].text, "ready_day <= 2026-01-02");
  EXPECT_EQ(missed.outcome({}, result).kept, (std::vector<bool>{true, false}));
  EXPECT_FALSE(missed.outcome({}, result).met);

  // Either is enough: one condition, in which no side says it all.
  const Goal either("turns > 5 or ready_day < 2 and turns > 0", result, start);
  ASSERT_EQ(either.conditions().size(), 1U);
  EXPECT_EQ(either.conditions()[0].measured, "");
  EXPECT_TRUE(either.outcome({}, result).met);
}

TEST(Goal, ADateIsTheEndOfThatDay) {
  // From 1 January 9:00 to 2 January 24:00: 39 hours, 1.625 days.
  EXPECT_TRUE(met("ready_day <= 2026-01-02"));
  EXPECT_FALSE(met("ready_day + 0.2 <= 2026-01-02"));
  EXPECT_FALSE(met("ready_day <= 2026-01-01"));
  EXPECT_THAT(goal_fault("ready_day <= 2025-12-31"), HasSubstr("2025-12-31 is before the build"));
  EXPECT_THAT(goal_fault("ready_day <= 2026-02-30"), HasSubstr("there is no 2026-02-30"));
}

TEST(Goal, SaysWhatIsWrongInTheWordsThatWereWritten) {
  EXPECT_THAT(goal_fault("redy_day <= 60"), HasSubstr("did you mean \"ready_day\"?"));
  EXPECT_THAT(goal_fault("lowest(core_temp) > 0"), HasSubstr("\"core_temp\", at character 1"));
  EXPECT_THAT(goal_fault("lowest(core_temperature > 0"), HasSubstr("behind lowest is not closed"));
  EXPECT_THAT(goal_fault("days(lowest(core_oxygen) > 0) > 1"), HasSubstr("lowest inside days"));
  EXPECT_THAT(goal_fault("core_temperature > 55"),
              HasSubstr("at character 1: core_temperature is a curve, not one number - say what"));
  EXPECT_THAT(goal_fault("volume_share(temperature > 55) > 0.5"), HasSubstr("nothing says when"));
  EXPECT_THAT(goal_fault("volume_share(volume_share(days(temperature > 1) > 1) > 0) > 0"),
              HasSubstr("volume_share inside volume_share"));
  EXPECT_THAT(goal_fault("days(core_oxygen < 5) <= 3 days"),
              HasSubstr("\"days(core_oxygen < 5) <= 3 days\", at character 28"));
  EXPECT_NE(goal_fault("_1 > 2"), "");
}

} // namespace
} // namespace heapcast::cli
