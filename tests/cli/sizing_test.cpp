#include "cli/sizing.hpp"

#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

TEST(ShareInterval, IsWilsonsScoreInterval) {
  // 36 of 40 with z = 1.2816: (0.9 + 0.02053 -+ 1.2816 sqrt(0.09/40 + 0.0002566))/(1.04106), which
  // is 0.8842 -+ 0.0616; the digits written here.
  const ShareInterval found = share_interval(36, 40);
  EXPECT_NEAR(found.low, 0.8226, 2e-4);
  EXPECT_NEAR(found.high, 0.9458, 2e-4);
  EXPECT_EQ(share_interval(0, 20).low, 0.0);
  EXPECT_EQ(share_interval(20, 20).high, 1.0);
  EXPECT_GT(share_interval(0, 20).high, 0.05);
}

} // namespace
} // namespace heapcast::cli
