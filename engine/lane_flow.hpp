#pragma once

#include "engine/lane_solvers.hpp"
#include "engine/mesh.hpp"

#include <span>
#include <vector>

namespace heapcast::engine {

/// PotentialFlow for eight bodies of one topology side by side, arrays [face][lane] and
/// [cell][lane]. A direct solve each time, so that no lane depends on what came before or on another
/// lane; what cannot be solved gives fluxes that are not finite, in its lane.
class LaneFlow {
public:
  static constexpr int lanes = 8;

  explicit LaneFlow(const Mesh& mesh);
  void solve(std::span<const double> conductance, std::span<const double> drive,
             std::span<const double> source, std::span<double> flux);

private:
  std::vector<int> cell_a_, cell_b_;
  LaneCholesky<lanes> cholesky_;
  std::vector<double> diagonal_, coupling_, potential_;
};

} // namespace heapcast::engine
