#include "engine/ledger.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace heapcast::engine {
namespace {

TEST(Balance, ClosesWhenTheStockIsWhatCameLessWhatWent) {
  Balance balance(10.0);
  balance.in(4.0);
  balance.out(5.5);
  EXPECT_EQ(balance.residual(8.5), 0.0); // sums of halves are exact
}

TEST(Balance, ResidualIsTheGapOverFirstStockAndInflow) {
  Balance balance(10.0);
  balance.in(4.0);
  balance.out(5.5);
  // in - out - (stock - first) = 4 - 5.5 - (8.15 - 10) = 0.35; throughput 10 + 4
  EXPECT_NEAR(balance.residual(8.15), 0.35 / 14.0, 1e-16);
  EXPECT_NEAR(balance.residual(8.85), 0.35 / 14.0, 1e-16); // a gap counts in either direction
}

TEST(Balance, RunningFlowsCountAsBookedOnes) {
  Balance booked(10.0);
  booked.in(3.0);
  booked.in(1.0);
  booked.out(2.0);
  Balance running(10.0);
  running.in(3.0);
  EXPECT_EQ(running.residual(11.0, 1.0, 2.0), booked.residual(11.0));
  EXPECT_NEAR(running.residual(11.0, 1.0, 2.0), 1.0 / 14.0, 1e-16);
}

TEST(Balance, OfNothingIsClosed) {
  EXPECT_EQ(Balance().residual(0.0), 0.0);
}

TEST(Balance, StockOutOfNothingShows) {
  EXPECT_GT(Balance().residual(1e-9), 1.0);
}

TEST(Balance, NegativeStockHasThroughputToo) {
  // Stocks may lie below their zero, as an energy does: 2 against |-10|.
  EXPECT_NEAR(Balance(-10.0).residual(-8.0), 0.2, 1e-16);
}

TEST(Balance, NanNeverCloses) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(Balance(1.0).residual(nan) <= 1e-6);
}

} // namespace
} // namespace heapcast::engine
