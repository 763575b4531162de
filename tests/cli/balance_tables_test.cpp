#include "cli/report/balance_tables.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace heapcast::cli {
namespace {

TEST(WaterWeeks, AddUpToWhatPassed) {
  // 10 days, an hour apart: 2 L/h of rain, 1 L/h evaporated, 50 L given on day 8.
  std::vector<double> time_h;
  CumulativeWater water;
  for (int hour = 0; hour <= 240; ++hour) {
    time_h.push_back(hour);
    water.rain.push_back(2.0 * hour);
    water.evaporated.push_back(1.0 * hour);
    water.given.push_back(hour >= 8 * 24 ? 50.0 : 0.0);
    water.drained.push_back(0.0);
  }
  const std::vector<WaterWeek> weeks = water_weeks(time_h, water);
  ASSERT_EQ(weeks.size(), 2U);
  EXPECT_EQ(weeks[0].week, 1);
  EXPECT_DOUBLE_EQ(weeks[0].rain, 2.0 * 7 * 24);
  EXPECT_DOUBLE_EQ(weeks[1].rain, 2.0 * 3 * 24);
  EXPECT_DOUBLE_EQ(weeks[0].evaporated + weeks[1].evaporated, 240.0);
  EXPECT_DOUBLE_EQ(weeks[0].given, 0.0);
  EXPECT_DOUBLE_EQ(weeks[1].given, 50.0);
}

TEST(WaterWeeks, FollowWholeWeeksWhateverTheOutputStep) {
  // Output every 5 days: the first week ends at the output before its end, the next goes on there.
  const std::vector<double> time_h = {0, 120, 240, 360};
  const std::vector<double> litres = {0, 12, 24, 36};
  const std::vector<WaterWeek> weeks = water_weeks(time_h, {litres, litres, litres, litres});
  ASSERT_EQ(weeks.size(), 3U);
  EXPECT_EQ(weeks[0].rain + weeks[1].rain + weeks[2].rain, 36.0);
}

TEST(WaterWeeks, NeedEveryCurve) {
  EXPECT_TRUE(water_weeks({0, 24}, {{0, 1}, {0, 1}, {0, 1}, {}}).empty());
}

} // namespace
} // namespace heapcast::cli
