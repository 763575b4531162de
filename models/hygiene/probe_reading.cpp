#include "models/hygiene/probe_reading.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace heapcast::models {

namespace {

std::size_t deepest_cell(const engine::Mesh& mesh) {
  return static_cast<std::size_t>(std::max_element(mesh.depth_m.begin(), mesh.depth_m.end()) -
                                  mesh.depth_m.begin());
}

} // namespace

std::vector<CellShare> cells_at_depth(const engine::Mesh& mesh, const engine::MeshScale& scale,
                                      double depth_m) {
  const double depth = depth_m / scale.height; // at the mesh's own scale
  std::vector<CellShare> read;
  double total = 0.0;
  const auto add = [&](std::size_t cell, double weight) {
    read.push_back({cell, weight});
    total += weight;
  };
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double depth_a = mesh.depth_m[a];
    if (mesh.kind[f] == engine::FaceKind::surface && depth < depth_a) {
      add(a, mesh.area_m2(f, scale));
    }
    if (mesh.kind[f] != engine::FaceKind::inner) {
      continue;
    }
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double down = mesh.depth_m[b] - depth_a;
    const double part = (depth - depth_a) / down; // of the way from a to b
    if (down != 0.0 && part >= 0.0 && part < 1.0) {
      const double way = std::hypot(mesh.distance_x_m[f], mesh.rise_m[f]);
      const double weight = mesh.area_m2(f, scale) * std::abs(down) / way;
      add(a, weight * (1.0 - part));
      add(b, weight * part);
    }
  }
  if (!(total > 0.0)) {
    return {{deepest_cell(mesh), 1.0}};
  }
  for (CellShare& one : read) {
    one.share /= total;
  }
  return read;
}

std::vector<CellShare> cells_down_the_middle(const engine::Mesh& mesh,
                                             const engine::MeshScale& scale, double depth_m) {
  const double depth = depth_m / scale.height;
  const auto distance = [&](const std::vector<int>& stack) {
    return mesh.x_m[static_cast<std::size_t>(stack.front())];
  };
  std::vector<int> column = *std::min_element(
      mesh.stacks.begin(), mesh.stacks.end(),
      [&](const auto& one, const auto& other) { return distance(one) < distance(other); });
  const auto depth_of = [&](int cell) { return mesh.depth_m[static_cast<std::size_t>(cell)]; };
  std::sort(column.begin(), column.end(),
            [&](int one, int other) { return depth_of(one) < depth_of(other); });
  const auto below =
      std::find_if(column.begin(), column.end(), [&](int cell) { return depth_of(cell) >= depth; });
  if (below == column.begin() || below == column.end()) {
    const int end = below == column.begin() ? column.front() : column.back();
    return {{static_cast<std::size_t>(end), 1.0}};
  }
  const int above = *(below - 1);
  const double part = (depth - depth_of(above)) / (depth_of(*below) - depth_of(above));
  return {{static_cast<std::size_t>(above), 1.0 - part}, {static_cast<std::size_t>(*below), part}};
}

std::size_t core_cell(const engine::Mesh& mesh) {
  const bool walled =
      std::find(mesh.kind.begin(), mesh.kind.end(), engine::FaceKind::wall) != mesh.kind.end();
  const double radius_m = walled ? std::sqrt(mesh.plan_area_total_m2 / std::numbers::pi)
                                 : std::numeric_limits<double>::infinity();
  std::size_t core = 0;
  double farthest_m = -1.0;
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    const double inside_m =
        std::min({mesh.depth_m[i], mesh.z_m[i], radius_m - std::abs(mesh.x_m[i])});
    if (inside_m > farthest_m) {
      farthest_m = inside_m;
      core = i;
    }
  }
  return core;
}

} // namespace heapcast::models
