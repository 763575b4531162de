#pragma once

#include "engine/mesh.hpp"

#include <memory>
#include <span>

namespace heapcast::engine {

/// Steady flow driven by a potential on a mesh: for every cell the sum over its faces of
///
///   flux_f = g_f (p_a - p_b + drive_f)     (boundary: p_b = 0, drive_f holds the outer potential)
///
/// equals the cell's source. A sparse symmetric positive definite system (Eigen). The Cholesky
/// factor of an earlier set of conductances preconditions a conjugate gradient solve of the present
/// one, so that slowly changing conductances cost no new factor. Not for sharing between threads.
class PotentialFlow {
public:
  explicit PotentialFlow(const Mesh& mesh);
  ~PotentialFlow();
  PotentialFlow(PotentialFlow&&) noexcept;
  PotentialFlow& operator=(PotentialFlow&&) noexcept;

  /// conductance, drive and flux have one entry per face, source one per cell. At least one
  /// boundary face must be open when sources do not sum to zero. Residual 1e-10 of the right-hand
  /// side's norm, where rounding prevents that at most 1e-6; besides, each cell keeps 1e-12 of the
  /// largest conductance times its potential, which lets a sealed body be solved. Throws
  /// NumericsError when the solve fails; for input that is not finite every flux is NaN.
  void solve(std::span<const double> conductance, std::span<const double> drive,
             std::span<const double> source, std::span<double> flux);

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

} // namespace heapcast::engine
