#include "engine/potential_flow.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

/// A flow problem on a mesh, closed all round and without drive or source until told otherwise.
struct Problem {
  const Mesh& mesh;
  std::vector<double> conductance, drive, source;

  explicit Problem(const Mesh& m)
      : mesh(m), conductance(m.faces(), 0.0), drive(m.faces(), 0.0), source(m.cells(), 0.0) {}

  /// Conductance `mobility` times transmissibility inside and on the boundary kinds named.
  void open(double mobility, const std::vector<FaceKind>& kinds) {
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      if (mesh.kind[f] == FaceKind::inner ||
          std::find(kinds.begin(), kinds.end(), mesh.kind[f]) != kinds.end()) {
        conductance[f] = mobility * mesh.transmissibility_m(f, {});
      }
    }
  }
  /// Multiplies each conductance by a random factor between 1/spread and spread.
  void roughen(double spread, unsigned seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> power(-1.0, 1.0);
    for (double& g : conductance) {
      g *= std::pow(spread, power(random));
    }
  }
  void drive_at_random(unsigned seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> entry(-1.0, 1.0);
    for (double& d : drive) {
      d = entry(random);
    }
  }

  [[nodiscard]] std::vector<double> solve(PotentialFlow<1>& flow) const {
    std::vector<double> flux(mesh.faces());
    flow.solve(conductance, drive, source, flux);
    return flux;
  }
  [[nodiscard]] std::vector<double> solve() const {
    PotentialFlow<1> flow(mesh);
    return solve(flow);
  }

  /// For each cell what flows out less its source.
  [[nodiscard]] std::vector<double> imbalance(const std::vector<double>& flux) const {
    std::vector<double> net(mesh.cells());
    for (std::size_t i = 0; i < net.size(); ++i) {
      net[i] = -source[i];
    }
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      net[static_cast<std::size_t>(mesh.cell_a[f])] += flux[f];
      if (mesh.cell_b[f] >= 0) {
        net[static_cast<std::size_t>(mesh.cell_b[f])] -= flux[f];
      }
    }
    return net;
  }

  /// Norm of the imbalance over that of the right-hand side, source less the drive's own flux.
  [[nodiscard]] double relative_residual(const std::vector<double>& flux) const {
    std::vector<double> driven(mesh.faces());
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      driven[f] = conductance[f] * drive[f];
    }
    return norm(imbalance(flux)) / norm(imbalance(driven));
  }

  static double norm(const std::vector<double>& values) {
    double square = 0.0;
    for (const double x : values) {
      square += x * x;
    }
    return std::sqrt(square);
  }
};

// What the header promises.
constexpr double residual_tolerance = 1e-10;

Mesh container() {
  return make_container({.fill_height_m = 2.0, .plan_area_m2 = 1.5, .perimeter_m = 5.0}, 4, 6);
}

Mesh section() {
  return make_prism({.height_m = 1.2, .base_width_m = 2.4, .top_width_m = 0.0, .length_m = 10.0},
                    {});
}

TEST(PotentialFlow, PressureAcrossAColumnDrivesMobilityTimesAreaTimesGradient) {
  const Mesh mesh = container();
  Problem problem(mesh);
  constexpr double mobility = 3e-5;
  constexpr double pressure = 40.0;
  problem.open(mobility, {FaceKind::ground, FaceKind::surface});
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    problem.drive[f] = mesh.kind[f] == FaceKind::ground ? -pressure : 0.0; // the outer p, negated
  }
  const auto flux = problem.solve();
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    // Up through every level: with the face's own sign, out of the ground face it is negative.
    const double wanted = mobility * mesh.area_z_m2[f] * pressure / 2.0;
    EXPECT_NEAR(flux[f], wanted, 1e-9 * mobility * 1.5 * pressure / 2.0); // 10 residuals
  }
}

