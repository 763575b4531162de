// Many runs on several threads give what one thread gives, bit by bit.

#include "engine/run_pool.hpp"
#include "models/forecast.hpp"
#include "tests/models/pile_fixture.hpp"
#include "tests/same_bits.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <numeric>
#include <random>
#include <string>
#include <vector>

namespace heapcast::models {
namespace {

/// Different piles, one weather: runs share what they only read.
std::vector<PileDescription> piles() {
  constexpr double days = 3.0;
  const tests::Climate showery{.shower_kg_m2_h = 2.0, .shower_every_h = 12};
  std::vector<PileDescription> all = {tests::mild_heap(days),    tests::lumped_heap(days),
                                      tests::windrow(days),      tests::slatted_bin(days),
                                      tests::layered_heap(days), tests::mild_heap(days)};
  const auto shared = tests::weather(days, showery);
  for (PileDescription& p : all) {
    p.weather = shared;
    p.turning = tests::turning(TurnMethod::fork, 1.0, 1.0);
  }
  all[3].additions = {tests::weekly_addition()};
  return all;
}

void expect_same(const ForecastResult& a, const ForecastResult& b, const std::string& where) {
  EXPECT_TRUE(tests::same_bits(a.time_h, b.time_h)) << where;
  ASSERT_EQ(a.series.size(), b.series.size()) << where;
  for (std::size_t i = 0; i < a.series.size(); ++i) {
    EXPECT_TRUE(tests::same_bits(a.series[i].values, b.series[i].values))
        << where << a.series[i].name;
  }
  ASSERT_EQ(a.fields.size(), b.fields.size()) << where;
  for (std::size_t i = 0; i < a.fields.size(); ++i) {
    EXPECT_TRUE(tests::same_bits(a.fields[i].values, b.fields[i].values))
        << where << a.fields[i].name;
  }
  ASSERT_EQ(a.scalars.size(), b.scalars.size()) << where;
  for (std::size_t i = 0; i < a.scalars.size(); ++i) {
    EXPECT_TRUE(tests::same_bits({a.scalars[i].value}, {b.scalars[i].value}))
        << where << a.scalars[i].name;
  }
  ASSERT_EQ(a.events.size(), b.events.size()) << where;
  for (std::size_t i = 0; i < a.events.size(); ++i) {
    EXPECT_EQ(a.events[i].kind + a.events[i].reason, b.events[i].kind + b.events[i].reason)
        << where;
    EXPECT_TRUE(tests::same_bits({a.events[i].day, a.events[i].litres, a.events[i].kg},
                                 {b.events[i].day, b.events[i].litres, b.events[i].kg}))
        << where;
  }
  EXPECT_EQ(a.limit, b.limit) << where;
  EXPECT_EQ(a.warnings, b.warnings) << where;
  EXPECT_EQ(a.steps, b.steps) << where;
  EXPECT_EQ(a.rejected_steps, b.rejected_steps) << where;
  EXPECT_EQ(a.rate_calls, b.rate_calls) << where;
}

/// Results of all piles, run in the given order.
std::vector<ForecastResult> run_all(const std::vector<PileDescription>& all,
                                    const std::vector<std::size_t>& order, unsigned threads) {
  std::vector<ForecastResult> results(all.size());
  engine::run_pool(order.size(), threads,
                   [&](std::size_t i) { results[order[i]] = run_forecast(all[order[i]]); });
  return results;
}

TEST(RunForecast, ThreadsAndTheirOrderDoNotChangeABit) {
  const std::vector<PileDescription> all = piles();
  std::vector<std::size_t> order(all.size());
  std::iota(order.begin(), order.end(), 0U);
  const std::vector<ForecastResult> expected = run_all(all, order, 1);
  std::mt19937 random(3);
  for (const unsigned threads : {1U, 2U, 4U}) {
    std::shuffle(order.begin(), order.end(), random);
    const std::vector<ForecastResult> results = run_all(all, order, threads);
    for (std::size_t i = 0; i < all.size(); ++i) {
      expect_same(results[i], expected[i],
                  std::to_string(threads) + " threads, pile " + std::to_string(i) + ": ");
    }
  }
  // The first and the last are the same pile; the others differ, so that equality means something.
  expect_same(expected.front(), expected.back(), "same pile: ");
  EXPECT_FALSE(tests::same_bits(expected[0].series[0].values, expected[1].series[0].values));
}

TEST(RunForecast, ThreadsShareOneDescription) {
  const PileDescription pile = piles().front();
  std::vector<ForecastResult> results(4);
  engine::run_pool(results.size(), 4, [&](std::size_t i) { results[i] = run_forecast(pile); });
  for (const ForecastResult& result : results) {
    expect_same(result, results.front(), "one description: ");
  }
}

} // namespace
} // namespace heapcast::models
