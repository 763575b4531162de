#pragma once

#include <functional>
#include <vector>

namespace heapcast::benchmarks {

/// Boost.Odeint's rosenbrock4 with its own step control. Apart from the other steppers because it
/// needs Boost.uBLAS, which Debian 12's version of (1.74) does not compile as C++20: this file and
/// its .cpp are C++17.
class Rosenbrock4 {
public:
  /// dx/dt at t.
  using RightHandSide = std::function<void(double t_s, const double* x, double* dxdt)>;
  Rosenbrock4(double tolerance, RightHandSide f);
  ~Rosenbrock4();
  Rosenbrock4(const Rosenbrock4&) = delete;
  Rosenbrock4& operator=(const Rosenbrock4&) = delete;

  /// One attempt from t with step h; both change. False when the step was turned down.
  bool try_step(std::vector<double>& x, double& t_s, double& h_s);
  [[nodiscard]] long jacobians() const;

private:
  struct Impl;
  Impl* impl_;
};

} // namespace heapcast::benchmarks
