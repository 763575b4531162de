#include "engine/integrator.hpp"
#include "tests/engine/diffusion_system.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <numeric>
#include <span>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

using tests::conductances;
using tests::DiffusionSystem;
using tests::held_at_zero;

Mesh column(int layers) {
  return make_container({.fill_height_m = 1.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 3, layers);
}

StepControl control(double first_s, double largest_s, double fixed_s = 0.0) {
  return {.scheme = Scheme::predictor_corrector,
          .first_step_s = first_s,
          .largest_step_s = largest_s,
          .smallest_step_s = 1e-12,
          .fixed_step_s = fixed_s};
}

/// Two amounts a cell, a and b. The level (a - b/2) / V drives both from cell to cell and out, b at
/// 0.8 of the conductance of a, and their rates swing with the time. a is fed besides.
/// Dimensionless.
class Pair : public OdeSystem {
public:
  enum class Told { all, block_alone, wrong };

  Pair(const Mesh& mesh, double conductance, double allowed_error, Told told = Told::all)
      : mesh_(mesh), g_(conductances(mesh, conductance, {.surface = 1.0, .wall = 0.5})),
        cells_(mesh.cells()), told_(told), scale_(2 * cells_ + 2, allowed_error), level_(cells_) {
    scale_[2 * cells_] = scale_[2 * cells_ + 1] = std::numeric_limits<double>::infinity();
  }

  /// The level outside at a time, which alone drives; is the integrator told of it?
  void drive_by(std::function<double(double)> outside, bool told) {
    feed_ = 0.0;
    outside_ = std::move(outside);
    told_drive_ = told;
  }

  [[nodiscard]] std::vector<double> start() const {
    std::vector<double> y(size(), 0.0);
    for (std::size_t i = 0; i < cells_; ++i) {
      y[i] = mesh_.volume_m3[i] * (3.0 + std::sin(7.0 * mesh_.z_m[i]));
      y[cells_ + i] = 0.4 * mesh_.volume_m3[i];
    }
    return y;
  }
  /// Sum of a or b, cells and sink.
  [[nodiscard]] double sum(const std::vector<double>& y, std::size_t which) const {
    const auto first = y.begin() + static_cast<std::ptrdiff_t>(which * cells_);
    return std::accumulate(first, first + static_cast<std::ptrdiff_t>(cells_),
                           y[2 * cells_ + which]);
  }

  [[nodiscard]] std::size_t size() const override { return scale_.size(); }
  void rates(double t, std::span<const double> y, std::span<double> dydt) override {
    std::fill(dydt.begin(), dydt.end(), 0.0);
    now_ = t;
    for (std::size_t i = 0; i < cells_; ++i) {
      level_[i] = (y[i] - 0.5 * y[cells_ + i]) / mesh_.volume_m3[i];
    }
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
      const int b = mesh_.cell_b[f];
      const double beyond = b >= 0 ? level_[static_cast<std::size_t>(b)] : outside_(t);
      move(f, flux(f, level_[a] - beyond), dydt);
    }
    for (std::size_t i = 0; i < cells_; ++i) {
      dydt[i] += feed_ * mesh_.volume_m3[i] * std::cos(t);
    }
  }
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
    return scale_;
  }
  [[nodiscard]] const Mesh* stiff_mesh() const override { return &mesh_; }
  [[nodiscard]] std::vector<StiffLayout> stiff_layout() const override {
    StiffLayout layout{.block = {.first = 0, .sink = 2 * cells_}, .follower = {}};
    if (told_ != Told::block_alone) {
      layout.follower = {.first = cells_, .sink = 2 * cells_ + 1};
    }
    return {layout};
  }
  void stiff_blocks(std::span<StiffBlock> blocks) override {
    StiffBlock& block = blocks.front();
    const bool follows = !block.weight.empty();
    const double wrong = told_ == Told::wrong ? 1.7 : 1.0;
    // The drop's square is left out: derivatives need not be exact.
    fill(block.level, follows ? wrong * (1.0 - 0.5 * 0.8) : 1.0);
    if (follows) {
      fill(block.follower, 0.8 / wrong);
      std::fill(block.weight.begin(), block.weight.end(), -0.5);
    }
  }

  double drive(std::span<double> slope, std::span<double> bend) override {
    if (!told_drive_) {
      return 1.0;
    }
    std::fill(slope.begin(), slope.end(), 0.0);
    std::fill(bend.begin(), bend.end(), 0.0);
    const double until = std::floor(now_ + 1e-9) + 1.0;
    const double ahead = until - now_;
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      if (mesh_.cell_b[f] < 0) {
        const double inside = level_[static_cast<std::size_t>(mesh_.cell_a[f])];
        const auto at = [&](double t) { return flux(f, inside - outside_(t)); };
        const double first = at(now_);
        const double last = at(until);
        const double half = at(now_ + 0.5 * ahead);
        move(f, (last - first) / ahead, slope);
        move(f, (2.0 * (first + last) - 4.0 * half) / (ahead * ahead), bend);
      }
    }
    return ahead;
  }

