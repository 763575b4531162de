#include "models/labour.hpp"

#include "models/forecast.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

TEST(Labour, FollowsMethodAndVolume) {
  const LabourRates rates{.build_m3_h = 2.0,
                          .fork_m3_h = 1.0,
                          .loader_m3_h = 40.0,
                          .windrow_turner_m3_h = 400.0,
                          .watering_L_h = 500.0,
                          .setting_up_h = 0.5};
  Labour labour(rates);
  labour.build(3.0);
  EXPECT_DOUBLE_EQ(labour.building_h(), 1.5);
  labour.turn(TurnMethod::fork, 3.0);
  EXPECT_DOUBLE_EQ(labour.turning_h(), 3.5);
  labour.turn(TurnMethod::loader, 20.0);
  EXPECT_DOUBLE_EQ(labour.turning_h(), 4.5);
  labour.turn(TurnMethod::windrow_turner, 200.0);
  EXPECT_DOUBLE_EQ(labour.turning_h(), 5.5);
  labour.water(250.0, true);
  labour.water(250.0, false); // with a turn: no fetching of its own
  EXPECT_DOUBLE_EQ(labour.watering_h(), 1.5);
  labour.add(0.2);
  EXPECT_DOUBLE_EQ(labour.adding_h(), 0.1);
  EXPECT_DOUBLE_EQ(labour.total_h(), 1.5 + 5.5 + 1.5 + 0.1);
}

TEST(Labour, EveryTurnOfAPileCostsWhatIsLeftOfIt) {
  PileDescription pile = tests::mild_heap(8.0);
  const double never = tests::scalar(run_forecast(pile), "labour_hours");
  pile.turning = tests::turning(TurnMethod::fork, 3.0, 2.0);
  const ForecastResult turned = run_forecast(pile);
  ASSERT_EQ(tests::scalar(turned, "turns"), 2.0);
  const double work = tests::scalar(turned, "labour_hours") - never;
  EXPECT_DOUBLE_EQ(work, tests::scalar(turned, "labour_hours_turning"));
  // Between twice the last volume and twice the first.
  const std::vector<double>& volume = turned.find_series("volume")->values;
  const double setting_up = 2.0 * pile.labour.setting_up_h;
  EXPECT_LT(work - setting_up, 2.0 * volume.front() / pile.labour.fork_m3_h);
  EXPECT_GT(work - setting_up, 2.0 * volume.back() / pile.labour.fork_m3_h);
}

TEST(Labour, NitrogenThatWentInIsKeptOrAccountedFor) {
  PileDescription pile = tests::mild_heap(10.0, {.shower_kg_m2_h = 1.0});
  pile.turning = tests::turning(TurnMethod::fork, 3.0, 2.0);
  const ForecastResult r = run_forecast(pile);
  const double out =
      tests::scalar(r, "nitrogen_lost_ammonia") + tests::scalar(r, "nitrogen_lost_nitrous_oxide") +
      tests::scalar(r, "nitrogen_lost_dinitrogen") + tests::scalar(r, "nitrogen_lost_leachate");
  const double in = tests::scalar(r, "nitrogen_in");
  EXPECT_NEAR(tests::scalar(r, "nitrogen_kept") + out, in,
              1e-12 * in); // closure is at rounding level
  EXPECT_NEAR(out / in, tests::scalar(r, "nitrogen_lost_fraction"), 1e-12);
  EXPECT_GT(tests::scalar(r, "nitrogen_lost_ammonia"), 0.0);
}

} // namespace
} // namespace heapcast::models
