#include "cli/sizing.hpp"

#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace heapcast::cli {
namespace {

using testing::HasSubstr;

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

/// An invented sizing: of three heights the second reaches the goal.
Sizing three_heights() {
  Sizing sizing;
  sizing.title = "An invented heap";
  sizing.request.by = models::SizeBy::height;
  sizing.request.goal = "peak_temperature > 55";
  sizing.runs = 10;
  sizing.from = 1.0;
  sizing.to = 2.0;
  for (const double height_m : {1.0, 1.524, 2.0}) {
    TriedSize tried;
    tried.size = height_m;
    tried.volume_m3 = 10.0;
    tried.mass_kg = 9071.8474; // 10 short tons
    tried.goal.by_run.assign(10, height_m > 1.2);
    sizing.written.sizes.push_back(tried);
  }
  sizing.written.smallest.search.found = std::log(1.524);
  sizing.written.smallest.tried = 1;
  return sizing;
}

TEST(Sizing, IsInUsUnitsWhereAsked) {
  const std::string us = sizing_text(three_heights(), {}, false, DisplayUnits::us);
  // 1.524 m is 5 ft, 10 m3 over 0.764555 is 13.1 yd3.
  EXPECT_THAT(tests::said(us), HasSubstr("is 5 ft (13.1 yd3 of materials, 10 short tons): in 10 of "
                                         "10 runs"));
  EXPECT_THAT(us, HasSubstr("     5 ft  13.1 yd3   10 short tons   "));
  // A formula is over the numbers of the results, which stay as they are.
  EXPECT_THAT(us, HasSubstr("peak_temperature > 55"));
  for (const std::string& line : tests::lines_of(us)) {
    EXPECT_LE(tests::columns(line), 80U) << line;
  }
  const std::string metric = sizing_text(three_heights(), {}, false);
  EXPECT_THAT(tests::said(metric), HasSubstr("is 1.52 m (10 m3 of materials, 9.07 t)"));
  const Sizing sizing = three_heights();
  EXPECT_EQ(sizing_answer(sizing, sizing.written).find(" ft"), std::string::npos);
}

} // namespace
} // namespace heapcast::cli
