#pragma once

#include "engine/lane_solvers.hpp"
#include "models/pile_workspace.hpp"

#include <span>
#include <vector>

namespace heapcast::models {

/// What the balance is made of, one array per quantity.
struct OxygenArrays {
  OxygenArrays(std::size_t cells, std::size_t faces);

  std::vector<double> into_a, into_b; ///< per face: G from b (or outside) into a, and back
  std::vector<double> minus_into_a, minus_into_b;
  std::vector<double> conductance;  ///< per cell: of diffusion, per metre of transmissibility
  std::vector<double> loss;         ///< per cell: sum of G into it
  std::vector<double> gain_outside; ///< per cell: G from outside times outside oxygen
  std::vector<double> net, diagonal, step, start, storage;
};

/// Pore oxygen x [mol per mol dry gas] of every cell: upwind advection, diffusion and Monod uptake,
///
///   n dx/dt = sum_f G_f (x_neighbour - x) - R x/(K + x),
///
/// n the pore gas [mol], G_f what flows in plus what diffuses [mol/s]. Carbon dioxide replaces the
/// oxygen used mole for mole, so dry gas is conserved.
template <int lanes> class PoreOxygenBalance {
public:
  PoreOxygenBalance(const LaneSite<lanes>& site, const engine::Mesh& mesh);

  /// Conductances from flow, structure and weather; call before the others.
  void set_transport(const LaneWorkspace<lanes>& w);

  /// Solves the balance with storage implicit over `since_s` seconds from `oxygen_before` into
  /// `oxygen`: BDF2 along the slope of the last step, backward Euler where there is none. To 1e-7
  /// by Newton's method. With since_s = 0 oxygen stays as it was. Without convergence it throws
  /// NumericsError, or with several lanes leaves a NaN in the lane; a state with NaN passes through
  /// for the step control to reject. No lane's result depends on another lane.
  void solve(const PerLane<double, lanes>& since_s, LaneWorkspace<lanes>& w);

  /// dx/dt of the same balance for given x; for solvers that integrate oxygen as a state.
  void rates(const LaneWorkspace<lanes>& w, std::span<const double> x, std::span<double> dxdt);

private:
  const LaneSite<lanes>& site_;
  engine::LaneLu<lanes> lu_;
  OxygenArrays arrays_;
};

/// Sets `oxygen_factor` x/(K + x) from `oxygen`.
void oxygen_factors(const LaneSite<1>& site, LaneWorkspace<1>& w);
void oxygen_factors(const LaneSite<run_lanes>& site, LaneWorkspace<run_lanes>& w);

} // namespace heapcast::models
