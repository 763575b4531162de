#pragma once

#include "engine/mesh.hpp"

#include <memory>
#include <span>

namespace heapcast::engine {

/// LU factors (KLU, SuiteSparse) of a matrix that couples each cell with itself and its
/// neighbours. The pattern is analysed once; new values reuse it. Not for sharing between threads.
class NeighbourLu {
public:
  explicit NeighbourLu(const Mesh& mesh);
  ~NeighbourLu();
  NeighbourLu(NeighbourLu&&) noexcept;
  NeighbourLu& operator=(NeighbourLu&&) noexcept;

  /// diagonal: one entry a cell. from_b[f] couples the equation of cell_a[f] to cell_b[f],
  /// from_a[f] the other way; boundary entries are not read. False when singular.
  bool factor(std::span<const double> diagonal, std::span<const double> from_b,
              std::span<const double> from_a);
  /// Replaces `x`, the right-hand side, by the solution. Needs a factor.
  void solve(std::span<double> x);

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

} // namespace heapcast::engine
