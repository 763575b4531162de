// Boost.Odeint's own steppers with its own step control, one absolute tolerance on the scaled
// state. Steps end on the hour.

#include "validation/benchmarks/rival.hpp"
#include "validation/benchmarks/rosenbrock4.hpp"

#include "engine/errors.hpp"
#include "models/pile.hpp"

#include <boost/numeric/odeint/stepper/bulirsch_stoer.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_cash_karp54.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_fehlberg78.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace heapcast::benchmarks {
namespace {

namespace odeint = boost::numeric::odeint;
using State = std::vector<double>;

constexpr double first_step_s = 30.0; // a forecast's
constexpr double smallest_step_s = 1e-3;
constexpr double impossible_rate = 1e12; ///< makes a step that met an impossible state fail

/// Steps by `try_step(t, h)` until `t_end`; as the program's own integrator does, two even steps
/// before a long one and a sliver, and a step that was cut short does not shorten the next.
template <class TryStep>
void step_to(double t_s, double t_end_s, double& next_s, Counts& counts, const TryStep& try_step) {
  double t = t_s;
  while (t_end_s - t > 1e-9 * t_end_s) {
    const double left = t_end_s - t;
    double h = next_s >= left ? left : (next_s > 0.5 * left ? 0.5 * left : next_s);
    const bool cut = h < next_s;
    if (try_step(t, h)) {
      ++counts.steps;
      next_s = cut ? std::max(h, next_s) : h;
    } else {
      ++counts.rejected;
      next_s = h;
      if (!(next_s >= smallest_step_s)) {
        throw NumericsError("the step fell below a millisecond");
      }
    }
  }
}

/// Stepper: one with error estimate, or bulirsch_stoer, made by `make`.
template <class Controlled> class OdeintRival final : public Rival {
public:
  OdeintRival(const RivalOptions& options, Controlled stepper, bool first_same_as_last)
      : Rival(options), stepper_(std::move(stepper)), first_same_as_last_(first_same_as_last) {}

private:
  void restart(double /*t_s*/) override {
    stepper_.reset();
    next_s_ = first_step_s;
  }

  void advance(double t_s, double t_end_s, double /*stop_s*/) override {
    const auto system = [this](const State& z, State& dzdt, double t) {
      dzdt.resize(z.size());
      if (!rates(t, z.data(), dzdt.data())) {
        std::fill(dzdt.begin(), dzdt.end(), impossible_rate);
      }
    };
    step_to(t_s, t_end_s, next_s_, counts_, [&](double& t, double& h) {
      return stepper_.try_step(system, z_, t, h) == odeint::success;
    });
  }

  [[nodiscard]] bool rates_are_of_the_end() const override { return first_same_as_last_; }

  Controlled stepper_;
  bool first_same_as_last_;
  double next_s_ = first_step_s;
};

/// Steppers without memory have no `reset` of their own.
template <class Stepper> struct Resettable : Stepper {
  using Stepper::Stepper;
  explicit Resettable(const Stepper& s) : Stepper(s) {}
  void reset() {}
};

class Rosenbrock4Rival final : public Rival {
public:
  explicit Rosenbrock4Rival(const RivalOptions& options)
      : Rival(options), stepper_(options.factor, [this](double t, const double* z, double* dzdt) {
          if (!rates(t, z, dzdt)) {
            std::fill(dzdt, dzdt + size(), impossible_rate);
          }
        }) {}

private:
  void restart(double /*t_s*/) override { next_s_ = first_step_s; }

  void advance(double t_s, double t_end_s, double /*stop_s*/) override {
    step_to(t_s, t_end_s, next_s_, counts_,
            [&](double& t, double& h) { return stepper_.try_step(z_, t, h); });
    counts_.jacobians = stepper_.jacobians();
  }

  Rosenbrock4 stepper_;
  double next_s_ = first_step_s;
};

template <class Stepper>
std::unique_ptr<Rival> controlled(const RivalOptions& options, bool first_same_as_last = false) {
  using Controlled = decltype(odeint::make_controlled(options.factor, 0.0, Stepper()));
  return std::make_unique<OdeintRival<Resettable<Controlled>>>(
      options, Resettable<Controlled>(odeint::make_controlled(options.factor, 0.0, Stepper())),
      first_same_as_last);
}

} // namespace

std::unique_ptr<Rival> make_odeint(const std::string& name, const RivalOptions& options) {
  if (name == "odeint-dopri5") {
    using Controlled = odeint::controlled_runge_kutta<odeint::runge_kutta_dopri5<State>>;
    return std::make_unique<OdeintRival<Controlled>>(
        options, odeint::make_controlled(options.factor, 0.0, odeint::runge_kutta_dopri5<State>()),
        true);
  }
  if (name == "odeint-cash_karp54") {
    return controlled<odeint::runge_kutta_cash_karp54<State>>(options);
  }
  if (name == "odeint-fehlberg78") {
    return controlled<odeint::runge_kutta_fehlberg78<State>>(options);
  }
  if (name == "odeint-bulirsch_stoer") {
    return std::make_unique<OdeintRival<odeint::bulirsch_stoer<State>>>(
        options, odeint::bulirsch_stoer<State>(options.factor, 0.0), false);
  }
  if (name == "odeint-rosenbrock4") {
    return std::make_unique<Rosenbrock4Rival>(options);
  }
  return nullptr;
}

} // namespace heapcast::benchmarks
