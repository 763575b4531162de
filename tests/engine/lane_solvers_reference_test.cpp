// Many small systems at once against the solvers of one: KLU and Eigen's dense Cholesky.

#include "engine/lane_solvers.hpp"
#include "engine/neighbour_lu.hpp"
#include "tests/same_bits.hpp"

#include <Eigen/Dense>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <stdexcept>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

/// `lanes` systems side by side. LU reads both couplings, Cholesky the first.
struct Systems {
  int lanes;
  std::vector<double> diagonal, from_b, from_a, rhs;
};

std::size_t size(std::size_t items, int lanes) {
  return items * static_cast<std::size_t>(lanes);
}

std::vector<double> lane_of(const std::vector<double>& all, int lanes, int lane) {
  std::vector<double> one;
  for (auto i = static_cast<std::size_t>(lane); i < all.size(); i += lanes) {
    one.push_back(all[i]);
  }
  return one;
}

Systems lane_of(const Systems& all, int lane) {
  return {1, lane_of(all.diagonal, all.lanes, lane), lane_of(all.from_b, all.lanes, lane),
          lane_of(all.from_a, all.lanes, lane), lane_of(all.rhs, all.lanes, lane)};
}

/// Random entries; each row's diagonal is 0.1 more than 1.1 times the rest of the row. Couplings of
/// the boundary are NaN: nobody may read them.
Systems random_systems(const Mesh& mesh, int lanes, unsigned seed, bool symmetric) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> entry(-1.0, 1.0);
  const std::size_t cells = size(mesh.cells(), lanes);
  const std::size_t faces = size(mesh.faces(), lanes);
  Systems s{lanes, std::vector<double>(cells, 0.1), std::vector<double>(faces, std::nan("")),
            std::vector<double>(faces, std::nan("")), std::vector<double>(cells)};
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] < 0) {
      continue;
    }
    for (int lane = 0; lane < lanes; ++lane) {
      const std::size_t i = size(f, lanes) + lane;
      s.from_b[i] = entry(random);
      s.from_a[i] = symmetric ? s.from_b[i] : entry(random);
      s.diagonal[size(mesh.cell_a[f], lanes) + lane] += 1.1 * std::abs(s.from_b[i]);
      s.diagonal[size(mesh.cell_b[f], lanes) + lane] += 1.1 * std::abs(s.from_a[i]);
    }
  }
  for (double& x : s.rhs) {
    x = entry(random);
  }
  return s;
}

/// Three kinds of mesh; rings and layers of a container, shells and sectors of the others, also
/// many and few; one cell.
std::vector<Mesh> meshes_of_all_kinds() {
  const PrismShape prism{.height_m = 1.0, .base_width_m = 2.0, .top_width_m = 0, .length_m = 5};
  PrismShape whole = prism;
  whole.full_section = true;
  std::vector<Mesh> all;
  all.push_back(make_prism(prism, {10, 11}));
  all.push_back(make_prism(whole, {5, 6}));
  all.push_back(make_mound({.height_m = 1.0, .base_diameter_m = 2.0}, {5, 6}));
  all.push_back(make_container({1.0, 1.0, 4.0}, 8, 12));
  all.push_back(make_container({1.0, 1.0, 4.0}, 1, 30));
  all.push_back(make_lump({1.0, 1.0, 1.0, 1.0}));
  return all;
}

template <int lanes> std::vector<double> solution(LaneLu<lanes>& solver, const Systems& s) {
  std::vector<double> x = s.rhs;
  solver.factor(s.diagonal.data(), s.from_b.data(), s.from_a.data());
  solver.solve(x.data());
  return x;
}

template <int lanes> std::vector<double> solution(LaneCholesky<lanes>& solver, const Systems& s) {
  std::vector<double> x = s.rhs;
  solver.factor(s.diagonal.data(), s.from_b.data());
  solver.solve(x.data());
  return x;
}

std::vector<double> klu_solution(const Mesh& mesh, const Systems& one) {
  NeighbourLu solver(mesh);
  std::vector<double> x = one.rhs;
  EXPECT_TRUE(solver.factor(one.diagonal, one.from_b, one.from_a));
  solver.solve(x);
  return x;
}

std::vector<double> dense_solution(const Mesh& mesh, const Systems& one) {
  Eigen::MatrixXd matrix =
      Eigen::Map<const Eigen::VectorXd>(one.diagonal.data(), std::ssize(one.diagonal)).asDiagonal();
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      matrix(mesh.cell_a[f], mesh.cell_b[f]) = one.from_b[f];
      matrix(mesh.cell_b[f], mesh.cell_a[f]) = one.from_b[f];
    }
  }
  const Eigen::VectorXd x =
      matrix.llt().solve(Eigen::Map<const Eigen::VectorXd>(one.rhs.data(), std::ssize(one.rhs)));
  return {x.begin(), x.end()};
}

