#include "engine/integrator.hpp"

#include "engine/errors.hpp"
#include "engine/lane_integrator.hpp"
#include "engine/lane_solvers.hpp"
#include "engine/rosenbrock_w.hpp"

#include <boost/numeric/odeint/algebra/default_operations.hpp>
#include <boost/numeric/odeint/algebra/range_algebra.hpp>
#include <boost/numeric/odeint/stepper/base/explicit_error_stepper_fsal_base.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <optional>

namespace heapcast::engine {

namespace odeint = boost::numeric::odeint;

namespace {

using State = std::vector<double>;

using namespace rosenbrock_w;

/// Solves (1/(h gamma) - J) u = r in place; J the stiff blocks, their levels being the blocks
/// themselves, and zero elsewhere.
class StiffSolver {
public:
  explicit StiffSolver(OdeSystem& system) : system_(system), mesh_(system.stiff_mesh()) {
    if (mesh_ == nullptr) {
      return;
    }
    for (const StiffLayout& layout : system.stiff_layout()) {
      parts_.push_back({layout.block, LaneLu<1>(*mesh_), {}});
      derivatives_.emplace_back().resize(mesh_->cells(), mesh_->faces(), false);
    }
    diagonal_.resize(mesh_->cells());
    minus_b_.resize(mesh_->faces());
    minus_a_.resize(mesh_->faces());
  }

  void refresh() {
    factored_h_ = 0.0;
    system_.stiff_blocks(derivatives_);
    for (std::size_t k = 0; k < parts_.size(); ++k) {
      const NeighbourMatrix& matrix = derivatives_[k].level;
      std::vector<double>& column = parts_[k].column;
      column = matrix.diagonal;
      for (std::size_t f = 0; f < mesh_->faces(); ++f) {
        if (mesh_->cell_b[f] >= 0) {
          column[static_cast<std::size_t>(mesh_->cell_b[f])] += matrix.from_b[f];
          column[static_cast<std::size_t>(mesh_->cell_a[f])] += matrix.from_a[f];
        }
      }
    }
  }

  void solve(double h, State& r) {
    const double hg = h * gamma_diagonal;
    if (h != factored_h_) {
      factored_h_ = 0.0;
      factor(hg);
      factored_h_ = h;
    }
    std::size_t from = 0;
    const auto scale_until = [&](std::size_t end) {
      for (; from < end; ++from) {
        r[from] *= hg;
      }
    };
    for (Part& part : parts_) {
      scale_until(part.entries.first);
      part.lu.solve(r.data() + from);
      from += diagonal_.size();
    }
    scale_until(r.size());
    for (const Part& part : parts_) {
      double given = 0.0;
      for (std::size_t i = 0; i < diagonal_.size(); ++i) {
        given += part.column[i] * r[part.entries.first + i];
      }
      r[part.entries.sink] -= hg * given;
    }
  }

private:
  struct Part {
    StiffEntries entries;
    LaneLu<1> lu;
    std::vector<double> column;
  };

  void factor(double hg) {
    for (std::size_t k = 0; k < parts_.size(); ++k) {
      const NeighbourMatrix& matrix = derivatives_[k].level;
      for (std::size_t i = 0; i < diagonal_.size(); ++i) {
        diagonal_[i] = 1.0 / hg - matrix.diagonal[i];
      }
      for (std::size_t f = 0; f < minus_b_.size(); ++f) {
        minus_b_[f] = -matrix.from_b[f];
        minus_a_[f] = -matrix.from_a[f];
      }
      // Singular at this step: not finite; the step control takes a smaller one.
      parts_[k].lu.factor(diagonal_.data(), minus_b_.data(), minus_a_.data());
    }
  }

  OdeSystem& system_;
  const Mesh* mesh_;
  std::vector<Part> parts_; ///< in the order of their entries
  std::vector<StiffBlock> derivatives_;
  std::vector<double> diagonal_, minus_b_, minus_a_;
  double factored_h_ = 0.0;
};

template <class Stepper>
using FsalBase =
    odeint::explicit_error_stepper_fsal_base<Stepper, 3, 3, 2, State, double, State, double,
                                             odeint::range_algebra, odeint::default_operations,
                                             odeint::initially_resizer>;

/// The method as an Odeint error stepper: the rates at the end of a step are those at the start of
/// the next.
class RosenbrockW : public FsalBase<RosenbrockW> {
public:
  using stepper_base_type = FsalBase<RosenbrockW>;

