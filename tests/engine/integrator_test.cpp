#include "engine/integrator.hpp"

#include "engine/errors.hpp"
#include "tests/engine/diffusion_system.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <numeric>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

using tests::conductances;
using tests::DiffusionSystem;
using tests::held_at_zero;

/// A system without a stiff block, given by its rates, that records what it is asked.
class FreeSystem : public OdeSystem {
public:
  using Rates = std::function<void(double, std::span<const double>, std::span<double>)>;

  FreeSystem(std::size_t size, Rates rates, double allowed_error = 1e-8)
      : rates_(std::move(rates)), scale_(size, allowed_error) {}

  [[nodiscard]] std::size_t size() const override { return scale_.size(); }
  void rates(double t_s, std::span<const double> y, std::span<double> dydt) override {
    rates_(t_s, y, dydt);
    asked_t = t_s;
    asked_y.assign(y.begin(), y.end());
  }
  void end_step(double t_s, std::span<const double> y) override {
    ends.push_back(t_s);
    asked_at_end = asked_at_end && std::abs(asked_t - t_s) <= 1e-9 * std::max(1.0, std::abs(t_s)) &&
                   std::equal(y.begin(), y.end(), asked_y.begin(), asked_y.end());
  }
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
    return scale_;
  }

  std::vector<double> ends; ///< times at which steps were accepted
  double asked_t = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> asked_y;
  bool asked_at_end = true; ///< every step ended right after its rates were asked for

private:
  Rates rates_;
  std::vector<double> scale_;
};

/// x'' = -x
FreeSystem oscillator(double allowed_error) {
  return {2,
          [](double, std::span<const double> y, std::span<double> dydt) {
            dydt[0] = y[1];
            dydt[1] = -y[0];
          },
          allowed_error};
}

constexpr StepControl unit_steps{
    .first_step_s = 1e-3, .largest_step_s = 10.0, .smallest_step_s = 1e-9};

TEST(Integrator, OscillatorReturnsAfterEachPeriodWithinTheTolerance) {
  double previous = std::numeric_limits<double>::infinity();
  for (const double allowed : {1e-4, 1e-6, 1e-8}) {
    FreeSystem system = oscillator(allowed);
    Integrator integrator(system, unit_steps);
    std::vector<double> y{1.0, 0.0};
    constexpr int periods = 5;
    integrator.advance(y, 0.0, periods * 2.0 * std::numbers::pi);
    // Nothing is damped, so the errors of the steps add up at worst; the error that is controlled
    // is that of the method of order 2, larger than the one made.
    const double error = std::hypot(y[0] - 1.0, y[1]);
    EXPECT_LE(error, allowed * static_cast<double>(integrator.steps())) << "allowed " << allowed;
    EXPECT_LT(error, 0.1 * previous); // a hundredth of the tolerance must show
    previous = error;
  }
}

TEST(Integrator, TighterToleranceTakesStepsByTheCubeRoot) {
  // The controlled error is of third order in the step: a thousandth of it takes ten times as many
  // steps, but for those that grow from the first one.
  const auto steps = [](double allowed) {
    FreeSystem system = oscillator(allowed);
    Integrator integrator(system, unit_steps);
    std::vector<double> y{1.0, 0.0};
    integrator.advance(y, 0.0, 50.0);
    return static_cast<double>(integrator.steps());
  };
  const double ratio = steps(1e-8) / steps(1e-5);
  EXPECT_GT(ratio, 8.0);
  EXPECT_LT(ratio, 12.0);
}

TEST(Integrator, InfiniteScaleLeavesAnEntryOutOfTheControl) {
  // The second entry swings a thousand times faster; only who looks at it takes small steps.
  const auto steps = [](double allowed_second) {
    class System : public FreeSystem {
    public:
      explicit System(double second)
          : FreeSystem(2,
                       [](double t, std::span<const double> y, std::span<double> dydt) {
                         dydt[0] = -y[0];
                         dydt[1] = 1000.0 * std::cos(1000.0 * t);
                       }),
            scale_{1e-4, second} {}
      [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
        return scale_;
      }

    private:
      std::vector<double> scale_;
    } system(allowed_second);
    Integrator integrator(system, unit_steps);
    std::vector<double> y{1.0, 0.0};
    integrator.advance(y, 0.0, 1.0);
    return integrator.steps();
  };
  EXPECT_GT(steps(1e-4), 20 * steps(std::numeric_limits<double>::infinity()));
}