/// Largest difference over the largest entry.
double difference(const std::vector<double>& x, const std::vector<double>& wanted) {
  double most = 0.0;
  double scale = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    // NaN must not get lost in the maximum.
    most = std::isnan(x[i]) ? HUGE_VAL : std::max(most, std::abs(x[i] - wanted[i]));
    scale = std::max(scale, std::abs(wanted[i]));
    if (most == HUGE_VAL) {
      break;
    }
  }
  return most / scale;
}

template <class Solver> struct Case;
template <int n> struct Case<LaneLu<n>> {
  static constexpr int lanes = n;
  static constexpr bool symmetric = false;
  static std::vector<double> reference(const Mesh& mesh, const Systems& one) {
    return klu_solution(mesh, one);
  }
};
template <int n> struct Case<LaneCholesky<n>> {
  static constexpr int lanes = n;
  static constexpr bool symmetric = true;
  static std::vector<double> reference(const Mesh& mesh, const Systems& one) {
    return dense_solution(mesh, one);
  }
};

template <class Solver> class LaneSolversReference : public testing::Test {};
using Solvers = testing::Types<LaneLu<1>, LaneLu<8>, LaneCholesky<1>, LaneCholesky<8>>;
TYPED_TEST_SUITE(LaneSolversReference, Solvers);

TYPED_TEST(LaneSolversReference, EveryLaneEqualsTheSolverOfOne) {
  // Both solvers lose about eps times the condition number; with a diagonal that is 1.1 times the
  // rest of its row the latter is at most some hundreds: 400 * 2e-16 is below 1e-12.
  constexpr double tolerance = 1e-12;
  using C = Case<TypeParam>;
  for (const Mesh& mesh : meshes_of_all_kinds()) {
    TypeParam solver(mesh);
    for (unsigned seed = 1; seed <= 3; ++seed) {
      const Systems all = random_systems(mesh, C::lanes, seed, C::symmetric);
      const std::vector<double> x = solution(solver, all);
      for (int lane = 0; lane < C::lanes; ++lane) {
        EXPECT_LT(difference(lane_of(x, C::lanes, lane), C::reference(mesh, lane_of(all, lane))),
                  tolerance)
            << mesh.cells() << " cells, seed " << seed << ", lane " << lane;
      }
    }
  }
}

TYPED_TEST(LaneSolversReference, OneFactorSolvesSeveralRightHandSides) {
  using C = Case<TypeParam>;
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 4, 6);
  TypeParam solver(mesh);
  const Systems all = random_systems(mesh, C::lanes, 7, C::symmetric);
  const std::vector<double> once = solution(solver, all);
  std::vector<double> twice = all.rhs;
  for (double& x : twice) {
    x *= 2.0;
  }
  solver.solve(twice.data());
  for (std::size_t i = 0; i < once.size(); ++i) {
    EXPECT_DOUBLE_EQ(twice[i], 2.0 * once[i]); // doubling is exact in every operation
  }
}

template <int lanes> void two_at_once_equal_one_after_the_other() {
  for (const Mesh& mesh : meshes_of_all_kinds()) {
    LaneLu<lanes> solver(mesh);
    const Systems one = random_systems(mesh, lanes, 1, false);
    const std::vector<double> wanted_x = solution(solver, one);
    std::vector<double> y = random_systems(mesh, lanes, 2, false).rhs;
    std::vector<double> wanted_y = y;
    solver.solve(wanted_y.data());
    std::vector<double> x = one.rhs;
    solver.solve(x.data(), y.data());
    EXPECT_TRUE(tests::same_bits(x, wanted_x)) << mesh.cells() << " cells";
    EXPECT_TRUE(tests::same_bits(y, wanted_y)) << mesh.cells() << " cells";
  }
}

TEST(LaneSolversReference, TwoRightHandSidesAtOnceEqualOneAfterTheOther) {
  two_at_once_equal_one_after_the_other<1>();
  two_at_once_equal_one_after_the_other<8>();
}

TEST(EliminationPlans, AreSharedByMeshesOfTheSameFaces) {
  const auto plan = elimination_plan(make_container({1.0, 1.0, 4.0}, 4, 6), 8);
  EXPECT_EQ(plan,
            elimination_plan(make_container({2.0, 3.0, 5.0}, 4, 6), 8)); // only its size differs
  EXPECT_NE(plan, elimination_plan(make_container({1.0, 1.0, 4.0}, 6, 4), 8));
  EXPECT_NE(plan, elimination_plan(make_container({1.0, 1.0, 4.0}, 4, 6), 1));
  for (int layers = 1; layers <= 40; ++layers) { // more than are kept
    const auto other = elimination_plan(make_container({1.0, 1.0, 4.0}, 2, layers), 1);
    EXPECT_EQ(other->pivots.size(), 2U * static_cast<std::size_t>(layers));
  }
  EXPECT_EQ(plan->pivots.size(), 24U); // who uses one keeps it
}

