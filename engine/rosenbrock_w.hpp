#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

/// The Rosenbrock W-method that the integrators share, and how they change the step.
namespace heapcast::engine::rosenbrock_w {

inline constexpr std::size_t stages = 4;
using Tableau = std::array<std::array<double, stages>, stages>;

// ROS34PW2, Rang & Angermann 2005: propagation, implicit part, weights, weights of order 2.
inline constexpr double gamma_diagonal = 4.3586652150845900e-01;
inline constexpr Tableau alpha = {{{0, 0, 0, 0},
                                   {8.7173304301691801e-01, 0, 0, 0},
                                   {8.4457060015369423e-01, -1.1299064236484185e-01, 0, 0},
                                   {0, 0, 1, 0}}};
inline constexpr Tableau gamma_table = {
    {{gamma_diagonal, 0, 0, 0},
     {-8.7173304301691801e-01, gamma_diagonal, 0, 0},
     {-9.0338057013044082e-01, 5.4180672388095326e-02, gamma_diagonal, 0},
     {2.4212380706095346e-01, -1.2232505839045147e+00, 5.4526025533510214e-01, gamma_diagonal}}};
inline constexpr std::array<double, stages> weight = {
    2.4212380706095346e-01, -1.2232505839045147e+00, 1.5452602553351020e+00,
    4.3586652150845900e-01};
inline constexpr std::array<double, stages> low_weight = {
    3.7810903145819369e-01, -9.6042292212423178e-02, 5.0000000000000000e-01,
    2.1793326075422950e-01};

/// The method in the variables u = Gamma k, which need no product with the Jacobian:
/// (1/(h gamma) - J) u_i = f(y + sum_j a_ij u_j) + sum_j c_ij u_j / h.
struct Transformed {
  Tableau a{}, c{};
  std::array<double, stages> m{}, error{}, time{};

  Transformed() {
    Tableau inverse{};
    for (std::size_t col = 0; col < stages; ++col) {
      for (std::size_t row = col; row < stages; ++row) {
        double sum = row == col ? 1.0 : 0.0;
        for (std::size_t k = col; k < row; ++k) {
          sum -= gamma_table[row][k] * inverse[k][col];
        }
        inverse[row][col] = sum / gamma_table[row][row];
      }
    }
    for (std::size_t i = 0; i < stages; ++i) {
      for (std::size_t j = 0; j < stages; ++j) {
        time[i] += alpha[i][j];
        for (std::size_t k = 0; k < stages; ++k) {
          a[i][j] += alpha[i][k] * inverse[k][j];
        }
        m[j] += weight[i] * inverse[i][j];
        error[j] += (weight[i] - low_weight[i]) * inverse[i][j];
        c[i][j] = (i == j ? 1.0 / gamma_diagonal : 0.0) - inverse[i][j];
      }
    }
  }
};

/// Factor on a step that was too long; `error` over what is allowed, above 1.
[[nodiscard]] inline double smaller_by(double error, int order) {
  return std::clamp(0.9 * std::pow(error, -1.0 / (order + 1)), 0.2, 0.9);
}

/// Factor on the next step after one that was good.
[[nodiscard]] inline double larger_by(double error, int order) {
  return std::clamp(0.9 * std::pow(std::max(error, 1e-6), -1.0 / (order + 1)), 0.5, 4.0);
}

} // namespace heapcast::engine::rosenbrock_w
