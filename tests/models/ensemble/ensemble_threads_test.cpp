// An ensemble on several threads is what it is on one, bit by bit.

#include "models/ensemble/ensemble.hpp"
#include "tests/models/pile_fixture.hpp"
#include "tests/same_bits.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace heapcast::models {
namespace {

void expect_same(const EnsembleResult& a, const EnsembleResult& b, const std::string& where) {
  ASSERT_EQ(a.numbers.size(), b.numbers.size()) << where;
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    EXPECT_TRUE(tests::same_bits(a.numbers[i].values, b.numbers[i].values))
        << where << a.numbers[i].name;
    EXPECT_EQ(a.numbers[i].reasons, b.numbers[i].reasons) << where << a.numbers[i].name;
  }
  ASSERT_EQ(a.bands.size(), b.bands.size()) << where;
  for (std::size_t i = 0; i < a.bands.size(); ++i) {
    EXPECT_TRUE(tests::same_bits(a.bands[i].low, b.bands[i].low)) << where << a.bands[i].name;
    EXPECT_TRUE(tests::same_bits(a.bands[i].mid, b.bands[i].mid)) << where << a.bands[i].name;
    EXPECT_TRUE(tests::same_bits(a.bands[i].high, b.bands[i].high)) << where << a.bands[i].name;
  }
  EXPECT_EQ(a.start, b.start) << where;
  ASSERT_EQ(a.failed.size(), b.failed.size()) << where;
  for (std::size_t i = 0; i < a.failed.size(); ++i) {
    EXPECT_EQ(a.failed[i].run, b.failed[i].run) << where;
    EXPECT_EQ(a.failed[i].reason, b.failed[i].reason) << where;
  }
}

TEST(RunEnsembles, ThreadsDoNotChangeABit) {
  PileDescription heap = tests::lumped_heap(2.0);
  heap.weather = tests::weather(3 * 365.0, {.slow_swing_K = 5.0});
  PileDescription bin = tests::slatted_bin(1.0);
  bin.shape.height_m = 0.66 / 1.05; // too small for some draws: their failures are compared too
  const std::vector<std::shared_ptr<const PileDescription>> piles = {
      std::make_shared<const PileDescription>(heap), std::make_shared<const PileDescription>(bin)};
  EnsembleOptions options;
  options.runs = 8;
  options.threads = 1;
  const std::vector<EnsembleResult> expected = run_ensembles(piles, options);
  EXPECT_GT(expected[1].failed.size(), 0U);
  EXPECT_LT(expected[1].failed.size(), options.runs);
  for (const unsigned threads : {2U, 4U}) {
    options.threads = threads;
    long calls = 0; // the pool calls one at a time: no lock
    const std::vector<EnsembleResult> results = run_ensembles(piles, options, [&calls](double) {
      ++calls;
      return true;
    });
    EXPECT_GT(calls, 0);
    for (std::size_t p = 0; p < piles.size(); ++p) {
      expect_same(results[p], expected[p],
                  std::to_string(threads) + " threads, pile " + std::to_string(p) + ": ");
    }
  }
}

} // namespace
} // namespace heapcast::models
