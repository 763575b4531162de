#include "engine/integrator.hpp"

#include "engine/errors.hpp"

#include <boost/numeric/odeint/algebra/default_operations.hpp>
#include <boost/numeric/odeint/algebra/range_algebra.hpp>
#include <boost/numeric/odeint/stepper/base/explicit_error_stepper_fsal_base.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace heapcast::engine {

namespace odeint = boost::numeric::odeint;

namespace {

using State = std::vector<double>;

template <class Stepper>
using FsalBase = odeint::explicit_error_stepper_fsal_base<
    Stepper, 3, 3, 2, State, double, State, double, odeint::range_algebra,
    odeint::default_operations, odeint::initially_resizer>;

/// Bogacki & Shampine 1989, 3(2) pair, first same as last, to Odeint's error stepper concept.
class BogackiShampine : public FsalBase<BogackiShampine> {
public:
  using stepper_base_type = FsalBase<BogackiShampine>;

  template <class System>
  void do_step_impl(System system, const State& in, const State& k1, double t, State& out,
                    State& k4, double h, State& error) {
    step(system, in, k1, t, out, k4, h);
    const std::size_t n = in.size();
    error.resize(n);
    // b - b*: 2/9-7/24, 1/3-1/4, 4/9-1/3, -1/8
    for (std::size_t i = 0; i < n; ++i) {
      error[i] = h * (-5.0 / 72.0 * k1[i] + k2_[i] / 12.0 + k3_[i] / 9.0 - k4[i] / 8.0);
    }
  }

  template <class System>
  void do_step_impl(System system, const State& in, const State& k1, double t, State& out,
                    State& k4, double h) {
    step(system, in, k1, t, out, k4, h);
  }

  template <class StateType>
  void adjust_size(const StateType& x) {
    stepper_base_type::adjust_size(x);
  }

private:
  template <class System>
  void step(System system, const State& in, const State& k1, double t, State& out, State& k4,
            double h) {
    const std::size_t n = in.size();
    k2_.resize(n);
    k3_.resize(n);
    stage_.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      stage_[i] = in[i] + 0.5 * h * k1[i];
    }
    system(stage_, k2_, t + 0.5 * h);
    for (std::size_t i = 0; i < n; ++i) {
      stage_[i] = in[i] + 0.75 * h * k2_[i];
    }
    system(stage_, k3_, t + 0.75 * h);
    for (std::size_t i = 0; i < n; ++i) {
      stage_[i] = in[i] + h * (2.0 / 9.0 * k1[i] + 1.0 / 3.0 * k2_[i] + 4.0 / 9.0 * k3_[i]);
    }
    system(stage_, k4, t + h);
    out = stage_;
  }

  State k2_, k3_, stage_;
};

/// Largest error over its allowed size; NaN counts as far too large.
struct LargestError {
  std::span<const double>* scale;
  using value_type = double;

  template <class Algebra, class A, class B>
  double error(Algebra& /*algebra*/, const A& /*x*/, const B& /*dxdt*/, State& x_err,
               double /*dt*/) const {
    double largest = 0.0;
    for (std::size_t i = 0; i < x_err.size(); ++i) {
      const double e = std::abs(x_err[i]) / (*scale)[i];
      if (!(e <= largest)) {
        largest = std::isnan(e) ? 1e6 : e;
      }
    }
    return largest;
  }
};

struct Adjuster {
  using value_type = double;
  using time_type = double;
  Adjuster() = default;
  explicit Adjuster(double most) : most_(most) {}
  template <class Time, class Error>
  Time decrease_step(Time dt, Error error, int order) const {
    return dt * std::clamp(0.9 * std::pow(error, -1.0 / (order + 1)), 0.2, 0.9);
  }
  template <class Time, class Error>
  Time increase_step(Time dt, Error error, int order) const {
    const double grown =
        dt * std::clamp(0.9 * std::pow(std::max(error, 1e-6), -1.0 / (order + 1)), 0.5, 4.0);
    return std::min(grown, most_);
  }
  bool check_step_size_limit(double dt) const { return dt <= most_; }
  double get_max_dt() const { return most_; }

private:
  double most_ = 3600.0;
};

} // namespace

