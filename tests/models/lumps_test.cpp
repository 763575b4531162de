// Lumps: what was built in unmixed waits for a turn.

#include "models/forecast.hpp"
#include "models/operations/build.hpp"
#include "models/processes/decomposition_law.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

namespace heapcast::models {
namespace {

PileDescription with_lumps(PileDescription pile, double share) {
  pile.parameters.set(find_parameter("lump_share"), share);
  return pile;
}

TEST(Lumps, OpenByThemselvesWithTheirTimeConstant) {
  const Coefficients k{ParameterSet()};
  EXPECT_EQ(lumps_left(k, 0.0), 1.0);
  EXPECT_NEAR(lumps_left(k, k.lump_time_s), std::exp(-1.0), 1e-15);
}

TEST(Lumps, AreAShareOfEveryDegradablePool) {
  const PileDescription pile = tests::mild_heap(1.0);
  const Coefficients k(pile.parameters);
  const Parcel lot = mixed_parcel(pile.ingredients, k, 290.0, 0.0);
  EXPECT_NEAR(lot[CellField::lump_fast], k.lump_share * lot[CellField::fast], 1e-12);
  EXPECT_NEAR(lot[CellField::lump_medium], k.lump_share * lot[CellField::medium], 1e-12);
  EXPECT_NEAR(lot[CellField::lump_slow], k.lump_share * lot[CellField::slow], 1e-12);
}

TEST(Lumps, HoldBackWhatATurnSetsFree) {
  const double days = 40.0;
  const PileDescription never = tests::mild_heap(days);
  PileDescription turned = never;
  turned.turning = tests::turning(TurnMethod::fork, 7.0, 5.0);
  turned.turning->schedule.at_most = 2;
  const auto lost = [](const PileDescription& pile) {
    return tests::scalar(run_forecast(pile), "carbon_lost_fraction");
  };
  const double gain = lost(with_lumps(turned, 0.4)) / lost(with_lumps(never, 0.4));
  const double gain_without = lost(with_lumps(turned, 0.0)) / lost(with_lumps(never, 0.0));
  std::printf("carbon lost with two turns over never turned: %.2f, without lumps %.2f\n", gain,
              gain_without);
  EXPECT_GT(gain, gain_without);
  EXPECT_GT(lost(with_lumps(never, 0.0)), lost(with_lumps(never, 0.4)));
}

TEST(Lumps, StayInTheLaboratorysSample) {
  // A sample is broken up: what lay closed for 40 days breathes in the test.
  PileDescription pile = tests::mild_heap(40.0);
  const double without = tests::scalar(run_forecast(with_lumps(pile, 0.0)), "final_oxygen_uptake");
  const double with = tests::scalar(run_forecast(with_lumps(pile, 0.4)), "final_oxygen_uptake");
  EXPECT_GT(with, 1.2 * without);
}

} // namespace
} // namespace heapcast::models
