#include "models/properties/ammonia.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(Ammonia, HalfIsUnionisedAtThePka) {
  EXPECT_DOUBLE_EQ(unionised_share({ammonium_pka(310.0), 310.0}), 0.5);
}

TEST(Ammonia, ShareStaysBetweenNothingAndAll) {
  for (const double ph : tests::steps(0.0, 14.0, 0.5)) {
    const double share = unionised_share({ph, 330.0});
    EXPECT_GT(share, 0.0);
    EXPECT_LT(share, 1.0);
    EXPECT_LT(share, unionised_share({ph + 0.5, 330.0}));
  }
}

TEST(Ammonia, WarmingDrivesAmmoniaIntoTheGas) {
  for (const double T : tests::steps(273.0, 348.0, 5.0)) {
    EXPECT_GT(ammonia_henry_ratio(T), ammonia_henry_ratio(T + 5.0));
    EXPECT_LT(unionised_share({8.0, T}), unionised_share({8.0, T + 5.0}));
  }
}

} // namespace
} // namespace heapcast::models
