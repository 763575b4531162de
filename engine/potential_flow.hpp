#pragma once

#include "engine/lane_solvers.hpp"
#include "engine/mesh.hpp"

#include <span>
#include <vector>

namespace heapcast::engine {

/// Steady flow driven by a potential on a mesh: for every cell the sum over its faces of
///
///   flux_f = g_f (p_a - p_b + drive_f)     (boundary: p_b = 0, drive_f holds the outer potential)
///
/// equals the cell's source. A sparse symmetric positive definite system, solved directly. With
/// several lanes it does so for bodies of one topology side by side, arrays [face][lane] and
/// [cell][lane]; no lane depends on another or on what came before. Not for sharing between
/// threads.
template <int lanes> class PotentialFlow {
public:
  explicit PotentialFlow(const Mesh& mesh);

  /// conductance, drive and flux have one entry per face, source one per cell. At least one
  /// boundary face must be open when sources do not sum to zero. Each cell keeps 1e-12 of the
  /// largest conductance times its potential, which lets a sealed body be solved. For input that
  /// is not finite, or a system that is not positive definite, the fluxes are not finite.
  void solve(std::span<const double> conductance, std::span<const double> drive,
             std::span<const double> source, std::span<double> flux);

private:
  std::vector<int> cell_a_, cell_b_;
  LaneCholesky<lanes> cholesky_;
  std::vector<double> diagonal_, coupling_, potential_;
};

} // namespace heapcast::engine