struct Integrator::Impl {
  OdeSystem& system;
  StepControl control;
  std::span<const double> scale;
  odeint::controlled_runge_kutta<BogackiShampine, LargestError, Adjuster> stepper;
  BogackiShampine plain;
  double next_step_s;
  double restarted_s = 0.0;
  long steps = 0, rejected = 0, calls = 0;
  State first, last, out; ///< for fixed steps

  Impl(OdeSystem& s, const StepControl& c)
      : system(s), control(c), stepper(LargestError{&scale}, Adjuster(c.largest_step_s)),
        next_step_s(c.first_step_s) {}

  auto rates() {
    return [this](const State& y, State& dydt, double t) {
      ++calls;
      dydt.resize(y.size());
      system.rates(t, y, dydt);
    };
  }
};

Integrator::Integrator(OdeSystem& system, const StepControl& control)
    : impl_(std::make_unique<Impl>(system, control)) {}
Integrator::~Integrator() = default;

void Integrator::restart(double t_s) {
  impl_->stepper.reset();
  impl_->first.clear();
  impl_->next_step_s = impl_->control.first_step_s;
  impl_->restarted_s = t_s;
}

void Integrator::advance(std::vector<double>& y, double t_s, double t_end_s) {
  Impl& m = *impl_;
  double t = t_s;
  const auto rates = m.rates();
  const double close = 1e-9 * std::max(1.0, std::abs(t_end_s));
  if (m.control.fixed_step_s > 0.0) {
    const long count = std::lround(std::ceil((t_end_s - t) / m.control.fixed_step_s - 1e-9));
    const double h = (t_end_s - t) / static_cast<double>(count);
    for (long i = 0; i < count; ++i) {
      m.system.begin_step(t, y);
      if (m.first.empty()) {
        rates(y, m.first, t);
      }
      m.plain.do_step_impl(rates, y, m.first, t, m.out, m.last, h);
      y.swap(m.out);
      m.first.swap(m.last);
      t = i + 1 == count ? t_end_s : t + h;
      m.system.end_step(t, y);
      ++m.steps;
    }
    return;
  }
  while (t_end_s - t > close) {
    m.system.begin_step(t, y);
    m.scale = m.system.error_scale(y);
    double limit = m.control.largest_step_s;
    if (m.control.growth_after_event > 0.0) {
      limit = std::min(limit, m.control.first_step_s +
                                  m.control.growth_after_event * (t - m.restarted_s));
    }
    double wanted = std::min(m.next_step_s, limit);
    for (;;) {
      const double left = t_end_s - t;
      // Two even steps beat a long one and a sliver.
      double h = wanted >= left ? left : (wanted > 0.5 * left ? 0.5 * left : wanted);
      const bool cut = h < wanted;
      const double tried = h;
      if (m.stepper.try_step(rates, y, t, h) == odeint::success) {
        ++m.steps;
        m.next_step_s = cut ? std::max(h, wanted) : h;
        break;
      }
      ++m.rejected;
      wanted = std::min(h, 0.9 * tried);
      if (!(wanted >= m.control.smallest_step_s)) {
        throw NumericsError(fmt::format(
            "the time step fell below {} s at hour {:.3f}; the state changes too fast to follow",
            m.control.smallest_step_s, t / 3600.0));
      }
    }
    if (t_end_s - t <= close) {
      t = t_end_s;
    }
    m.system.end_step(t, y);
  }
}

long Integrator::steps() const { return impl_->steps; }
long Integrator::rejected() const { return impl_->rejected; }
long Integrator::rate_calls() const { return impl_->calls; }

} // namespace heapcast::engine