private:
  [[nodiscard]] double flux(std::size_t f, double drop) const {
    return g_[f] * (drop + 0.05 * drop * std::abs(drop));
  }
  void move(std::size_t f, double flux, std::span<double> rates) const {
    const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
    const bool inner = mesh_.cell_b[f] >= 0;
    const auto b = inner ? static_cast<std::size_t>(mesh_.cell_b[f]) : 2 * cells_;
    rates[a] -= flux;
    rates[b] += flux;
    rates[cells_ + a] -= 0.8 * flux;
    rates[inner ? cells_ + b : 2 * cells_ + 1] += 0.8 * flux;
  }
  void fill(NeighbourMatrix& matrix, double factor) const {
    std::fill(matrix.diagonal.begin(), matrix.diagonal.end(), 0.0);
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
      const double from_a = factor * g_[f] / mesh_.volume_m3[a];
      matrix.diagonal[a] -= from_a;
      if (mesh_.cell_b[f] >= 0) {
        const auto b = static_cast<std::size_t>(mesh_.cell_b[f]);
        matrix.from_a[f] = from_a;
        matrix.from_b[f] = factor * g_[f] / mesh_.volume_m3[b];
        matrix.diagonal[b] -= matrix.from_b[f];
      }
    }
  }

  const Mesh& mesh_;
  std::vector<double> g_;
  std::size_t cells_;
  Told told_;
  std::vector<double> scale_, level_;
  std::function<double(double)> outside_ = [](double t) { return std::sin(t); };
  double feed_ = 1.0;
  bool told_drive_ = false;
  double now_ = 0.0;
};

struct End {
  std::vector<double> y;
  long steps = 0;
};

End run(OdeSystem& system, std::vector<double> y, const StepControl& how, double end) {
  Integrator integrator(system, how);
  integrator.advance(y, 0.0, end);
  return {std::move(y), integrator.steps()};
}

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double largest = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
  }
  return largest;
}

std::vector<double> cells_of(std::vector<double> y) {
  y.pop_back();
  return y;
}

TEST(PredictorCorrector, TheRoughestStateDiesAtOnceFarBeyondTheExplicitLimit) {
  const Mesh mesh = column(20);
  DiffusionSystem system(mesh, conductances(mesh, 1.0, {.surface = held_at_zero}));
  std::vector<double> y(mesh.cells() + 1, 0.0);
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    y[i] = i % 2 == 0 ? 1.0 : -1.0;
  }
  // Cells of 5 cm and diffusivity 1: the fastest modes die within 1e-3, explicit steps end there.
  const End end = run(system, y, control(1.0, 1.0, 1.0), 4.0);
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    EXPECT_LT(std::abs(end.y[i]), 2e-2);
  }
}

TEST(PredictorCorrector, WhatRelaxesWithinTheBlockIsSeenByTheErrorControl) {
  // Linear and undisturbed: the block explains all, and predictor and corrector agree whatever the
  // step. What is left is the error of the block's own formula.
  const Mesh mesh = column(20);
  const auto g = conductances(mesh, 1.0, {.surface = held_at_zero});
  const std::vector<double> start = [&] {
    std::vector<double> y(mesh.cells() + 1, 1.0);
    y.back() = 0.0;
    return y;
  }();
  DiffusionSystem tight(mesh, g, {}, 1e-10);
  const StepControl by_rosenbrock{
      .first_step_s = 1e-6, .largest_step_s = 1.0, .smallest_step_s = 1e-12};
  const End exact = run(tight, start, by_rosenbrock, 0.3);
  double last_error = 1.0;
  long last_steps = 0;
  for (const double allowed : {1e-3, 1e-4, 1e-5}) {
    DiffusionSystem system(mesh, g, {}, allowed);
    const End end = run(system, start, control(1e-5, 1.0), 0.3);
    const double error = largest_difference(cells_of(end.y), cells_of(exact.y));
    EXPECT_LT(error, 3.0 * allowed);
    EXPECT_LT(error, 0.5 * last_error);
    EXPECT_GT(end.steps, last_steps);
    last_error = error;
    last_steps = end.steps;
  }
}

TEST(PredictorCorrector, BlockWithAFollowerIsOfOrderTwo) {
  const Mesh mesh = column(5);
  Pair tight(mesh, 0.3, 1e-11);
  const End exact =
      run(tight, tight.start(),
          {.first_step_s = 1e-6, .largest_step_s = 0.01, .smallest_step_s = 1e-12}, 2.0);
  std::vector<double> error;
  for (const double step : {0.04, 0.02, 0.01}) {
    Pair system(mesh, 0.3, 1.0);
    error.push_back(
        largest_difference(run(system, system.start(), control(step, step, step), 2.0).y, exact.y));
  }
  EXPECT_GT(error[2], 0.0);
  EXPECT_NEAR(std::log2(error[0] / error[1]), 2.0, 0.3);
  EXPECT_NEAR(std::log2(error[1] / error[2]), 2.0, 0.3);
}

