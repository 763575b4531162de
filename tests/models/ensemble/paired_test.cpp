#include "models/ensemble/paired.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

namespace heapcast::models {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

TEST(PairedDifference, IsTakenRunByRun) {
  // Runs differ by 100 among themselves and by 3 from one set to the other.
  std::vector<double> first;
  std::vector<double> other;
  for (int i = 0; i < 11; ++i) {
    first.push_back(100.0 * i);
    other.push_back(100.0 * i + 3.0);
  }
  const PairedDifference d = paired_difference(first, other);
  EXPECT_EQ(d.low, 3.0);
  EXPECT_EQ(d.mid, 3.0);
  EXPECT_EQ(d.high, 3.0);
  EXPECT_EQ(d.more, 11U);
  EXPECT_EQ(d.less, 0U);
}

TEST(PairedDifference, PointsLieBetweenTheSortedDifferences) {
  const std::vector<double> zero(11, 0.0);
  const std::vector<double> other = {5, 4, 3, 2, 1, 0, -1, -2, -3, -4, -5};
  const PairedDifference d = paired_difference(zero, other);
  EXPECT_DOUBLE_EQ(d.low, -4.0);
  EXPECT_DOUBLE_EQ(d.mid, 0.0);
  EXPECT_DOUBLE_EQ(d.high, 4.0);
  EXPECT_EQ(d.less, 5U);
  EXPECT_EQ(d.more, 5U); // the run without a difference is neither
}

TEST(PairedDifference, ARunThatNeverGetsThereIsLater) {
  const PairedDifference d = paired_difference({10, 20, none, none}, {12, none, 30, none});
  EXPECT_EQ(d.pairs, 3U); // where neither gets there nothing is said
  EXPECT_EQ(d.more, 2U);
  EXPECT_EQ(d.less, 1U);
  EXPECT_DOUBLE_EQ(d.mid, 2.0);
  EXPECT_EQ(d.high, std::numeric_limits<double>::infinity());
  EXPECT_EQ(d.low, -std::numeric_limits<double>::infinity());
}

TEST(PairedDifference, OfNothingIsNotANumber) {
  EXPECT_TRUE(std::isnan(paired_difference({none}, {none}).mid));
  EXPECT_TRUE(std::isnan(paired_difference({}, {}).mid));
  EXPECT_THROW((void)paired_difference({1.0}, {}), std::invalid_argument);
}

} // namespace
} // namespace heapcast::models
