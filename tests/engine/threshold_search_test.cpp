#include "engine/threshold_search.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>

namespace heapcast::engine {
namespace {

const ThresholdOptions from_0_to_8{
    .low = 0.0, .high = 8.0, .level = 0.5, .first_points = 5, .tolerance = 0.01};

/// Of so many equal steps, as a share of runs is.
double stair(double at, double middle) {
  return std::floor(20.0 / (1.0 + std::exp(middle - at))) / 20.0;
}

TEST(ThresholdSearch, FindsWhereAStairFirstReachesTheLevel) {
  // 1/(1 + exp(3.3 - x)) reaches 1/2 at 3.3, on a step of the stair.
  const auto found = find_threshold([](double at) { return stair(at, 3.3); }, from_0_to_8);
  ASSERT_TRUE(found.found);
  EXPECT_GE(*found.found, 3.3);
  EXPECT_LE(*found.found, 3.3 + from_0_to_8.tolerance);
  EXPECT_FALSE(found.at_low_end);
  EXPECT_FALSE(found.falls_at);
  EXPECT_EQ(found.deepest_fall, 0.0);
}

TEST(ThresholdSearch, AsksForEveryPlaceOnceAndTellsAllOfThem) {
  std::map<double, int> asked;
  const auto found = find_threshold(
      [&](double at) {
        ++asked[at];
        return stair(at, 3.3);
      },
      from_0_to_8);
  EXPECT_EQ(found.curve.size(), asked.size());
  for (const auto& [place, times] : asked) {
    EXPECT_EQ(times, 1) << place;
  }
  for (std::size_t i = 1; i < found.curve.size(); ++i) {
    EXPECT_LT(found.curve[i - 1].at, found.curve[i].at);
  }
  // 5 points and the halvings from 2 to 0.01: log2(200) = 7.6.
  EXPECT_EQ(asked.size(), 5U + 8U);
}

TEST(ThresholdSearch, AValueOnTheLevelReachesIt) {
  const auto found = find_threshold([](double at) { return at >= 5.0 ? 0.5 : 0.0; }, from_0_to_8);
  ASSERT_TRUE(found.found);
  EXPECT_NEAR(*found.found, 5.0, 0.01);
}

TEST(ThresholdSearch, TellsWhenNothingOrTheLowEndReachesIt) {
  const auto never = find_threshold([](double) { return 0.4; }, from_0_to_8);
  EXPECT_FALSE(never.found);
  EXPECT_EQ(never.curve.size(), 5U);
  const auto always = find_threshold([](double) { return 0.6; }, from_0_to_8);
  EXPECT_EQ(always.found, 0.0);
  EXPECT_TRUE(always.at_low_end);
}

TEST(ThresholdSearch, TellsOfAValueThatFallsAgain) {
  // Reaches it from 1 to 5: at 2 and 4 of the points 0, 2, 4, 6, 8.
  const auto hump =
      find_threshold([](double at) { return at > 1.0 && at < 5.0 ? 0.9 : 0.1; }, from_0_to_8);
  ASSERT_TRUE(hump.found);
  EXPECT_NEAR(*hump.found, 1.0, 0.01);
  EXPECT_EQ(hump.falls_at, 6.0);
  EXPECT_NEAR(hump.deepest_fall, 0.8, 1e-15);
}

} // namespace
} // namespace heapcast::engine
