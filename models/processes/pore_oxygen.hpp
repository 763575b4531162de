#pragma once

#include "engine/neighbour_lu.hpp"
#include "models/pile_workspace.hpp"

#include <span>
#include <vector>

namespace heapcast::models {

/// Pore oxygen x [mol per mol dry gas] of every cell: upwind advection, diffusion and Monod uptake,
///
///   n dx/dt = sum_f G_f (x_neighbour - x) - R x/(K + x),
///
/// n the pore gas [mol], G_f what flows in plus what diffuses [mol/s]. Carbon dioxide replaces the
/// oxygen used mole for mole, so dry gas is conserved.
class PoreOxygenBalance {
public:
  explicit PoreOxygenBalance(const PileSite& site);

  /// Conductances from flow, structure and weather; call before the others.
  void set_transport(const Workspace& w);

  /// Solves the balance with storage implicit over `since_s` seconds from `oxygen_before` into
  /// `oxygen`: BDF2 along the slope of the last step, backward Euler where there is none. To 1e-7
  /// by Newton's method with the factors of an earlier call while they serve. With since_s = 0
  /// oxygen stays as it was. Throws NumericsError without convergence; a state with NaN passes
  /// through for the step control to reject.
  void solve(double since_s, Workspace& w);

  /// dx/dt of the same balance for given x; for solvers that integrate oxygen as a state.
  void rates(const Workspace& w, std::span<const double> x, std::span<double> dxdt) const;

private:
  /// sum_f G_f (x_neighbour - x) [mol/s] of every cell into `net_`.
  void transport(std::span<const double> x) const;

  const PileSite& site_;
  engine::NeighbourLu lu_;
  bool factored_ = false;
  std::vector<double> into_a_, into_b_; ///< per face: G from b (or outside) into a, and back
  std::vector<double> loss_;            ///< per cell: sum of G into it
  std::vector<double> gain_outside_;    ///< per cell: G from outside times outside oxygen
  mutable std::vector<double> net_;
  std::vector<double> diagonal_, minus_into_a_, minus_into_b_, step_, start_;
};

/// Sets `oxygen_factor` x/(K + x) from `oxygen`.
void oxygen_factors(Workspace& w);

} // namespace heapcast::models
