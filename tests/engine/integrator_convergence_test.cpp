// The order of the integrator in the time step.

#include "engine/integrator.hpp"
#include "tests/engine/diffusion_system.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <span>
#include <string>
#include <vector>

namespace heapcast::engine {
namespace {

using tests::conductances;
using tests::DiffusionSystem;

struct Block {
  const char* name;
  double coupling, source_slope;
};

// The Jacobian, others of its shape, a wrong sign for the reaction, and none at all.
constexpr Block blocks[] = {{"exact", 1.0, 1.0},
                            {"half the coupling", 0.5, 1.0},
                            {"twice the coupling, no reaction", 2.0, 0.0},
                            {"reaction of the wrong sign", 1.0, -1.0},
                            {"zero", 0.0, 0.0}};

/// Diffusion with a reaction that ignites and a forcing that swings, on rings and layers.
class Reacting {
public:
  Reacting()
      : mesh_(make_container({.fill_height_m = 1.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 3, 5)),
        g_(conductances(mesh_, 0.05, {.surface = 1.0, .wall = 0.2})) {}

  /// The state after one second in steps of 1/count.
  [[nodiscard]] std::vector<double> after_one_second(const Block& block, int count) const {
    DiffusionSystem system(
        mesh_, g_,
        {.value = [](double t, double y) { return std::sin(4.0 * t) + 2.0 * y / (1.0 + y * y); },
         .slope =
             [](double, double y) { return 2.0 * (1.0 - y * y) / ((1.0 + y * y) * (1.0 + y * y)); }});
    system.distort_block(block.coupling, block.source_slope);
    Integrator integrator(system, {.fixed_step_s = 1.0 / count});
    std::vector<double> y(mesh_.cells() + 1, 0.0);
    for (std::size_t i = 0; i < mesh_.cells(); ++i) {
      y[i] = 0.2 + mesh_.z_m[i];
    }
    integrator.advance(y, 0.0, 1.0);
    return y;
  }

private:
  Mesh mesh_;
  std::vector<double> g_;
};

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double largest = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
  }
  return largest;
}

TEST(IntegratorConvergence, IsOfThirdOrderWhateverTheBlock) {
  const Reacting problem;
  // With steps 32 times shorter than the finest measured, its error is 1/32000 of theirs.
  const std::vector<double> truth = problem.after_one_second(blocks[0], 256 * 32);
  for (const Block& block : blocks) {
    const double coarse = largest_difference(problem.after_one_second(block, 128), truth);
    const double fine = largest_difference(problem.after_one_second(block, 256), truth);
    const double order = std::log2(coarse / fine);
    std::printf("block %-32s error %.2e at 1/128 s, %.2e at 1/256 s: order %.2f\n", block.name,
                coarse, fine, order);
    // 3 is the order of the limit; at these steps the next term still shows.
    EXPECT_GE(order, 2.8) << block.name;
    EXPECT_LE(order, 3.5) << block.name;
    EXPECT_GT(fine, 1e-12) << block.name << ": rounding, not the step, was measured";
  }
}

TEST(IntegratorConvergence, OscillatorIsOfThirdOrder) {
  class Oscillator : public OdeSystem {
  public:
    [[nodiscard]] std::size_t size() const override { return 2; }
    void rates(double /*t_s*/, std::span<const double> y, std::span<double> dydt) override {
      dydt[0] = y[1];
      dydt[1] = -y[0];
    }
    [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
      return scale_;
    }

  private:
    std::vector<double> scale_{1.0, 1.0};
  };
  const auto error = [](int count) {
    Oscillator system;
    Integrator integrator(system, {.fixed_step_s = 1.0 / count});
    std::vector<double> y{1.0, 0.0};
    integrator.advance(y, 0.0, 1.0);
    return std::hypot(y[0] - std::cos(1.0), y[1] + std::sin(1.0));
  };
  const double order = std::log2(error(64) / error(128));
  std::printf("oscillator: error %.2e at 1/128 s, order %.2f\n", error(128), order);
  EXPECT_NEAR(order, 3.0, 0.1); // smooth, and far from rounding
}

} // namespace
} // namespace heapcast::engine
