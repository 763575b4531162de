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

} // namespace
} // namespace heapcast::models