TEST(PotentialFlow, UniformBuoyancyInAnOpenColumnDrivesMobilityTimesAreaTimesDrive) {
  const Mesh mesh = container();
  Problem problem(mesh);
  constexpr double mobility = 3e-5;
  constexpr double lift = 1.7; // drive per metre of rise
  problem.open(mobility, {FaceKind::ground, FaceKind::surface});
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    problem.drive[f] = lift * mesh.rise_m[f];
  }
  const auto flux = problem.solve();
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    EXPECT_NEAR(flux[f], mobility * mesh.area_z_m2[f] * lift, 1e-9 * mobility * 1.5 * lift);
  }
}

TEST(PotentialFlow, ResistancesInARowAddUp) {
  const Mesh mesh = make_container({2.0, 1.5, 5.0}, 1, 5);
  Problem problem(mesh);
  problem.open(1.0, {FaceKind::ground, FaceKind::surface});
  problem.roughen(100.0, 11);
  double resistance = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const bool wall = mesh.kind[f] == FaceKind::wall;
    resistance += wall ? 0.0 : 1.0 / problem.conductance[f];
    problem.drive[f] = mesh.kind[f] == FaceKind::ground ? -7.0 : 0.0;
  }
  const auto flux = problem.solve();
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const double direction = mesh.kind[f] == FaceKind::wall     ? 0.0
                             : mesh.kind[f] == FaceKind::ground ? -1.0
                                                                : 1.0;
    EXPECT_NEAR(flux[f], direction * 7.0 / resistance, 1e-8 * 7.0 / resistance);
  }
}

TEST(PotentialFlow, UnevenBuoyancyInAClosedBoxCirculatesAndBalancesInEachCell) {
  const Mesh mesh = container();
  Problem problem(mesh);
  problem.open(2.0, {});
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    // Lighter towards the axis.
    const double x = mesh.x_m[static_cast<std::size_t>(mesh.cell_a[f])];
    problem.drive[f] = mesh.rise_m[f] * (1.0 - x);
  }
  const auto flux = problem.solve();
  EXPECT_LE(problem.relative_residual(flux), residual_tolerance);
  double largest = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    largest = std::max(largest, std::abs(flux[f]));
    EXPECT_TRUE(mesh.cell_b[f] >= 0 || flux[f] == 0.0);
  }
  // It rises along the axis: the drive differs by about half over the two metres.
  EXPECT_GT(largest, 0.01);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const auto& axis = mesh.stacks.front();
    const bool inner_column = std::find(axis.begin(), axis.end(), mesh.cell_a[f]) != axis.end() &&
                              std::find(axis.begin(), axis.end(), mesh.cell_b[f]) != axis.end();
    EXPECT_TRUE(!inner_column || flux[f] > 0.0);
  }
}

TEST(PotentialFlow, UniformBuoyancyInAClosedBodyMovesNothing) {
  // The drive is the difference of a height between cells: the potential takes it up whole.
  const Mesh mesh = section();
  Problem problem(mesh);
  problem.open(2.0, {});
  double scale = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    problem.drive[f] = mesh.rise_m[f];
    scale = std::max(scale, problem.conductance[f] * std::abs(problem.drive[f]));
  }
  for (const double q : problem.solve()) {
    EXPECT_NEAR(q, 0.0, 1e-8 * scale); // 100 residuals: the narrow cells are badly conditioned
  }
}

TEST(PotentialFlow, SourcesLeaveThroughTheOpenBoundary) {
  for (const Mesh& mesh : {container(), section()}) {
    Problem problem(mesh);
    problem.open(1.0, {FaceKind::surface});
    problem.roughen(10.0, 3);
    double all = 0.0;
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      problem.source[i] = mesh.volume_m3[i] * (1.0 + mesh.z_m[i]);
      all += problem.source[i];
    }
    const auto flux = problem.solve();
    double out = 0.0;
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      out += mesh.cell_b[f] < 0 ? flux[f] : 0.0;
    }
    // Beside the residual, each cell keeps 1e-12 of the largest conductance times its potential.
    // The largest conductance, between slender cells, is some hundred times that of the way out of
    // the core, and some hundred cells do it.
    EXPECT_NEAR(out, all, 1e-8 * all) << mesh.cells() << " cells";
  }
}

