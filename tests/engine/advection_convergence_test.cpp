// Upwind transport on a mesh: what the first-order scheme costs.

#include "engine/neighbour_lu.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <vector>

namespace heapcast::engine {
namespace {

constexpr double velocity = 1.0;
constexpr double diffusivity = 0.1;
constexpr double decay = 1.0;

/// D y'' - v y' - k y = 0 on 0..1 with y(0) = 1 and y(1) = 0: a exp(r1 z) + b exp(r2 z).
class ClosedForm {
public:
  ClosedForm() {
    const double root = std::sqrt(velocity * velocity + 4.0 * diffusivity * decay);
    r1_ = (velocity + root) / (2.0 * diffusivity);
    r2_ = (velocity - root) / (2.0 * diffusivity);
    a_ = -std::exp(r2_) / (std::exp(r1_) - std::exp(r2_));
    b_ = 1.0 - a_;
  }
  [[nodiscard]] double value(double z) const {
    return a_ * std::exp(r1_ * z) + b_ * std::exp(r2_ * z);
  }
  [[nodiscard]] double curvature(double z) const {
    return a_ * r1_ * r1_ * std::exp(r1_ * z) + b_ * r2_ * r2_ * std::exp(r2_ * z);
  }

private:
  double r1_, r2_, a_, b_;
};

struct Transport {
  double largest_error, thickest_layer;
};

/// The flow rises through a column of one ring. What crosses a face has the value of the cell it
/// comes from when `upwind`, otherwise the mean of both sides.
Transport rising_flow(int layers, bool upwind) {
  const Mesh mesh =
      make_container({.fill_height_m = 1.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 1, layers);
  std::vector<double> diagonal(mesh.cells());
  std::vector<double> from_b(mesh.faces(), 0.0);
  std::vector<double> from_a(mesh.faces(), 0.0);
  std::vector<double> y(mesh.cells(), 0.0);
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    diagonal[i] = decay * mesh.volume_m3[i];
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double flow = velocity * mesh.area_z_m2[f]; // from a to b, or out
    const double mixing =
        mesh.kind[f] == FaceKind::wall ? 0.0 : diffusivity * mesh.transmissibility_m(f, {});
    if (mesh.cell_b[f] >= 0) {
      const double share_a = upwind ? (flow > 0.0 ? 1.0 : 0.0) : 0.5;
      diagonal[a] += share_a * flow + mixing;
      from_b[f] = (1.0 - share_a) * flow - mixing;
      diagonal[static_cast<std::size_t>(mesh.cell_b[f])] += mixing - (1.0 - share_a) * flow;
      from_a[f] = -share_a * flow - mixing;
    } else {
      // On the boundary the value is known: 1 on the ground, 0 on top, where the flow leaves with
      // the cell's own value when upwind.
      const double outside = mesh.kind[f] == FaceKind::ground ? 1.0 : 0.0;
      diagonal[a] += mixing + (upwind ? std::max(flow, 0.0) : 0.0);
      y[a] += (mixing - (upwind ? std::min(flow, 0.0) : flow)) * outside;
    }
  }
  NeighbourLu lu(mesh);
  EXPECT_TRUE(lu.factor(diagonal, from_b, from_a));
  lu.solve(y);
  const ClosedForm truth;
  Transport result{0.0, 0.0};
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    result.largest_error =
        std::max(result.largest_error, std::abs(y[i] - truth.value(mesh.z_m[i])));
    result.thickest_layer = std::max(result.thickest_layer, mesh.volume_m3[i]); // plan area 1
  }
  return result;
}

TEST(AdvectionConvergence, UpwindIsOfFirstOrderAndBoundedByItsNumericalDiffusion) {
  // An upwind face takes the value h/2 further back, which is diffusion by v h/2. By the maximum
  // principle the error is at most the largest v h/2 |y''| over the decay.
  const ClosedForm truth;
  double curvature = 0.0;
  for (int i = 0; i <= 1000; ++i) {
    curvature = std::max(curvature, std::abs(truth.curvature(1e-3 * i)));
  }
  double coarse = 0.0;
  for (const int layers : {100, 200, 400, 800}) {
    const Transport t = rising_flow(layers, true);
    EXPECT_LT(t.largest_error, velocity * t.thickest_layer / 2.0 * curvature / decay);
    if (coarse > 0.0) {
      const double order = std::log2(coarse / t.largest_error);
      std::printf("upwind, %d layers: error %.2e, order %.2f\n", layers, t.largest_error, order);
      EXPECT_NEAR(order, 1.0, 0.05); // cell Péclet numbers are 0.1 and less: the limit is near
    }
    coarse = t.largest_error;
  }
}

TEST(AdvectionConvergence, MeanFaceValuesAreOfSecondOrder) {
  // The same problem without the upwind step back: what order there is left in mesh and diffusion.
  const double coarse = rising_flow(100, false).largest_error;
  const double fine = rising_flow(200, false).largest_error;
  std::printf("mean, 200 layers: error %.2e, order %.2f\n", fine, std::log2(coarse / fine));
  EXPECT_NEAR(std::log2(coarse / fine), 2.0, 0.1);
}

} // namespace
} // namespace heapcast::engine
