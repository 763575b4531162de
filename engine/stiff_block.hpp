#pragma once

#include "engine/mesh.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace heapcast::engine {

/// A matrix that couples each cell with itself and its neighbours.
struct NeighbourMatrix {
  std::vector<double> diagonal;       ///< one a cell
  std::vector<double> from_b, from_a; ///< per face: entry (a, b) and entry (b, a)

  void resize(std::size_t cells, std::size_t faces) {
    diagonal.assign(cells, 0.0);
    from_b.assign(faces, 0.0);
    from_a.assign(faces, 0.0);
  }
};

/// A stretch of entries of y, one a cell, and the entry that takes what the stretch gives to the
/// outside, so that the sum over both keeps its balance exactly.
struct StiffEntries {
  std::size_t first = 0, sink = 0;
};

/// Where a stiff linear part of a system stands in y: the entries `block`, coupled along the faces
/// of the mesh. It may have a follower: entries that move with the block, so that the rates of both
/// answer to one level, x_i = block_i + weight_i follower_i: what both give on and take along is
/// driven by x alone.
struct StiffLayout {
  StiffEntries block;
  std::optional<StiffEntries> follower;
};

/// The derivatives of such a part. Approximate and lagged values are fine: they cost accuracy
/// nothing but its constant.
struct StiffBlock {
  NeighbourMatrix level;      ///< d (rate of level_i) / d level_j; without a follower the block's
  NeighbourMatrix follower;   ///< d (rate of follower_i) / d level_j; empty when there is none
  std::vector<double> weight; ///< as above; empty when there is no follower

  /// Zeros, for so many cells and faces.
  void resize(std::size_t cells, std::size_t faces, bool has_follower) {
    level.resize(cells, faces);
    follower.resize(has_follower ? cells : 0, has_follower ? faces : 0);
    weight.assign(has_follower ? cells : 0, 0.0);
  }
};

} // namespace heapcast::engine
