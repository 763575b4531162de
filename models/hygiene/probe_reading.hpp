#pragma once

#include "engine/mesh.hpp"

#include <cstddef>
#include <vector>

namespace heapcast::models {

/// A cell's part in what a probe reads.
struct CellShare {
  std::size_t cell;
  double share; ///< shares of one probe sum to 1
};

/// Which cells a probe reads at a depth below the surface of a free-standing pile: all places at
/// that depth, as the mean of many thermometers. Every two neighbours with the depth between theirs
/// are read linearly in depth; their weight is the area of the surface at that depth between them,
/// the face's area by how much of the way across it is downwards. Above the outermost cells'
/// centres those cells are read, beyond the deepest place that place.
/// `scale` is the pile as sunk by now; depths shrink with its height.
[[nodiscard]] std::vector<CellShare> cells_at_depth(const engine::Mesh& mesh,
                                                    const engine::MeshScale& scale, double depth_m);

/// The same in a bin: straight down in the middle, linear between the layers of the innermost ring.
[[nodiscard]] std::vector<CellShare>
cells_down_the_middle(const engine::Mesh& mesh, const engine::MeshScale& scale, double depth_m);

/// The cell that a probe at the core reads: the place farthest from everything outside, be it the
/// open surface, the ground or a wall.
[[nodiscard]] std::size_t core_cell(const engine::Mesh& mesh);

} // namespace heapcast::models