TEST(PredictorCorrector, FinerCellsTakeNoMoreStepsWhenTheFollowerIsToldOf) {
  const auto steps = [](int cells, Pair::Told told) {
    const Mesh mesh = column(cells);
    Pair system(mesh, 1.0, 1e-4 / cells, told);
    return run(system, system.start(), control(1e-3, 0.1), 10.0).steps;
  };
  const long coarse = steps(5, Pair::Told::all);
  EXPECT_LT(steps(40, Pair::Told::all), 1.3 * static_cast<double>(coarse));
  EXPECT_GT(steps(40, Pair::Told::block_alone), 3 * coarse);
}

TEST(PredictorCorrector, BlockFollowerAndSinksKeepTheirSumsWithWrongDerivatives) {
  const Mesh mesh = column(10);
  for (const double fixed : {0.0, 2e-4}) {
    Pair system(mesh, 1.0, 1e-5, Pair::Told::wrong);
    const std::vector<double> start = system.start();
    const End end = run(system, start, control(1e-3, 0.1, fixed), 0.5);
    // a is fed with the integral of cos over its volume of 1.
    const double fed = std::sin(0.5);
    EXPECT_NEAR(system.sum(end.y, 0), system.sum(start, 0) + fed, fixed > 0.0 ? 1e-7 : 1e-4);
    EXPECT_NEAR(system.sum(end.y, 1), system.sum(start, 1), 1e-12);
    EXPECT_GT(std::abs(end.y[2 * mesh.cells() + 1]), 0.1); // something did move
  }
}

/// A level outside with corners at whole times: rising by 1 and falling again.
double zigzag(double t) {
  const double in_period = t - 2.0 * std::floor(0.5 * t);
  return in_period < 1.0 ? in_period : 2.0 - in_period;
}

/// To time 6, corner by corner.
End run_by_corners(Pair& system, const StepControl& how) {
  std::vector<double> y = system.start();
  Integrator integrator(system, how);
  for (int corner = 0; corner < 6; ++corner) {
    integrator.advance(y, corner, corner + 1);
  }
  return {std::move(y), integrator.steps() + integrator.rejected()};
}

TEST(PredictorCorrector, CornersOfADriveThatItIsToldOfCostNoSteps) {
  const Mesh mesh = column(10);
  const auto tries = [&](const std::function<double(double)>& outside, bool told) {
    Pair system(mesh, 1.0, 1e-3);
    system.drive_by(outside, told);
    return run_by_corners(system, control(1e-3, 0.25)).steps;
  };
  const auto corners = [](double t) { return 3.0 * zigzag(t); };
  const long steady = tries([](double /*t*/) { return 1.0; }, false);
  EXPECT_GE(steady, 24); // six times four steps of the largest size
  EXPECT_LE(tries(corners, true), steady + 3);
  EXPECT_GT(tries(corners, false), steady + 15); // six corners, tried again and gone on from small
}

TEST(PredictorCorrector, BendOfTheDriveMovesWhatItsIntegralSays) {
  // The outside rises and falls within one step: the trapezoid of its ends sees nothing of it.
  const Mesh mesh = column(1);
  const auto outside = [](double t) { return 8.0 * t * (1.0 - t); };
  const auto left = [&](bool told) {
    Pair system(mesh, 0.05, 1.0);
    system.drive_by(outside, told);
    return run(system, system.start(), control(1.0, 1.0, 1.0), 1.0).y.back();
  };
  Pair tight(mesh, 0.05, 1e-11);
  tight.drive_by(outside, false);
  const double exact =
      run(tight, tight.start(),
          {.first_step_s = 1e-6, .largest_step_s = 0.01, .smallest_step_s = 1e-12}, 1.0)
          .y.back();
  EXPECT_LT(std::abs(left(true) - exact), 0.1 * std::abs(left(false) - exact));
}

TEST(PredictorCorrector, DriveWithABendKeepsTheSums) {
  const Mesh mesh = column(10);
  for (const double fixed : {0.0, 0.25}) {
    Pair system(mesh, 1.0, 1e-3, Pair::Told::wrong);
    system.drive_by([](double t) { return zigzag(t) * zigzag(t); }, true);
    const std::vector<double> start = system.start();
    const End end = run_by_corners(system, control(1e-3, 0.25, fixed));
    EXPECT_NEAR(system.sum(end.y, 1), system.sum(start, 1), 1e-12);
    EXPECT_GT(std::abs(end.y[2 * mesh.cells() + 1]), 0.1); // something did move
  }
}

} // namespace
} // namespace heapcast::engine
