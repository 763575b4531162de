#include "models/pile_system.hpp"
#include "models/processes/heat_and_vapour.hpp"
#include "tests/models/pile_bench.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <random>
#include <vector>

namespace heapcast::models {
namespace {

using F = CellField;

/// What heat and vapour do at the state that the system saw last, in the weather of another moment.
std::vector<double> rates_in_weather(PileSystem& system, const tests::Bench& bench,
                                     const StepMoment& moment) {
  Workspace& w = system.workspace();
  const auto now = w.forcing;
  in_lane(w.forcing, 0) = bench.site.forcing.at(moment);
  std::vector<double> dydt(system.size(), 0.0);
  const LaneStateView<1> state{bench.state.layout, bench.state.y.data(), bench.state.y.data()};
  heat_and_vapour(system.lane_site(), state, w, LaneRates<1>{bench.state.layout, dydt});
  w.forcing = now;
  return dydt;
}

TEST(PileDrive, IsTheParabolaThroughTheFlowsInTheWeatherToCome) {
  constexpr double now_s = 8.25 * 3600.0;
  constexpr double end_s = 9.0 * 3600.0;
  std::mt19937 random(4);
  tests::Bench bench(tests::windrow(2.0));
  bench.randomise(random);
  bench.state.total(Total::snow) = 0.0; // what melts is not foreseen
  PileSystem system(bench.site, bench.state);
  std::vector<double> dydt(system.size());
  system.rates(now_s, bench.integrated(), dydt);
  std::vector<double> slope(system.size(), 0.0);
  std::vector<double> bend(system.size(), 0.0);
  EXPECT_DOUBLE_EQ(system.drive(slope, bend), end_s - now_s);
  const std::vector<double> now = rates_in_weather(system, bench, {.t_s = now_s, .start_s = now_s});
  double largest = 0.0;
  for (const double share : {0.5, 1.0}) {
    const double s = share * (end_s - now_s);
    const std::vector<double> then =
        rates_in_weather(system, bench, {.t_s = now_s + s, .start_s = now_s});
    for (const F field : {F::enthalpy, F::water}) {
      const std::size_t first = bench.state.layout.field(static_cast<std::size_t>(field));
      for (std::size_t i = first; i < first + bench.cells(); ++i) {
        const double change = slope[i] * s + bend[i] * s * (s + now_s - end_s);
        EXPECT_NEAR(change, then[i] - now[i], 1e-9 * (1.0 + std::abs(now[i])));
        largest = std::max(largest, std::abs(change / now[i]));
      }
    }
    for (const Total total : {Total::heat_lost, Total::evaporation}) {
      const std::size_t i = bench.state.layout.total(static_cast<std::size_t>(total));
      EXPECT_NEAR(slope[i] * s + bend[i] * s * (s + now_s - end_s), then[i] - now[i],
                  1e-9 * (1.0 + std::abs(now[i])));
    }
  }
  EXPECT_GT(largest, 1e-3); // the weather did change something
}

TEST(PileJump, IsTheDifferenceThatRainAndSnowMake) {
  constexpr double hour_s = 3600.0;
  for (const double mean_C : {15.0, 0.5}) { // rain, and rain that is partly snow
    const tests::Climate climate{
        .mean_C = mean_C, .daily_swing_K = 0.4, .shower_kg_m2_h = 3.0, .shower_hours = 5};
    tests::Bench bench(tests::windrow(6.0, climate));
    std::mt19937 random(5);
    bench.randomise(random);
    PileSystem system(bench.site, bench.state);
    for (const double t_s : {96.0 * hour_s, 101.0 * hour_s}) { // a shower begins, and ends
      ASSERT_TRUE(system.jumps_at(t_s));
      const double begun_s = t_s - 0.5 * hour_s;
      system.end_step(begun_s, bench.integrated());
      std::vector<double> jump(system.size());
      system.rates(t_s, bench.integrated(), jump);
      std::fill(jump.begin(), jump.end(), 0.0);
      ASSERT_TRUE(system.add_jump(t_s, jump));
      const auto before = rates_in_weather(system, bench, {.t_s = t_s, .start_s = begun_s});
      const auto after = rates_in_weather(system, bench, {.t_s = t_s, .start_s = t_s});
      double largest = 0.0;
      for (std::size_t i = 0; i < jump.size(); ++i) {
        EXPECT_NEAR(jump[i], after[i] - before[i], 1e-12 * (1.0 + std::abs(before[i])));
        largest = std::max(largest, std::abs(jump[i]));
      }
      EXPECT_GT(largest, 1e-4) << mean_C << " degC"; // kg/s: it did rain
      EXPECT_EQ(jump[bench.state.layout.total(static_cast<std::size_t>(Total::snow))] != 0.0,
                mean_C < 2.0);
    }
  }
}

TEST(PileDrive, LeavesTheWorkspaceAsTheRatesLeftIt) {
  tests::Bench bench(tests::windrow(2.0));
  PileSystem system(bench.site, bench.state);
  std::vector<double> dydt(system.size());
  system.rates(8.25 * 3600.0, bench.integrated(), dydt);
  const double air_K = in_lane(system.workspace().forcing, 0).air_temperature_K;
  const std::vector<double> heat_W = system.workspace().boundary_heat_W;
  const std::vector<double> slope_W_K = system.workspace().boundary_slope_W_K;
  std::vector<double> slope(system.size(), 0.0);
  std::vector<double> bend(system.size(), 0.0);
  (void)system.drive(slope, bend);
  EXPECT_EQ(in_lane(system.workspace().forcing, 0).air_temperature_K, air_K);
  EXPECT_EQ(system.workspace().boundary_heat_W, heat_W);
  EXPECT_EQ(system.workspace().boundary_slope_W_K, slope_W_K);
}

} // namespace
} // namespace heapcast::models
