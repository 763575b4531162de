#include "engine/integrator.hpp"

#include <gtest/gtest.h>

#include <span>
#include <vector>

namespace heapcast::engine {
namespace {

/// dy/dt = 0 until t = 1, then 1: like something that is switched on there.
class SwitchedSystem final : public OdeSystem {
public:
  [[nodiscard]] std::size_t size() const override { return 1; }
  void rates(double /*t_s*/, std::span<const double> /*y*/, std::span<double> dydt) override {
    dydt[0] = start_s_ < 1.0 ? 0.0 : 1.0;
  }
  void end_step(double t_s, std::span<const double> /*y*/) override { start_s_ = t_s; }
  [[nodiscard]] bool jumps_at(double t_s) const override { return t_s == 1.0; }
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
    return scale_;
  }

private:
  double start_s_ = 0.0;
  std::vector<double> scale_{1e3}; // so loose that the step control never notices
};

TEST(Integrator, JumpOfTheRatesBetweenStepsIsNotSmearedOverThem) {
  for (const double fixed_s : {0.0, 0.5}) {
    SwitchedSystem system;
    Integrator integrator(system,
                          {.first_step_s = 0.5, .largest_step_s = 0.5, .fixed_step_s = fixed_s});
    std::vector<double> y{0.0};
    integrator.advance(y, 0.0, 1.0);
    EXPECT_EQ(y[0], 0.0);
    integrator.advance(y, 1.0, 3.0);
    EXPECT_NEAR(y[0], 2.0, 1e-14); // constant rates are integrated to rounding
  }
}

} // namespace
} // namespace heapcast::engine
