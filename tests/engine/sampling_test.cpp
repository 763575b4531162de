#include "engine/sampling.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <set>
#include <stdexcept>
#include <vector>

namespace heapcast::engine {
namespace {

using testing::ElementsAre;

std::vector<std::vector<double>> points(const Design& design) {
  std::vector<std::vector<double>> all;
  for (std::size_t i = 0; i < design.size; ++i) {
    all.push_back(design.point(i));
  }
  return all;
}

void expect_open_unit_cube(const Design& design) {
  for (const std::vector<double>& point : points(design)) {
    ASSERT_EQ(point.size(), design.dimension);
    for (const double coordinate : point) {
      EXPECT_GT(coordinate, 0.0);
      EXPECT_LT(coordinate, 1.0);
    }
  }
}

TEST(Sampling, LevelsLieInTheMiddleOfEqualParts) {
  EXPECT_EQ(middle_of_level(0, 2), 0.25);
  EXPECT_EQ(middle_of_level(1, 2), 0.75);
  for (std::size_t levels = 1; levels < 200; ++levels) {
    for (std::size_t level = 0; level < levels; ++level) {
      EXPECT_EQ(level_at(middle_of_level(level, levels), levels), level);
    }
  }
  EXPECT_EQ(level_at(1.0, 4), 3U);
}

TEST(Sampling, AGridHasEveryCombinationOnceTheLastFactorFirst) {
  const Design grid = full_grid({2, 1, 3});
  EXPECT_EQ(grid.size, 6U);
  EXPECT_THAT(grid.point(1), ElementsAre(0.25, 0.5, 0.5));
  EXPECT_THAT(grid.point(3), ElementsAre(0.75, 0.5, 0.5 / 3.0));
  const auto all = points(grid);
  EXPECT_EQ(std::set<std::vector<double>>(all.begin(), all.end()).size(), 6U);
  EXPECT_THROW((void)full_grid({1U << 20U, 1U << 20U, 1U << 20U}), std::length_error);
}

TEST(Sampling, OneAtATimeLeavesTheBaseInOneFactor) {
  const Design design = one_at_a_time({3, 1, 2}, {1, 0, 0});
  ASSERT_EQ(design.size, 1U + 2U + 0U + 1U);
  EXPECT_THAT(design.point(0), ElementsAre(0.5, 0.5, 0.25));
  EXPECT_THAT(design.point(1), ElementsAre(0.5 / 3.0, 0.5, 0.25));
  EXPECT_THAT(design.point(2), ElementsAre(2.5 / 3.0, 0.5, 0.25));
  EXPECT_THAT(design.point(3), ElementsAre(0.5, 0.5, 0.75));
}

TEST(Sampling, ALatinHypercubeHasOnePointInEveryPartOfEveryFactor) {
  const Design design = latin_hypercube(37, 3, 5);
  expect_open_unit_cube(design);
  for (std::size_t j = 0; j < 3; ++j) {
    std::set<std::size_t> parts;
    for (const auto& point : points(design)) {
      parts.insert(level_at(point[j], 37));
    }
    EXPECT_EQ(parts.size(), 37U);
  }
  EXPECT_EQ(points(latin_hypercube(37, 3, 5)), points(design));
  EXPECT_NE(points(latin_hypercube(37, 3, 6)), points(design));
}

TEST(Sampling, EveryOrderOfALatinHypercubeIsEquallyLikely) {
  // Of 3 points one factor has 6 orders. Over 6000 seeds the count of each is binomial about 1000
  // with a standard deviation of 29; six of them are within 5 of these but once in 300,000 draws.
  std::vector<std::size_t> counts(27, 0);
  for (std::uint64_t seed = 0; seed < 6000; ++seed) {
    std::size_t code = 0;
    for (const auto& point : points(latin_hypercube(3, 1, seed))) {
      code = 3 * code + level_at(point[0], 3);
    }
    ++counts[code];
  }
  std::size_t orders = 0;
  for (const std::size_t count : counts) {
    orders += count > 0 ? 1 : 0;
    if (count > 0) {
      EXPECT_NEAR(static_cast<double>(count), 1000.0, 5.0 * 29.0);
    }
  }
  EXPECT_EQ(orders, 6U);
}

TEST(Sampling, SobolPointsFillEveryPartOfEveryFactorAndEveryPair) {
  const Design design = sobol_sequence(64, 5, 3);
  expect_open_unit_cube(design);
  for (std::size_t j = 0; j < 5; ++j) {
    std::set<std::size_t> parts;
    for (const auto& point : points(design)) {
      parts.insert(level_at(point[j], 64));
    }
    EXPECT_EQ(parts.size(), 64U) << "factor " << j;
  }
  // The first two factors are a (0, 6, 2) net: every box of 8 by 8 has one point.
  std::set<std::pair<std::size_t, std::size_t>> boxes;
  for (const auto& point : points(design)) {
    boxes.insert({level_at(point[0], 8), level_at(point[1], 8)});
  }
  EXPECT_EQ(boxes.size(), 64U);
  EXPECT_THROW((void)sobol_sequence(1, most_sobol_factors + 1, 1), std::length_error);
}

TEST(Sampling, APointOfALongerSobolSequenceIsThatOfAShorterOne) {
  const Design shorter = sobol_sequence(10, 4, 9);
  const Design longer = sobol_sequence(std::size_t{1} << 40U, 4, 9);
  for (std::size_t i = 10; i-- > 0;) {
    EXPECT_EQ(shorter.point(i), longer.point(i));
  }
  expect_open_unit_cube(
      {1, 4, [&](std::size_t) { return longer.point((std::size_t{1} << 40U) - 1); }});
}

TEST(Sampling, ASaltelliBlockDiffersFromItsFirstPointInOneFactorThatIsOfItsSecond) {
  const Design design = saltelli_design(8, 3, 1);
  ASSERT_EQ(design.size, 8U * 5U);
  expect_open_unit_cube(design);
  for (std::size_t block = 0; block < 8; ++block) {
    const auto a = design.point(5 * block);
    const auto b = design.point(5 * block + 1);
    for (std::size_t i = 0; i < 3; ++i) {
      auto expected = a;
      expected[i] = b[i];
      EXPECT_EQ(design.point(5 * block + 2 + i), expected);
      EXPECT_NE(a[i], b[i]);
    }
  }
}

TEST(Sampling, AMorrisTrajectoryMovesEveryFactorOnceByHalfTheRange) {
  const Design design = morris_design(50, 4, 6, 2);
  ASSERT_EQ(design.size, 50U * 5U);
  expect_open_unit_cube(design);
  std::size_t up = 0;
  std::set<std::size_t> first_moved;
  for (std::size_t t = 0; t < 50; ++t) {
    std::set<std::size_t> moved;
    for (std::size_t s = 0; s < 4; ++s) {
      const auto from = design.point(5 * t + s);
      const auto to = design.point(5 * t + s + 1);
      for (std::size_t j = 0; j < 4; ++j) {
        // The levels are multiples of 1/12: nothing lies between.
        EXPECT_NEAR(from[j], middle_of_level(level_at(from[j], 6), 6), 1e-15);
        if (from[j] != to[j]) {
          EXPECT_NEAR(std::abs(to[j] - from[j]), morris_step, 1e-15);
          up += to[j] > from[j] ? 1 : 0;
          moved.insert(j);
          if (s == 0) {
            first_moved.insert(j);
          }
        }
      }
    }
    EXPECT_EQ(moved.size(), 4U);
  }
  EXPECT_EQ(first_moved.size(), 4U);
  // 200 steps, up or down with equal chance: 100 +- 7.1; five of them are exceeded once in 2e6.
  EXPECT_NEAR(static_cast<double>(up), 100.0, 36.0);
  EXPECT_THROW((void)morris_design(1, 1, 3, 1), std::invalid_argument);
}

} // namespace
} // namespace heapcast::engine