  RosenbrockW() = default;
  explicit RosenbrockW(StiffSolver& solver) : solver_(&solver) {}

  template <class System>
  void do_step_impl(System system, const State& in, const State& rates_in, double t, State& out,
                    State& rates_out, double h, State& error) {
    static const Transformed method;
    const std::size_t n = in.size();
    for (std::size_t s = 0; s < stages; ++s) {
      State& u = u_[s];
      u.resize(n);
      if (s == 0) {
        u = rates_in;
      } else {
        stage_ = in;
        add(stage_, method.a[s], 1.0, s);
        system(stage_, u, t + method.time[s] * h);
        add(u, method.c[s], 1.0 / h, s);
      }
      solver_->solve(h, u);
    }
    stage_ = in;
    add(stage_, method.m, 1.0, stages);
    error.assign(n, 0.0);
    add(error, method.error, 1.0, stages);
    system(stage_, rates_out, t + h);
    out = stage_;
  }

  template <class StateType> void adjust_size(const StateType& x) {
    stepper_base_type::adjust_size(x);
  }

private:
  /// to += scale * sum_{j < count} factor_j u_j
  void add(State& to, const std::array<double, stages>& factor, double scale, std::size_t count) {
    for (std::size_t j = 0; j < count; ++j) {
      const double x = scale * factor[j];
      if (x != 0.0) {
        for (std::size_t i = 0; i < to.size(); ++i) {
          to[i] += x * u_[j][i];
        }
      }
    }
  }

  StiffSolver* solver_ = nullptr;
  std::array<State, stages> u_;
  State stage_;
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
  template <class Time, class Error> Time decrease_step(Time dt, Error error, int order) const {
    return dt * smaller_by(error, order);
  }
  template <class Time, class Error> Time increase_step(Time dt, Error error, int order) const {
    return std::min(dt * larger_by(error, order), most_);
  }
  bool check_step_size_limit(double dt) const { return dt <= most_; }
  double get_max_dt() const { return most_; }

private:
  double most_ = 3600.0;
};

std::string too_small(const StepControl& control, double t_s) {
  return fmt::format("the time step fell below {} s at hour {:.3f}; the state changes too fast to "
                     "follow",
                     control.smallest_step_s, t_s / 3600.0);
}

/// A system as the only one of several side by side.
class Alone final : public LaneOdeSystem<1> {
public:
  Alone(OdeSystem& system, const std::vector<double>& y) : system_(system), y_(y) {}
  [[nodiscard]] std::size_t size() const override { return system_.size(); }
  [[nodiscard]] const Mesh* stiff_mesh() const override { return system_.stiff_mesh(); }
  void rates(const Times& t_s, std::span<const double> y, std::span<double> dydt) override {
    system_.rates(t_s[0], y, dydt);
  }
  [[nodiscard]] std::vector<StiffLayout> stiff_layout() const override {
    return system_.stiff_layout();
  }
  void stiff_blocks(std::span<StiffBlock> blocks) override { system_.stiff_blocks(blocks); }
  [[nodiscard]] Times drive(std::span<double> slope, std::span<double> bend) override {
    return {system_.drive(slope, bend)};
  }
  void error_scale(std::span<const double> y, std::span<double> scale) override {
    const std::span<const double> own = system_.error_scale(y);
    std::copy(own.begin(), own.end(), scale.begin());
  }
  void repair(int /*lane*/, std::span<double> y) override { system_.repair(y); }
  void end_step(int /*lane*/, double t_s) override { system_.end_step(t_s, y_); }
  [[nodiscard]] bool jumps_at(int /*lane*/, double t_s) const override {
    return system_.jumps_at(t_s);
  }
  bool add_jump(int /*lane*/, double t_s, std::span<double> dydt) override {
    return system_.add_jump(t_s, dydt);
  }

private:
  OdeSystem& system_;
  const std::vector<double>& y_;
};

/// The predictor and corrector for one system.
class OneLane {
public:
  OneLane(OdeSystem& system, const StepControl& control)
      : system_(system, stepper_y()), stepper_(system_, control), control_(control) {}

  void restart(double t_s) {
    stepper_.restart(0, t_s);
    begun_ = true;
  }
  void advance(std::vector<double>& y, double t_s, double t_end_s) {
    if (!begun_) {
      restart(t_s);
    }
    stepper_.y() = y;
    stepper_.run_until(0, t_end_s);
    while (stepper_.running(0)) {
      stepper_.attempt();
    }
    if (stepper_.failed(0)) {
      throw NumericsError(too_small(control_, stepper_.time_s(0)));
    }
    y = stepper_.y();
  }
  [[nodiscard]] const LaneIntegrator<1>& stepper() const { return stepper_; }

private:
  /// Not read before the stepper is there.
  const std::vector<double>& stepper_y() { return stepper_.y(); }

