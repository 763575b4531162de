#include "models/lane_runs.hpp"

#include "models/forecast.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::models {
namespace {

using Pile = std::shared_ptr<const PileDescription>;

struct Outcome {
  std::map<std::size_t, ForecastResult> results;
  std::map<std::size_t, std::string> failures;
};

Outcome run_all(const std::vector<Pile>& piles, int most = run_lanes) {
  Outcome outcome;
  std::size_t next = 0;
  run_side_by_side(
      [&]() -> std::optional<LaneRun> {
        if (next == piles.size()) {
          return std::nullopt;
        }
        const std::size_t job = next++;
        return LaneRun{
            .pile = piles[job],
            .progress = {},
            .done = [&outcome, job](ForecastResult&& r) { outcome.results[job] = std::move(r); },
            .failed = [&outcome, job](const std::string& r) { outcome.failures[job] = r; }};
      },
      most);
  return outcome;
}

/// A windrow in showers, turned when it cools: its events are at other hours for every rate.
Pile turned_windrow(double fast_rate_1_d, double flow_size_scale = 0.6) {
  const tests::Climate showery{
      .mean_C = 9.0, .slow_swing_K = 6.0, .shower_kg_m2_h = 2.0, .shower_every_h = 17};
  PileDescription pile = tests::windrow(12.0, showery);
  pile.resolution = Resolution::coarse;
  pile.turning.emplace();
  pile.turning->method = TurnMethod::loader;
  pile.turning->schedule.every_days = fast_rate_1_d > 0.5 ? 3.0 : 4.0;
  pile.turning->schedule.from_day = 2.0;
  pile.parameters.set(find_parameter("fast_rate"), fast_rate_1_d);
  pile.parameters.set(find_parameter("flow_size_scale"), flow_size_scale);
  return std::make_shared<const PileDescription>(std::move(pile));
}

bool same_bits(const ForecastResult& a, const ForecastResult& b) {
  for (std::size_t s = 0; s < a.series.size(); ++s) {
    const std::vector<double>& x = a.series[s].values;
    const std::vector<double>& y = b.series[s].values;
    if (x.size() != y.size()) {
      return false;
    }
    for (std::size_t i = 0; i < x.size(); ++i) {
      if (std::bit_cast<std::uint64_t>(x[i]) != std::bit_cast<std::uint64_t>(y[i])) {
        return false;
      }
    }
  }
  return a.steps == b.steps && a.rejected_steps == b.rejected_steps;
}

double largest_difference(const ForecastResult& a, const ForecastResult& b, const char* name) {
  const std::vector<double>& x = a.find_series(name)->values;
  const std::vector<double>& y = b.find_series(name)->values;
  double largest = x.size() == y.size() ? 0.0 : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < std::min(x.size(), y.size()); ++i) {
    largest = std::max(largest, std::abs(x[i] - y[i]));
  }
  return largest;
}

TEST(LaneRuns, GiveWhatEachRunGivesAlone) {
  const std::vector<Pile> piles = {turned_windrow(0.3), turned_windrow(0.5), turned_windrow(0.9)};
  const Outcome outcome = run_all(piles);
  ASSERT_EQ(outcome.results.size(), piles.size());
  for (std::size_t i = 0; i < piles.size(); ++i) {
    const ForecastResult alone = run_forecast(*piles[i]);
    const ForecastResult& beside = outcome.results.at(i);
    // Pore oxygen is solved to 1e-7 by other iterates: at most 3e-5 of the uptake, of 60 K.
    EXPECT_LE(largest_difference(alone, beside, "core_temperature"), 60.0 * 3e-5);
    EXPECT_LE(largest_difference(alone, beside, "skin_temperature"), 60.0 * 3e-5);
    EXPECT_EQ(alone.events.size(), beside.events.size());
    EXPECT_GT(alone.events.size(), 1U);
    EXPECT_EQ(alone.find_series("rain")->values, beside.find_series("rain")->values);
    for (const char* closure : {"closure_water", "closure_carbon", "closure_energy"}) {
      EXPECT_LE(beside.find_scalar(closure)->value, 1e-12) << closure;
    }
  }
}

TEST(LaneRuns, ARunIsTheSameToTheLastBitWhateverRunsBesideIt) {
  const Pile pile = turned_windrow(0.5);
  const ForecastResult alone = run_all({pile}).results.at(0);
  const ForecastResult among = run_all({turned_windrow(0.3), turned_windrow(1.0, 3.0), pile,
                                        turned_windrow(0.25, 0.3), turned_windrow(0.7)})
                                   .results.at(2);
  EXPECT_TRUE(same_bits(alone, among));
  // Taking over a lane in which another run ended.
  const ForecastResult after =
      run_all({turned_windrow(0.9), turned_windrow(0.3), pile}, 2).results.at(2);
  EXPECT_TRUE(same_bits(alone, after));
  EXPECT_FALSE(same_bits(alone, run_all({turned_windrow(0.51)}).results.at(0)));
}

TEST(LaneRuns, ARunThatCannotBeMadeLeavesTheOthersAlone) {
  const auto good = std::make_shared<const PileDescription>(tests::slatted_bin(3.0));
  auto bad = std::make_shared<PileDescription>(*good);
  bad->shape.height_m = 0.05; // does not hold the materials
  for (const int most : {1, run_lanes}) {
    const Outcome outcome = run_all({bad, good, bad, good}, most);
    EXPECT_EQ(outcome.results.size(), 2U);
    ASSERT_EQ(outcome.failures.size(), 2U);
    EXPECT_FALSE(outcome.failures.at(0).empty());
    EXPECT_TRUE(same_bits(outcome.results.at(1), run_all({good}).results.at(0)));
  }
}

TEST(LaneRuns, APileOfAnotherTopologyIsTheSameAsBesideItsLike) {
  const auto lump = std::make_shared<const PileDescription>(tests::lumped_heap(3.0));
  const Pile row = turned_windrow(0.5);
  const Outcome outcome = run_all({row, lump, row, lump});
  ASSERT_EQ(outcome.results.size(), 4U);
  EXPECT_TRUE(same_bits(outcome.results.at(1), run_all({lump}).results.at(0)));
  EXPECT_TRUE(same_bits(outcome.results.at(1), outcome.results.at(3)));
  EXPECT_TRUE(same_bits(outcome.results.at(2), run_all({row}).results.at(0)));
}

TEST(LaneRuns, StopWhenTheListenerWantsNoMore) {
  std::size_t asked = 0;
  bool given = false;
  std::size_t hours = 0;
  run_side_by_side([&]() -> std::optional<LaneRun> {
    if (std::exchange(given, true)) {
      return std::nullopt;
    }
    return LaneRun{.pile = turned_windrow(0.5),
                   .progress = [&](double) { return ++asked < 3; },
                   .done = [&](ForecastResult&& r) { hours = r.time_h.size(); },
                   .failed = {}};
  });
  EXPECT_EQ(asked, 3U);
  EXPECT_EQ(hours, 2 * 24 + 1U); // asked at the build and after each day
}

} // namespace
} // namespace heapcast::models