TEST(PotentialFlow, SealedBodyPassesFromSourceToSink) {
  // The potential is free by a constant; flows are not.
  const Mesh mesh = section();
  Problem problem(mesh);
  problem.open(1.0, {});
  problem.source.front() = 1.0;
  problem.source.back() = -1.0;
  const auto flux = problem.solve();
  EXPECT_LE(problem.relative_residual(flux), residual_tolerance);
  double out_of_core = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    out_of_core += mesh.cell_a[f] == 0 ? flux[f] : 0.0;
  }
  EXPECT_NEAR(out_of_core, 1.0, 1e-9);
}

TEST(PotentialFlow, ShutBodyHasNoFlow) {
  const Mesh mesh = container();
  Problem problem(mesh);
  problem.drive_at_random(1);
  for (const double q : problem.solve()) {
    EXPECT_EQ(q, 0.0);
  }
}

TEST(PotentialFlow, ResidualKeepsItsPromiseForRoughConductances) {
  for (const Mesh& mesh : {container(), section()}) {
    for (unsigned seed = 1; seed <= 20; ++seed) {
      for (const double spread : {1.0, 10.0, 1e3}) {
        Problem problem(mesh);
        problem.open(1e-5, seed % 2 == 0 ? std::vector<FaceKind>{FaceKind::surface}
                                         : std::vector<FaceKind>{});
        problem.roughen(spread, seed);
        problem.drive_at_random(seed + 100);
        EXPECT_LE(problem.relative_residual(problem.solve()), residual_tolerance)
            << mesh.cells() << " cells, seed " << seed << ", spread " << spread;
      }
    }
  }
}

TEST(PotentialFlow, ResultDoesNotDependOnEarlierConductances) {
  const Mesh mesh = section();
  for (const double change : {1.0, 1.002, 1.02, 1.5, 1e3}) { // same matrix to useless factor
    Problem earlier(mesh);
    earlier.open(1.0, {FaceKind::surface});
    earlier.drive_at_random(5);
    Problem later(mesh);
    later.open(1.0, {FaceKind::surface});
    later.roughen(change, 9);
    later.drive_at_random(6);

    PotentialFlow<1> flow(mesh);
    static_cast<void>(earlier.solve(flow));
    const auto after = later.solve(flow);
    EXPECT_LE(later.relative_residual(after), residual_tolerance) << "change " << change;
    const auto fresh = later.solve();
    const double scale = std::abs(*std::max_element(
        fresh.begin(), fresh.end(), [](double a, double b) { return std::abs(a) < std::abs(b); }));
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      // Both residuals are at most 1e-10, amplified by the condition of some hundred cells.
      EXPECT_NEAR(after[f], fresh[f], 1e-8 * scale) << "change " << change;
    }
  }
}

TEST(PotentialFlow, HandsOnWhatIsNotANumberAndRecovers) {
  const Mesh mesh = container();
  Problem bad(mesh);
  bad.open(1.0, {FaceKind::surface});
  bad.drive[0] = std::nan("");
  Problem good(mesh);
  good.open(1.0, {FaceKind::surface});
  good.drive_at_random(2);

  PotentialFlow<1> flow(mesh);
  for (const double flux : bad.solve(flow)) {
    EXPECT_TRUE(std::isnan(flux)); // the step control turns such a trial down
  }
  EXPECT_LE(good.relative_residual(good.solve(flow)), residual_tolerance);
}

TEST(PotentialFlow, MovedSolverStillSolves) {
  const Mesh mesh = container();
  Problem problem(mesh);
  problem.open(1.0, {FaceKind::surface});
  problem.drive_at_random(2);
  PotentialFlow<1> first(mesh);
  PotentialFlow<1> second(std::move(first));
  EXPECT_LE(problem.relative_residual(problem.solve(second)), residual_tolerance);
}

} // namespace
} // namespace heapcast::engine