TYPED_TEST(LaneSolversReference, MovedSolverStillSolves) {
  using C = Case<TypeParam>;
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 4, 6);
  const Systems all = random_systems(mesh, C::lanes, 7, C::symmetric);
  TypeParam first(mesh);
  const std::vector<double> wanted = solution(first, all);
  TypeParam second(std::move(first));
  std::vector<double> x = all.rhs;
  second.solve(x.data());
  EXPECT_TRUE(tests::same_bits(x, wanted));
}

TYPED_TEST(LaneSolversReference, TwoFacesBetweenTheSameCellsAreRefused) {
  Mesh mesh = make_container({1.0, 1.0, 4.0}, 1, 2);
  const auto inner = static_cast<std::size_t>(
      std::find_if(mesh.cell_b.begin(), mesh.cell_b.end(), [](int b) { return b >= 0; }) -
      mesh.cell_b.begin());
  const int a = mesh.cell_a[inner];
  const int b = mesh.cell_b[inner];
  mesh.cell_a.push_back(b);
  mesh.cell_b.push_back(a);
  EXPECT_THROW(TypeParam{mesh}, std::logic_error);
}

template <class Solver> class LaneIndependenceReference : public testing::Test {};
using Wide = testing::Types<LaneLu<8>, LaneCholesky<8>>;
TYPED_TEST_SUITE(LaneIndependenceReference, Wide);

/// Puts lane `lane` of `from` into `to`.
void copy_lane(const Systems& from, Systems& to, int lane) {
  const auto copy = [&](const std::vector<double>& a, std::vector<double>& b) {
    for (auto i = static_cast<std::size_t>(lane); i < a.size(); i += from.lanes) {
      b[i] = a[i];
    }
  };
  copy(from.diagonal, to.diagonal);
  copy(from.from_b, to.from_b);
  copy(from.from_a, to.from_a);
  copy(from.rhs, to.rhs);
}

TYPED_TEST(LaneIndependenceReference, LaneHasTheSameBitsWhateverItsNeighboursHold) {
  using C = Case<TypeParam>;
  for (const Mesh& mesh : meshes_of_all_kinds()) {
    TypeParam solver(mesh);
    const Systems all = random_systems(mesh, C::lanes, 1, C::symmetric);
    const std::vector<double> x = solution(solver, all);
    for (int lane = 0; lane < C::lanes; ++lane) {
      Systems others = random_systems(mesh, C::lanes, 2, C::symmetric);
      Systems broken = others;
      std::fill(broken.diagonal.begin(), broken.diagonal.end(), std::nan(""));
      Systems zero = others;
      std::fill(zero.diagonal.begin(), zero.diagonal.end(), 0.0);
      for (Systems* s : {&others, &broken, &zero}) {
        copy_lane(all, *s, lane);
        EXPECT_TRUE(tests::same_bits(lane_of(solution(solver, *s), C::lanes, lane),
                                     lane_of(x, C::lanes, lane)))
            << mesh.cells() << " cells, lane " << lane;
      }
    }
  }
}

TYPED_TEST(LaneIndependenceReference, ZeroPivotSpoilsItsOwnLaneAlone) {
  using C = Case<TypeParam>;
  // Every row adds up to zero and every matrix entry is a small integer: with the chain of cells
  // that a container of one ring is, each pivot but the last is 1 or 2 - 1 and the last one is
  // exactly zero.
  const Mesh mesh = make_container({1.0, 1.0, 4.0}, 1, 4);
  constexpr int singular_lane = 3;
  Systems s = random_systems(mesh, C::lanes, 1, C::symmetric);
  TypeParam solver(mesh);
  const std::vector<double> before = solution(solver, s);
  for (std::size_t cell = 0; cell < mesh.cells(); ++cell) {
    s.diagonal[size(cell, C::lanes) + singular_lane] = 0.0;
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    s.from_b[size(f, C::lanes) + singular_lane] = -1.0;
    s.from_a[size(f, C::lanes) + singular_lane] = -1.0;
    if (mesh.cell_b[f] >= 0) {
      s.diagonal[size(mesh.cell_a[f], C::lanes) + singular_lane] += 1.0;
      s.diagonal[size(mesh.cell_b[f], C::lanes) + singular_lane] += 1.0;
    }
  }
  const std::vector<double> x = solution(solver, s);
  for (int lane = 0; lane < C::lanes; ++lane) {
    const std::vector<double> one = lane_of(x, C::lanes, lane);
    if (lane == singular_lane) {
      EXPECT_TRUE(std::any_of(one.begin(), one.end(), [](double v) { return !std::isfinite(v); }));
    } else {
      EXPECT_TRUE(tests::same_bits(one, lane_of(before, C::lanes, lane))) << "lane " << lane;
    }
  }
}

} // namespace
} // namespace heapcast::engine
