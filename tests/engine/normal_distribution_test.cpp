#include "engine/normal_distribution.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace heapcast::engine {
namespace {

TEST(NormalDistribution, SharesAreThoseOfErfc) {
  // Two ways to the same number: a few roundings.
  constexpr double rounding = 1e-15;
  for (const double score : {-8.0, -2.0, -0.5, 0.0, 1.0, 3.0}) {
    const double expected = 0.5 * std::erfc(-score / std::numbers::sqrt2);
    EXPECT_NEAR(normal_share(score), expected, rounding * std::max(1.0, expected));
  }
  EXPECT_EQ(normal_share(-std::numeric_limits<double>::infinity()), 0.0);
}

TEST(NormalDistribution, TheScoreTurnsTheShareRound) {
  for (const double share : {1e-12, 0.025, 0.1, 0.5, 0.84, 0.999}) {
    // Relative: the share is known to a few roundings, the slope of the tail magnifies them a
    // hundredfold at most.
    EXPECT_NEAR(normal_share(normal_score(share)) / share, 1.0, 1e-13);
  }
  EXPECT_NEAR(normal_score(0.975), 1.959963984540054, 1e-14); // a table value, from memory
  EXPECT_EQ(normal_score(0.5), 0.0);
}

TEST(NormalDistribution, EndsAreInfiniteAndBeyondIsRefused) {
  EXPECT_EQ(normal_score(0.0), -std::numeric_limits<double>::infinity());
  EXPECT_EQ(normal_score(1.0), std::numeric_limits<double>::infinity());
  EXPECT_THROW((void)normal_score(1.5), std::domain_error);
  EXPECT_THROW((void)normal_score(std::nan("")), std::domain_error);
}

} // namespace
} // namespace heapcast::engine