  Alone system_;
  LaneIntegrator<1> stepper_;
  StepControl control_;
  bool begun_ = false;
};

} // namespace

struct Integrator::Impl {
  OdeSystem& system;
  StepControl control;
  std::span<const double> scale;
  StiffSolver solver;
  odeint::controlled_runge_kutta<RosenbrockW, LargestError, Adjuster> stepper;
  RosenbrockW plain;
  double next_step_s;
  double restarted_s = 0.0;
  long steps = 0, rejected = 0, calls = 0;
  State first, last, out, error;   ///< for fixed steps
  std::optional<OneLane> one_lane; ///< the other scheme

  Impl(OdeSystem& s, const StepControl& c)
      : system(s), control(c), solver(s),
        stepper(LargestError{&scale}, Adjuster(c.largest_step_s), RosenbrockW(solver)),
        plain(solver), next_step_s(c.first_step_s) {
    if (c.scheme == Scheme::predictor_corrector) {
      one_lane.emplace(s, c);
    }
  }

  void forget_rates() {
    stepper.reset();
    first.clear();
  }

  void end_step(double t, const State& y) {
    ++steps;
    system.end_step(t, y);
    if (system.jumps_at(t)) {
      forget_rates();
    }
  }

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
  if (impl_->one_lane) {
    impl_->one_lane->restart(t_s);
    return;
  }
  impl_->forget_rates();
  impl_->next_step_s = impl_->control.first_step_s;
  impl_->restarted_s = t_s;
}

void Integrator::advance(std::vector<double>& y, double t_s, double t_end_s) {
  Impl& m = *impl_;
  if (m.one_lane) {
    m.one_lane->advance(y, t_s, t_end_s);
    return;
  }
  double t = t_s;
  const auto rates = m.rates();
  const double close = 1e-9 * std::max(1.0, std::abs(t_end_s));
  if (m.control.fixed_step_s > 0.0) {
    const long count = std::lround(std::ceil((t_end_s - t) / m.control.fixed_step_s - 1e-9));
    const double h = (t_end_s - t) / static_cast<double>(count);
    for (long i = 0; i < count; ++i) {
      if (m.first.empty()) {
        rates(y, m.first, t);
      }
      m.solver.refresh();
      m.plain.do_step_impl(rates, y, m.first, t, m.out, m.last, h, m.error);
      y.swap(m.out);
      m.first.swap(m.last);
      t = i + 1 == count ? t_end_s : t + h;
      m.end_step(t, y);
    }
    return;
  }
  while (t_end_s - t > close) {
    m.solver.refresh();
    m.scale = m.system.error_scale(y);
    double limit = m.control.largest_step_s;
    if (m.control.growth_after_event > 0.0) {
      limit = std::min(limit,
                       m.control.first_step_s + m.control.growth_after_event * (t - m.restarted_s));
    }
    double wanted = std::min(m.next_step_s, limit);
    for (;;) {
      // Steps also shrink from one accepted step to the next.
      if (!(wanted >= m.control.smallest_step_s)) {
        throw NumericsError(too_small(m.control, t));
      }
      const double left = t_end_s - t;
      // Two even steps beat a long one and a sliver.
      double h = wanted >= left ? left : (wanted > 0.5 * left ? 0.5 * left : wanted);
      const bool cut = h < wanted;
      const double tried = h;
      if (m.stepper.try_step(rates, y, t, h) == odeint::success) {
        m.next_step_s = cut ? std::max(h, wanted) : h;
        break;
      }
      ++m.rejected;
      wanted = std::min(h, 0.9 * tried);
    }
    if (t_end_s - t <= close) {
      t = t_end_s;
    }
    m.end_step(t, y);
  }
}

long Integrator::steps() const {
  return impl_->one_lane ? impl_->one_lane->stepper().steps(0) : impl_->steps;
}
long Integrator::rejected() const {
  return impl_->one_lane ? impl_->one_lane->stepper().rejected(0) : impl_->rejected;
}
long Integrator::rate_calls() const {
  return impl_->one_lane ? impl_->one_lane->stepper().rate_calls() : impl_->calls;
}

} // namespace heapcast::engine