TEST(Integrator, StepsEndExactlyAtTheEnd) {
  for (const double fixed : {0.0, 0.07}) {
    FreeSystem system = oscillator(1e-6);
    StepControl control = unit_steps;
    control.fixed_step_s = fixed;
    Integrator integrator(system, control);
    std::vector<double> y{1.0, 0.0};
    const std::vector<double> ends = {0.1, 0.7, 1.0 / 3.0 + 1.0, 1e3 / 7.0};
    double t = 0.0;
    for (const double end : ends) {
      integrator.advance(y, t, end);
      EXPECT_EQ(system.ends.back(), end);
      t = end;
    }
    EXPECT_TRUE(std::is_sorted(system.ends.begin(), system.ends.end()));
    EXPECT_EQ(std::adjacent_find(system.ends.begin(), system.ends.end()), system.ends.end());
    EXPECT_TRUE(system.asked_at_end);
    EXPECT_EQ(static_cast<long>(system.ends.size()), integrator.steps());
  }
}

TEST(Integrator, LargestStepIsKept) {
  FreeSystem system(1, [](double, std::span<const double>, std::span<double> dydt) {
    dydt[0] = 1.0; // any step would do
  });
  StepControl control = unit_steps;
  control.largest_step_s = 0.25;
  Integrator integrator(system, control);
  std::vector<double> y{0.0};
  integrator.advance(y, 0.0, 10.0);
  double before = 0.0;
  for (const double end : system.ends) {
    EXPECT_LE(end - before, 0.25 * (1.0 + 1e-12));
    before = end;
  }
  EXPECT_LT(integrator.steps(), 60); // 40 of the largest and a few that grow
  EXPECT_NEAR(y[0], 10.0, 1e-12);    // a constant rate is integrated exactly
}

TEST(Integrator, StepsGrowWithTheTimeSinceTheEvent) {
  FreeSystem system(1,
                    [](double, std::span<const double>, std::span<double> dydt) { dydt[0] = 1.0; });
  StepControl control = unit_steps;
  control.growth_after_event = 0.5;
  Integrator integrator(system, control);
  std::vector<double> y{0.0};
  integrator.advance(y, 0.0, 5.0);
  integrator.restart(5.0);
  integrator.advance(y, 5.0, 20.0);
  double before = 0.0;
  for (const double end : system.ends) {
    const double since = before < 5.0 ? before : before - 5.0;
    EXPECT_LE(end - before, (1e-3 + 0.5 * since) * (1.0 + 1e-12)) << "at " << before;
    before = end;
  }
}

TEST(Integrator, RatesAreAskedOncePerStageAndNotAgainAtTheStart) {
  FreeSystem system = oscillator(1e-6);
  Integrator integrator(system, unit_steps);
  std::vector<double> y{1.0, 0.0};
  integrator.advance(y, 0.0, 1.0);
  integrator.advance(y, 1.0, 3.0);
  // Three stages beside the first, and the rates at the end, which the next step begins with.
  EXPECT_EQ(integrator.rate_calls(), 1 + 4 * (integrator.steps() + integrator.rejected()));
}

/// y' = -(y - 1) before any jump, as long as one likes.
FreeSystem relaxation() {
  return {1,
          [](double, std::span<const double> y, std::span<double> dydt) { dydt[0] = 1.0 - y[0]; }};
}

TEST(Integrator, AfterAJumpARestartForgetsThePast) {
  for (const double fixed : {0.0, 0.05}) {
    StepControl control = unit_steps;
    control.fixed_step_s = fixed;
    FreeSystem system = relaxation();
    Integrator integrator(system, control);
    std::vector<double> y{0.0};
    integrator.advance(y, 0.0, 2.0);
    y[0] = 30.0;
    integrator.restart(2.0);
    integrator.advance(y, 2.0, 4.0);

    FreeSystem fresh_system = relaxation();
    Integrator fresh(fresh_system, control);
    std::vector<double> wanted{30.0};
    fresh.advance(wanted, 2.0, 4.0);
    EXPECT_EQ(y[0], wanted[0]);
    EXPECT_NEAR(y[0], 1.0 + 29.0 * std::exp(-2.0), 1e-3); // a step of 0.05 errs by 29 * 0.05^3/10
  }
}

TEST(Integrator, WithoutARestartTheOldRatesWouldBeUsed) {
  // The reason for restart: the rates at the end of a step are those at the start of the next.
  StepControl control = unit_steps;
  control.fixed_step_s = 0.05;
  FreeSystem system = relaxation();
  Integrator integrator(system, control);
  std::vector<double> y{0.0};
  integrator.advance(y, 0.0, 2.0);
  y[0] = 30.0;
  integrator.advance(y, 2.0, 4.0);
  EXPECT_GT(std::abs(y[0] - (1.0 + 29.0 * std::exp(-2.0))), 1e-2);
}

