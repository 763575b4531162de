#include "models/ensemble/ensemble.hpp"
#include "tests/models/pile_fixture.hpp"

#include <Eigen/Eigenvalues>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <numeric>
#include <vector>

namespace heapcast::models {
namespace {

constexpr std::size_t draws = 20000;

/// By parameter, the values of many runs.
const std::vector<std::vector<double>>& many_draws() {
  static const auto all = [] {
    const PileDescription pile = tests::lumped_heap(1.0);
    std::vector<std::vector<double>> values(parameter_count);
    for (std::size_t run = 0; run < draws; ++run) {
      const ParameterSet drawn = draw_parameters(pile, 11, run);
      for (std::size_t p = 0; p < parameter_count; ++p) {
        values[p].push_back(drawn[static_cast<Parameter>(p)]);
      }
    }
    return values;
  }();
  return all;
}

double normal_below(double z) {
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

/// A prior's distribution function in closed form.
double prior_below(const ParameterRow& row, double x) {
  if (row.prior == Prior::uniform) {
    return (x - row.low) / (row.high - row.low);
  }
  const bool by_ln = row.prior == Prior::lognormal;
  const double centre = by_ln ? std::log(row.value) : row.value;
  const double low = by_ln ? std::log(row.low) : row.low;
  const double high = by_ln ? std::log(row.high) : row.high;
  const double sd = (high - low) / 4.0;
  const auto below = [&](double y) { return normal_below((y - centre) / sd); };
  return (below(by_ln ? std::log(x) : x) - below(low)) / (below(high) - below(low));
}

TEST(DrawParameters, EveryMarginIsItsPrior) {
  for (std::size_t p = 0; p < parameter_count; ++p) {
    const ParameterRow& row = parameter_table()[p];
    std::vector<double> values = many_draws()[p];
    std::ranges::sort(values);
    EXPECT_GE(values.front(), row.low) << row.name;
    EXPECT_LE(values.back(), row.high) << row.name;
    double distance = 0.0;
    for (std::size_t i = 0; i < draws; ++i) {
      const double share = (static_cast<double>(i) + 0.5) / static_cast<double>(draws);
      distance = std::max(distance, std::abs(prior_below(row, values[i]) - share));
    }
    // Kolmogorov: with n draws of the right distribution the largest distance is above 2.23/sqrt(n)
    // once in 10,000 times; half a step more for the steps.
    EXPECT_LT(distance, 2.23 / std::sqrt(static_cast<double>(draws)) + 0.5 / draws) << row.name;
  }
}

std::vector<double> ranks(const std::vector<double>& values) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), 0U);
  std::ranges::sort(order, {}, [&](std::size_t i) { return values[i]; });
  std::vector<double> ranks(values.size());
  for (std::size_t i = 0; i < order.size(); ++i) {
    ranks[order[i]] = static_cast<double>(i);
  }
  return ranks;
}

double rank_correlation(Parameter a, Parameter b) {
  const std::vector<double> x = ranks(many_draws()[static_cast<std::size_t>(a)]);
  const std::vector<double> y = ranks(many_draws()[static_cast<std::size_t>(b)]);
  const double n = draws;
  double squares = 0.0;
  for (std::size_t i = 0; i < draws; ++i) {
    squares += (x[i] - y[i]) * (x[i] - y[i]);
  }
  return 1.0 - 6.0 * squares / (n * (n * n - 1.0)); // Spearman's
}

TEST(DrawParameters, PairsAreCorrelatedAsTheTableSays) {
  // A Gaussian copula with coefficient r has the rank correlation 6/pi asin(r/2). The standard
  // error is at most 1/sqrt(n); four of them.
  const double error = 4.0 / std::sqrt(static_cast<double>(draws));
  for (const ParameterCorrelation& pair : parameter_correlations()) {
    EXPECT_NEAR(rank_correlation(pair.first, pair.second),
                6.0 / std::numbers::pi * std::asin(pair.coefficient / 2.0), error)
        << parameter_table()[static_cast<std::size_t>(pair.first)].name;
  }
  EXPECT_NEAR(rank_correlation(Parameter::fast_rate, Parameter::solids_heat_capacity), 0.0, error);
  // Through their common neighbour two rates would be related; the table says they are not.
  EXPECT_NEAR(rank_correlation(Parameter::fast_rate, Parameter::slow_rate), 0.0, error);
}

