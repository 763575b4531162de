#include "models/properties/nitrification.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(Nitrification, IsFastestAt32AndStopsInTheHotPhase) {
  EXPECT_NEAR(nitrification_temperature_response(freezing_K + 32.0), 1.0, 1e-12); // rounding
  EXPECT_EQ(nitrification_temperature_response(freezing_K + 45.0), 0.0);
  EXPECT_EQ(nitrification_temperature_response(freezing_K + 60.0), 0.0);
  EXPECT_EQ(nitrification_temperature_response(freezing_K + 4.0), 0.0);
}

TEST(Nitrification, RisesToTheOptimumAndFallsBeyond) {
  for (const double t : tests::steps(5.0, 31.0, 0.5)) {
    EXPECT_LT(nitrification_temperature_response(freezing_K + t),
              nitrification_temperature_response(freezing_K + t + 0.5));
  }
  for (const double t : tests::steps(32.5, 44.5, 0.5)) {
    EXPECT_GT(nitrification_temperature_response(freezing_K + t),
              nitrification_temperature_response(freezing_K + t + 0.5));
  }
}

TEST(Nitrification, FreeAmmoniaHalvesItAtTheMiddleOfThePublishedRange) {
  // Anthonisen et al. 1976: from 10–150 mg NH3/l on; sqrt(10·150) = 38.7 mg/l, of which 14/17 is N.
  constexpr double middle_kgN_m3 = 38.7e-3 * 14.007 / 17.031;
  EXPECT_EQ(free_ammonia_inhibition(0.0), 1.0);
  EXPECT_NEAR(free_ammonia_inhibition(middle_kgN_m3), 0.5, 0.003); // 32 for 31.8 g N/m3
}

TEST(Denitrification, OxygenHoldsItBackAsInActivatedSludge) {
  EXPECT_EQ(denitrification_oxygen_inhibition(0.0), 1.0);
  EXPECT_DOUBLE_EQ(denitrification_oxygen_inhibition(0.006), 0.5);
  // Under air 97 % are gone: 0.006/0.21546.
  EXPECT_NEAR(denitrification_oxygen_inhibition(0.20946), 0.0278, 0.0001);
}

} // namespace
} // namespace heapcast::models