TEST(Integrator, RestartAtTheSameStateChangesNoMoreThanTheTolerance) {
  FreeSystem system = oscillator(1e-8);
  Integrator integrator(system, unit_steps);
  std::vector<double> y{1.0, 0.0};
  integrator.advance(y, 0.0, 2.0);
  integrator.restart(2.0);
  integrator.advance(y, 2.0, 4.0);
  EXPECT_NEAR(y[0], std::cos(4.0), 1e-8 * static_cast<double>(integrator.steps()));
}

/// The message of the NumericsError that integrating `rates` from 1 over 10 s ends in.
std::string failure(const FreeSystem::Rates& rates) {
  FreeSystem system(1, rates);
  StepControl control = unit_steps;
  control.smallest_step_s = 1e-4;
  Integrator integrator(system, control);
  std::vector<double> y{1.0};
  try {
    integrator.advance(y, 7200.0, 7210.0);
  } catch (const NumericsError& error) {
    return error.what();
  }
  return "";
}

TEST(Integrator, RatesThatRunAwayEndInAnErrorThatSaysWhenAndWhat) {
  // y' = y², y = 1/(1 - t): infinite after one second, 7201 s = hour 2.00028.
  const std::string message = failure(
      [](double, std::span<const double> y, std::span<double> dydt) { dydt[0] = y[0] * y[0]; });
  EXPECT_THAT(message, testing::HasSubstr("time step fell below 0.0001 s"));
  EXPECT_THAT(message, testing::HasSubstr("hour 2.000"));
}

TEST(Integrator, RatesThatAreNoNumberEndInAnError) {
  const std::string message =
      failure([](double t, std::span<const double>, std::span<double> dydt) {
        dydt[0] = t > 7203.0 ? std::nan("") : 1.0;
      });
  EXPECT_THAT(message, testing::HasSubstr("time step fell below"));
}

TEST(Integrator, ATrialStateOutsideItsRangeIsTriedAgainWithASmallerStep) {
  // The square root of a negative trial state is not a number; the true solution, (1 - t/2)² until
  // t = 2, never is.
  FreeSystem system(1, [](double, std::span<const double> y, std::span<double> dydt) {
    dydt[0] = -std::sqrt(y[0]);
  });
  StepControl control = unit_steps;
  control.first_step_s = 5.0;
  Integrator integrator(system, control);
  std::vector<double> y{1.0};
  integrator.advance(y, 0.0, 1.5);
  EXPECT_GT(integrator.rejected(), 0);
  EXPECT_NEAR(y[0], 0.0625, 1e-8 * static_cast<double>(integrator.steps()));
}

Mesh column() {
  return make_container({.fill_height_m = 1.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 3, 20);
}

TEST(Integrator, DiffusionStaysStableAHundredTimesBeyondTheExplicitLimit) {
  const Mesh mesh = column();
  const auto g = conductances(mesh, 1.0, {.surface = held_at_zero});
  // Gershgorin: every eigenvalue lies within twice the largest diagonal entry; an explicit method
  // of this kind is stable to steps of about 2.5 over the largest.
  std::vector<double> diagonal(mesh.cells(), 0.0);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    for (const int cell : {mesh.cell_a[f], mesh.cell_b[f]}) {
      if (cell >= 0) {
        diagonal[static_cast<std::size_t>(cell)] +=
            g[f] / mesh.volume_m3[static_cast<std::size_t>(cell)];
      }
    }
  }
  const double limit = 2.5 / *std::max_element(diagonal.begin(), diagonal.end());
  const auto largest_after = [&](double coupling, double step) {
    DiffusionSystem system(mesh, g);
    system.distort_block(coupling, 1.0);
    Integrator integrator(system, {.fixed_step_s = step});
    std::vector<double> y(mesh.cells() + 1, 0.0);
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      y[i] = i % 2 == 0 ? 1.0 : -1.0; // the roughest state there is
    }
    integrator.advance(y, 0.0, 60.0 * step);
    double largest = 0.0;
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      largest = std::max(largest, std::abs(y[i]));
    }
    return largest;
  };
  EXPECT_LT(largest_after(1.0, 100.0 * limit), 1e-3);
  // A block half as stiff again or a fifth too soft still damps: the block is lagged in earnest.
  EXPECT_LT(largest_after(1.5, 100.0 * limit), 1e-1);
  EXPECT_LT(largest_after(0.8, 100.0 * limit), 1.0);
  EXPECT_GT(largest_after(0.0, 4.0 * limit), 1e3); // and without one it grows
}