TEST(ParameterCorrelations, MakeAPositiveDefiniteMatrix) {
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Identity(parameter_count, parameter_count);
  for (const ParameterCorrelation& pair : parameter_correlations()) {
    const auto i = static_cast<Eigen::Index>(pair.first);
    const auto j = static_cast<Eigen::Index>(pair.second);
    EXPECT_NE(i, j);
    EXPECT_EQ(matrix(i, j), 0.0) << "a pair twice";
    EXPECT_LT(std::abs(pair.coefficient), 1.0);
    EXPECT_FALSE(pair.reason.empty());
    matrix(i, j) = matrix(j, i) = pair.coefficient;
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(matrix);
  // Well away from singular: no combination of parameters is all but fixed by the others.
  EXPECT_GT(solver.eigenvalues().minCoeff(), 0.1);
}

TEST(DrawParameters, DependOnSeedAndRunAlone) {
  const PileDescription heap = tests::lumped_heap(1.0);
  const PileDescription windrow = tests::windrow(2.0);
  const auto fast = [](const PileDescription& pile, std::uint64_t seed, std::size_t run) {
    return draw_parameters(pile, seed, run)[Parameter::fast_rate];
  };
  EXPECT_EQ(fast(heap, 1, 5), fast(heap, 1, 5));
  EXPECT_EQ(fast(heap, 1, 5), fast(windrow, 1, 5));
  EXPECT_NE(fast(heap, 1, 5), fast(heap, 1, 6));
  EXPECT_NE(fast(heap, 1, 5), fast(heap, 2, 5));
}

TEST(DrawParameters, KeepWhatTheUserHasSetAndNothingElseShifts) {
  const PileDescription plain = tests::lumped_heap(1.0);
  PileDescription given = plain;
  const auto fast = static_cast<std::size_t>(Parameter::fast_rate);
  given.parameters.set(fast, 0.31);
  given.given_parameters = {fast};
  const ParameterSet a = draw_parameters(plain, 1, 3);
  const ParameterSet b = draw_parameters(given, 1, 3);
  EXPECT_EQ(b[Parameter::fast_rate], 0.31);
  EXPECT_FALSE(is_drawn(given, fast));
  for (std::size_t p = 0; p < parameter_count; ++p) {
    if (p != fast) {
      EXPECT_EQ(a[static_cast<Parameter>(p)], b[static_cast<Parameter>(p)]);
    }
  }
}

ParameterRow row(Prior prior, double low, double high) {
  return {.name = "invented",
          .symbol = "",
          .unit = "-",
          .si_factor = 1.0,
          .value = 0.0,
          .low = low,
          .high = high,
          .prior = prior,
          .status = "",
          .source = "",
          .meaning = ""};
}

TEST(PriorQuantile, FollowsTheShape) {
  // Rounding of a few additions and of the inverse of erfc, on numbers about 1 to 10.
  constexpr double rounding = 1e-12;
  EXPECT_EQ(prior_quantile(row(Prior::fixed, 0, 10), 3.0, 0.9), 3.0);
  EXPECT_NEAR(prior_quantile(row(Prior::uniform, 2, 10), 3.0, 0.25), 4.0, rounding);
  EXPECT_NEAR(prior_quantile(row(Prior::normal, 2, 10), 6.0, 0.5), 6.0, rounding);
  EXPECT_NEAR(prior_quantile(row(Prior::lognormal, 1, 16), 4.0, 0.5), 4.0, rounding);
  // Cut off at +-2 standard deviations of (10 - 2)/4 = 2: one of them above the centre lies
  // (Phi(1) - Phi(-2))/(Phi(2) - Phi(-2)) of the prior.
  const double share = (normal_below(1) - normal_below(-2)) / (normal_below(2) - normal_below(-2));
  EXPECT_NEAR(prior_quantile(row(Prior::normal, 2, 10), 6.0, share), 8.0, 1e-9);
  // The same of ln: 4 times e^(ln(16)/4) = 4 times 2.
  EXPECT_NEAR(prior_quantile(row(Prior::lognormal, 1, 16), 4.0, share), 8.0, 1e-9);
}

TEST(PriorQuantile, ALognormalFromZeroHasItsHighEndTwoStandardDeviationsUp) {
  // ln(high/centre)/2 = ln(4)/2 = ln 2; nothing is cut off below: the share of what lies below the
  // centre is 0.5/Phi(2), that below half of it Phi(-1)/Phi(2).
  const ParameterRow from_zero = row(Prior::lognormal, 0, 12);
  EXPECT_NEAR(prior_quantile(from_zero, 3.0, 0.5 / normal_below(2)), 3.0, 1e-9);
  EXPECT_NEAR(prior_quantile(from_zero, 3.0, normal_below(-1) / normal_below(2)), 1.5, 1e-9);
  EXPECT_GT(prior_quantile(from_zero, 3.0, 1e-12), 0.0);
  EXPECT_LE(prior_quantile(from_zero, 3.0, 1.0 - 1e-15), 12.0);
}

TEST(ParameterTable, LognormalPriorsHaveACentreAboveZero) {
  for (const ParameterRow& one : parameter_table()) {
    if (one.prior == Prior::lognormal) {
      EXPECT_GT(one.value, 0.0) << one.name;
    }
  }
}

} // namespace
} // namespace heapcast::models
