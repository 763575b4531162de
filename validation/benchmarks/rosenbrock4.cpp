#include "validation/benchmarks/rosenbrock4.hpp"

#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>
#include <boost/numeric/ublas/matrix.hpp>
#include <boost/numeric/ublas/vector.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace heapcast::benchmarks {

namespace odeint = boost::numeric::odeint;
using Vector = boost::numeric::ublas::vector<double>;
using Matrix = boost::numeric::ublas::matrix<double>;

struct Rosenbrock4::Impl {
  odeint::rosenbrock4_controller<odeint::rosenbrock4<double>> stepper;
  RightHandSide f;
  long jacobians = 0;

  Impl(double tolerance, RightHandSide rates) : stepper(tolerance, 0.0), f(std::move(rates)) {}

  /// Dense, by one-sided differences.
  void jacobian(const Vector& x, Matrix& j, double t_s, Vector& dfdt) {
    ++jacobians;
    const std::size_t n = x.size();
    Vector at = x;
    Vector here(n);
    Vector there(n);
    f(t_s, &at[0], &here[0]);
    for (std::size_t k = 0; k < n; ++k) {
      const double step = std::max(1e-7 * std::abs(x[k]), 1e-3); // x is in units of its error scale
      at[k] = x[k] + step;
      f(t_s, &at[0], &there[0]);
      for (std::size_t i = 0; i < n; ++i) {
        j(i, k) = (there[i] - here[i]) / step;
      }
      at[k] = x[k];
    }
    constexpr double time_step_s = 1.0;
    f(t_s + time_step_s, &at[0], &there[0]);
    dfdt = (there - here) / time_step_s;
  }
};

Rosenbrock4::Rosenbrock4(double tolerance, RightHandSide f)
    : impl_(new Impl(tolerance, std::move(f))) {}
Rosenbrock4::~Rosenbrock4() {
  delete impl_;
}

long Rosenbrock4::jacobians() const {
  return impl_->jacobians;
}

bool Rosenbrock4::try_step(std::vector<double>& x, double& t_s, double& h_s) {
  Vector v(x.size());
  std::copy(x.begin(), x.end(), v.begin());
  const auto rates = [this](const Vector& at, Vector& dxdt, double t) {
    impl_->f(t, &at[0], &dxdt[0]);
  };
  const auto jacobian = [this](const Vector& at, Matrix& j, double t, Vector& dfdt) {
    impl_->jacobian(at, j, t, dfdt);
  };
  const bool done =
      impl_->stepper.try_step(std::make_pair(rates, jacobian), v, t_s, h_s) == odeint::success;
  std::copy(v.begin(), v.end(), x.begin());
  return done;
}

} // namespace heapcast::benchmarks
