#pragma once

#include "engine/integrator.hpp"
#include "engine/mesh.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <span>
#include <utility>
#include <vector>

namespace heapcast::tests {

/// Exchange of one kind of boundary with a surrounding at value 0: the film's coefficient; 0 closes
/// the boundary, infinity holds its face at 0.
struct Films {
  double surface = 0.0;
  double wall = 0.0;
  double ground = 0.0;

  [[nodiscard]] double of(engine::FaceKind kind) const {
    switch (kind) {
    case engine::FaceKind::surface:
      return surface;
    case engine::FaceKind::wall:
      return wall;
    case engine::FaceKind::ground:
      return ground;
    case engine::FaceKind::inner:
      break;
    }
    return 0.0;
  }
};

inline constexpr double held_at_zero = std::numeric_limits<double>::infinity();

/// Conductance of every face: diffusivity times transmissibility, on the boundary in series with
/// the film over the face's area.
[[nodiscard]] inline std::vector<double> conductances(const engine::Mesh& mesh, double diffusivity,
                                                      const Films& films) {
  std::vector<double> g(mesh.faces());
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    g[f] = diffusivity * mesh.transmissibility_m(f, {});
    if (mesh.cell_b[f] < 0) {
      const double outside = films.of(mesh.kind[f]) * mesh.area_m2(f, {});
      g[f] = std::isinf(outside) ? g[f] : g[f] * outside / (g[f] + outside);
    }
  }
  return g;
}

/// V_i dy_i/dt = sum over faces g (y_b - y_i) + V_i source(t, y_i), with y_b = 0 outside; the last
/// entry of the state counts what left through the boundary. Dimensionless unless said otherwise.
class DiffusionSystem : public engine::OdeSystem {
public:
  /// source(t, y) and its slope d source/dy.
  struct Source {
    std::function<double(double, double)> value, slope;
  };

  DiffusionSystem(const engine::Mesh& mesh, std::vector<double> conductance, Source source = {},
                  double allowed_error = 1e-9)
      : mesh_(mesh), g_(std::move(conductance)), source_(std::move(source)),
        scale_(mesh.cells() + 1, allowed_error) {
    scale_.back() = std::numeric_limits<double>::infinity();
  }

  /// Factors on the off-diagonal entries, the coupling and the source's share of the diagonal of
  /// the block that is handed to the integrator: 1 and 1 is the Jacobian itself, 0 and 0 is none.
  void distort_block(double coupling, double source_slope) {
    coupling_share_ = coupling;
    slope_share_ = source_slope;
  }

  [[nodiscard]] std::size_t size() const override { return mesh_.cells() + 1; }

  void rates(double t_s, std::span<const double> y, std::span<double> dydt) override {
    std::fill(dydt.begin(), dydt.end(), 0.0);
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
      if (mesh_.cell_b[f] >= 0) {
        const auto b = static_cast<std::size_t>(mesh_.cell_b[f]);
        const double flux = g_[f] * (y[a] - y[b]);
        dydt[a] -= flux / mesh_.volume_m3[a];
        dydt[b] += flux / mesh_.volume_m3[b];
      } else {
        dydt[a] -= g_[f] * y[a] / mesh_.volume_m3[a];
        dydt[mesh_.cells()] += g_[f] * y[a];
      }
    }
    if (source_.value) {
      for (std::size_t i = 0; i < mesh_.cells(); ++i) {
        dydt[i] += source_.value(t_s, y[i]);
      }
    }
  }

  void end_step(double t_s, std::span<const double> y) override {
    now_s_ = t_s;
    now_.assign(y.begin(), y.end());
  }

  [[nodiscard]] std::span<const double> error_scale(std::span<const double> /*y*/) override {
    return scale_;
  }

  [[nodiscard]] const engine::Mesh* stiff_mesh() const override { return &mesh_; }

  [[nodiscard]] std::vector<engine::StiffLayout> stiff_layout() const override {
    return {{.block = {.first = 0, .sink = mesh_.cells()}, .follower = {}}};
  }

  void stiff_blocks(std::span<engine::StiffBlock> blocks) override {
    engine::NeighbourMatrix& block = blocks.front().level;
    for (std::size_t i = 0; i < mesh_.cells(); ++i) {
      block.diagonal[i] =
          source_.slope && !now_.empty() ? slope_share_ * source_.slope(now_s_, now_[i]) : 0.0;
    }
    for (std::size_t f = 0; f < mesh_.faces(); ++f) {
      const auto a = static_cast<std::size_t>(mesh_.cell_a[f]);
      block.diagonal[a] -= coupling_share_ * g_[f] / mesh_.volume_m3[a];
      if (mesh_.cell_b[f] >= 0) {
        const auto b = static_cast<std::size_t>(mesh_.cell_b[f]);
        block.diagonal[b] -= coupling_share_ * g_[f] / mesh_.volume_m3[b];
        block.from_b[f] = coupling_share_ * g_[f] / mesh_.volume_m3[a];
        block.from_a[f] = coupling_share_ * g_[f] / mesh_.volume_m3[b];
      }
    }
  }

private:
  const engine::Mesh& mesh_;
  std::vector<double> g_;
  Source source_;
  std::vector<double> scale_, now_;
  double now_s_ = 0.0;
  double coupling_share_ = 1.0;
  double slope_share_ = 1.0;
};

} // namespace heapcast::tests
