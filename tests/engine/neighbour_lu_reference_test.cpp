// The sparse solver against Eigen's dense one.

#include "engine/neighbour_lu.hpp"

#include <Eigen/Dense>
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

struct System {
  std::vector<double> diagonal, from_b, from_a;
};

/// Random entries; each row's diagonal exceeds the rest of the row by at least `margin` of it.
System random_system(const Mesh& mesh, unsigned seed, double margin) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> entry(-1.0, 1.0);
  System s{std::vector<double>(mesh.cells(), 0.1), std::vector<double>(mesh.faces(), 0.0),
           std::vector<double>(mesh.faces(), 0.0)};
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    s.from_b[f] = entry(random);
    s.from_a[f] = entry(random);
    s.diagonal[static_cast<std::size_t>(mesh.cell_a[f])] += (1.0 + margin) * std::abs(s.from_b[f]);
    if (mesh.cell_b[f] >= 0) {
      s.diagonal[static_cast<std::size_t>(mesh.cell_b[f])] +=
          (1.0 + margin) * std::abs(s.from_a[f]);
    }
  }
  for (double& d : s.diagonal) {
    d *= entry(random) < 0.0 ? -1.0 : 1.0;
  }
  return s;
}

Eigen::MatrixXd dense(const Mesh& mesh, const System& s) {
  const auto n = static_cast<Eigen::Index>(mesh.cells());
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    matrix(i, i) = s.diagonal[static_cast<std::size_t>(i)];
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      matrix(mesh.cell_a[f], mesh.cell_b[f]) = s.from_b[f];
      matrix(mesh.cell_b[f], mesh.cell_a[f]) = s.from_a[f];
    }
  }
  return matrix;
}

std::vector<Mesh> meshes() {
  std::vector<Mesh> all;
  all.push_back(
      make_prism({.height_m = 1.0, .base_width_m = 2.0, .top_width_m = 0, .length_m = 5}, {}));
  all.push_back(make_mound({.height_m = 1.0, .base_diameter_m = 2.0}, {5, 6}));
  all.push_back(make_container({1.0, 1.0, 4.0}, 8, 12));
  all.push_back(make_lump({1.0, 1.0, 1.0, 1.0}));
  return all;
}

/// Largest difference to the dense solution, over its largest entry.
double difference(const Mesh& mesh, NeighbourLu& lu, const System& s, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> entry;
  Eigen::VectorXd rhs(static_cast<Eigen::Index>(mesh.cells()));
  for (double& x : rhs) {
    x = entry(random);
  }
  std::vector<double> x(rhs.begin(), rhs.end());
  EXPECT_TRUE(lu.factor(s.diagonal, s.from_b, s.from_a));
  lu.solve(x);
  const Eigen::VectorXd wanted = dense(mesh, s).partialPivLu().solve(rhs);
  return (Eigen::Map<const Eigen::VectorXd>(x.data(), rhs.size()) - wanted)
             .lpNorm<Eigen::Infinity>() /
         wanted.lpNorm<Eigen::Infinity>();
}

// Both solvers lose about eps times the condition number; with a diagonal that is 1.1 times the
// rest of its row the latter is at most some hundreds: 400 * 2e-16 is below 1e-12.
constexpr double solver_tolerance = 1e-12;

TEST(NeighbourLuReference, EqualsDenseSolverForDominantSystems) {
  for (const Mesh& mesh : meshes()) {
    NeighbourLu lu(mesh);
    for (unsigned seed = 1; seed <= 5; ++seed) {
      // From the second seed on, the pattern and the pivots of the first are used again.
      EXPECT_LT(difference(mesh, lu, random_system(mesh, seed, 0.1), 100 + seed), solver_tolerance)
          << mesh.cells() << " cells, seed " << seed;
    }
  }
}

TEST(NeighbourLuReference, SolvesSeveralRightHandSidesWithOneFactor) {
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 4, 6);
  const System s = random_system(mesh, 7, 0.1);
  NeighbourLu lu(mesh);
  ASSERT_TRUE(lu.factor(s.diagonal, s.from_b, s.from_a));
  std::vector<double> once(mesh.cells(), 1.0);
  std::vector<double> twice(mesh.cells(), 2.0);
  lu.solve(once);
  lu.solve(twice);
  for (std::size_t i = 0; i < once.size(); ++i) {
    EXPECT_DOUBLE_EQ(twice[i], 2.0 * once[i]); // doubling is exact in every operation
  }
}

TEST(NeighbourLuReference, BoundaryEntriesAreNotRead) {
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 4, 6);
  System s = random_system(mesh, 7, 0.1);
  NeighbourLu lu(mesh);
  const double before = difference(mesh, lu, s, 3);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] < 0) {
      s.from_a[f] = s.from_b[f] = std::nan("");
    }
  }
  EXPECT_EQ(difference(mesh, lu, s, 3), before);
}

TEST(NeighbourLuReference, SingularSystemIsReportedAndTheNextOneSolved) {
  // Every row adds up to zero and every matrix entry is a small integer: the last pivot is exactly
  // zero.
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 1, 4);
  System singular{std::vector<double>(mesh.cells(), 0.0), std::vector<double>(mesh.faces(), -1.0),
                  std::vector<double>(mesh.faces(), -1.0)};
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      singular.diagonal[static_cast<std::size_t>(mesh.cell_a[f])] += 1.0;
      singular.diagonal[static_cast<std::size_t>(mesh.cell_b[f])] += 1.0;
    }
  }
  const System regular = random_system(mesh, 1, 0.1);
  NeighbourLu lu(mesh);
  EXPECT_FALSE(lu.factor(singular.diagonal, singular.from_b, singular.from_a));
  EXPECT_LT(difference(mesh, lu, regular, 2), solver_tolerance);
  EXPECT_FALSE(lu.factor(singular.diagonal, singular.from_b, singular.from_a));
  EXPECT_LT(difference(mesh, lu, regular, 2), solver_tolerance);
}

TEST(NeighbourLuReference, MovedSolverStillSolves) {
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 4, 6);
  NeighbourLu first(mesh);
  NeighbourLu second(std::move(first));
  EXPECT_LT(difference(mesh, second, random_system(mesh, 1, 0.1), 2), solver_tolerance);
}

} // namespace
} // namespace heapcast::engine
