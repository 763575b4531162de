#include "engine/counter_random.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <set>
#include <vector>

namespace heapcast::engine {
namespace {

/// splitmix64 as its authors write it: a state and its next output.
std::uint64_t next(std::uint64_t& state) {
  std::uint64_t z = (state += 0x9e3779b97f4a7c15U);
  z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
  z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
  return z ^ (z >> 31U);
}

std::uint64_t output(std::uint64_t state, std::uint64_t place) {
  std::uint64_t value = 0;
  for (std::uint64_t i = 0; i <= place; ++i) {
    value = next(state);
  }
  return value;
}

TEST(CounterRandom, IsAPlaceInTheSequencesOfSplitmix64) {
  // The first output from state 0, from memory of its published test vectors.
  EXPECT_EQ(output(0, 0), 0xE220A8397B1DCDAFU);
  for (const RandomKey& key : {RandomKey{0, 0, 0}, {7, 0, 3}, {7, 5, 0}, {123456789, 12, 57}}) {
    EXPECT_EQ(random_bits(key), output(output(output(key.seed, 0), key.stream), key.counter));
  }
}

TEST(CounterRandom, EveryKeyHasItsOwnNumber) {
  std::set<std::uint64_t> seen;
  for (std::uint64_t seed = 0; seed < 10; ++seed) {
    for (std::uint64_t stream = 0; stream < 20; ++stream) {
      for (std::uint64_t counter = 0; counter < 50; ++counter) {
        seen.insert(random_bits({seed, stream, counter}));
      }
    }
  }
  EXPECT_EQ(seen.size(), 10U * 20U * 50U);
}

double mean_product(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    sum += (a[i] - 0.5) * (b[i] - 0.5);
  }
  return sum / static_cast<double>(a.size());
}

TEST(CounterRandom, SharesAreUniformAndNeighboursUnrelated) {
  constexpr std::size_t count = 40000;
  std::vector<double> here, next_counter, next_stream, next_seed;
  double sum = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    here.push_back(random_share({1, i, i % 58}));
    next_counter.push_back(random_share({1, i, i % 58 + 1}));
    next_stream.push_back(random_share({1, i + 1, i % 58}));
    next_seed.push_back(random_share({2, i, i % 58}));
    sum += here.back();
    ASSERT_GT(here.back(), 0.0);
    ASSERT_LT(here.back(), 1.0);
  }
  // Of a uniform share the mean is 1/2 with variance 1/12; the product of two deviations has mean 0
  // and standard deviation 1/12. Four standard errors.
  const double error = 4.0 / std::sqrt(static_cast<double>(count));
  EXPECT_NEAR(sum / count, 0.5, error * std::sqrt(1.0 / 12.0));
  EXPECT_NEAR(mean_product(here, here), 1.0 / 12.0, error / 12.0);
  EXPECT_NEAR(mean_product(here, next_counter), 0.0, error / 12.0);
  EXPECT_NEAR(mean_product(here, next_stream), 0.0, error / 12.0);
  EXPECT_NEAR(mean_product(here, next_seed), 0.0, error / 12.0);
}

} // namespace
} // namespace heapcast::engine