TEST(Integrator, BlockAndSinkKeepTheirSumWithAWrongJacobian) {
  // All that leaves the cells arrives in the sink: with volumes as weights, or in cells of one
  // volume, the plain sum stands still. Container layers differ in volume, so the state here is an
  // amount, y = V times value.
  class Amounts : public OdeSystem {
  public:
    explicit Amounts(const Mesh& mesh)
        : mesh_(mesh), g_(conductances(mesh, 1.0, {.surface = 3.0, .wall = 1.0})),
          scale_(mesh.cells() + 1, 1e-6) {}
    [[nodiscard]] std::size_t size() const override { return scale_.size(); }
    void rates(double t, std::span<const double> y, std::span<double> dydt) override {
      std::fill(dydt.begin(), dydt.end(), 0.0);
      for (std::size_t f = 0; f < mesh_.faces(); ++f) {
        const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
        const auto to =
            mesh_.cell_b[f] >= 0 ? static_cast<std::size_t>(mesh_.cell_b[f]) : mesh_.cells();
        const double value_b = mesh_.cell_b[f] >= 0 ? y[to] / mesh_.volume_m3[to] : 0.0;
        const double value_a = y[a] / mesh_.volume_m3[a];
        const double flux = (1.0 + std::sin(t)) * g_[f] * (value_a * value_a - value_b * value_b);
        dydt[a] -= flux;
        dydt[to] += flux;
      }
    }
    [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
      return scale_;
    }
    [[nodiscard]] const Mesh* stiff_mesh() const override { return &mesh_; }
    [[nodiscard]] std::vector<StiffLayout> stiff_layout() const override {
      return {{.block = {.first = 0, .sink = mesh_.cells()}, .follower = {}}};
    }
    void stiff_blocks(std::span<StiffBlock> blocks) override {
      // Neither the right size nor the right shape; what is missing in a column goes to the sink.
      NeighbourMatrix& block = blocks.front().level;
      for (std::size_t i = 0; i < mesh_.cells(); ++i) {
        block.diagonal[i] = -50.0 - static_cast<double>(i);
      }
      for (std::size_t f = 0; f < mesh_.faces(); ++f) {
        block.from_a[f] = 3.0 + 0.1 * static_cast<double>(f);
        block.from_b[f] = 7.0;
      }
    }

  private:
    const Mesh& mesh_;
    std::vector<double> g_, scale_;
  };
  const Mesh mesh = column();
  for (const double fixed : {0.0, 2e-4}) { // explicit steps must be short
    Amounts system(mesh);
    Integrator integrator(system, {.first_step_s = 1e-3,
                                   .largest_step_s = 1.0,
                                   .smallest_step_s = 1e-9,
                                   .fixed_step_s = fixed});
    std::vector<double> y(mesh.cells() + 1, 0.0);
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      y[i] = mesh.volume_m3[i] * (1.0 + mesh.z_m[i]);
    }
    const double before = std::accumulate(y.begin(), y.end(), 0.0);
    integrator.advance(y, 0.0, 0.2);
    const double after = std::accumulate(y.begin(), y.end(), 0.0);
    EXPECT_GT(y.back(), 0.1 * before); // something did leave
    // A thousand steps, each with the rounding of a sum over 61 entries.
    EXPECT_NEAR(after, before, 1e-12 * before) << integrator.steps() << " steps";
  }
}

TEST(Integrator, SingularStageMatrixIsRejectedInsteadOfUsed) {
  // One cell with rate y/(h gamma): for the first step the stage matrix 1/(h gamma) - J is exactly
  // zero, for a smaller one it is not.
  class Singular : public OdeSystem {
  public:
    [[nodiscard]] std::size_t size() const override { return 2; }
    void rates(double /*t_s*/, std::span<const double> y, std::span<double> dydt) override {
      dydt[0] = slope_ * y[0];
      dydt[1] = -slope_ * y[0];
    }
    [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
      return scale_;
    }
    [[nodiscard]] const Mesh* stiff_mesh() const override { return &mesh_; }
    [[nodiscard]] std::vector<StiffLayout> stiff_layout() const override {
      return {{.block = {.first = 0, .sink = 1}, .follower = {}}};
    }
    void stiff_blocks(std::span<StiffBlock> blocks) override {
      blocks.front().level.diagonal[0] = slope_;
    }

  private:
    Mesh mesh_ = make_lump({1.0, 1.0, 1.0, 1.0});
    double slope_ = 1.0 / (0.5 * 4.3586652150845900e-01);
    // Wide enough for any error of a usable step.
    std::vector<double> scale_{1e3, std::numeric_limits<double>::infinity()};
  } system;
  Integrator integrator(system,
                        {.first_step_s = 0.5, .largest_step_s = 0.5, .smallest_step_s = 1e-9});
  std::vector<double> y{1.0, 0.0};
  integrator.advance(y, 0.0, 0.5);
  EXPECT_GT(integrator.rejected(), 0);
  EXPECT_NEAR(y[0] + y[1], 1.0, 1e-12);
}

} // namespace
} // namespace heapcast::engine
