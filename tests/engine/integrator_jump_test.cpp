#include "engine/integrator.hpp"

#include <gtest/gtest.h>

#include <span>
#include <vector>

namespace heapcast::engine {
namespace {

/// dy/dt = 0 until t = 1, then 1: like something that is switched on there.
class SwitchedSystem final : public OdeSystem {
public:
  explicit SwitchedSystem(bool jump_is_known) : jump_is_known_(jump_is_known) {}
  [[nodiscard]] std::size_t size() const override { return 1; }
  void rates(double /*t_s*/, std::span<const double> /*y*/, std::span<double> dydt) override {
    dydt[0] = start_s_ < 1.0 ? 0.0 : 1.0;
  }
  void end_step(double t_s, std::span<const double> /*y*/) override { start_s_ = t_s; }
  [[nodiscard]] bool jumps_at(double t_s) const override { return t_s == 1.0; }
  bool add_jump(double /*t_s*/, std::span<double> dydt) override {
    dydt[0] += jump_is_known_ ? 1.0 : 0.0;
    return jump_is_known_;
  }
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
    return scale_;
  }

private:
  bool jump_is_known_;
  double start_s_ = 0.0;
  std::vector<double> scale_{1e3}; // so loose that the step control never notices
};

/// The end of a run over the jump, and how often it asked for the rates.
struct Course {
  double y_at_jump, y_at_end;
  long calls;
};
Course course(Scheme scheme, double fixed_s, bool jump_is_known) {
  SwitchedSystem system(jump_is_known);
  Integrator integrator(
      system,
      {.scheme = scheme, .first_step_s = 0.5, .largest_step_s = 0.5, .fixed_step_s = fixed_s});
  std::vector<double> y{0.0};
  integrator.advance(y, 0.0, 1.0);
  const double at_jump = y[0];
  integrator.advance(y, 1.0, 3.0);
  return {at_jump, y[0], integrator.rate_calls()};
}

TEST(Integrator, JumpOfTheRatesBetweenStepsIsNotSmearedOverThem) {
  for (const Scheme scheme : {Scheme::rosenbrock, Scheme::predictor_corrector}) {
    for (const double fixed_s : {0.0, 0.5}) {
      for (const bool known : {false, true}) {
        const Course c = course(scheme, fixed_s, known);
        EXPECT_EQ(c.y_at_jump, 0.0);
        EXPECT_NEAR(c.y_at_end, 2.0, 1e-14); // constant rates are integrated to rounding
      }
    }
  }
}

TEST(Integrator, JumpThatIsKnownCostsThePredictorNoCall) {
  const long known = course(Scheme::predictor_corrector, 0.5, true).calls;
  const long unknown = course(Scheme::predictor_corrector, 0.5, false).calls;
  EXPECT_EQ(known, 1 + 6); // one to begin with, one a step
  EXPECT_EQ(unknown, known + 1);
}

} // namespace
} // namespace heapcast::engine
