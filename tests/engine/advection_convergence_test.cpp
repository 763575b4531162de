// Transport by flow and diffusion on a mesh: what upwind costs and exponential fitting saves.

#include "engine/exponential_fitting.hpp"
#include "engine/neighbour_lu.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
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
  double largest_error, thickest_layer, lowest, highest;
};

/// What the flow carries over a face: the value of the cell it comes from, or of both, fitted.
enum class FaceValue { upwind, fitted };

/// The flow rises through a column of one ring.
Transport rising_flow(int layers, FaceValue face_value) {
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
      const double upstream = face_value == FaceValue::upwind
                                  ? 1.0
                                  : ExponentialFitting(std::abs(flow) / mixing).upstream_share;
      const double share_a = flow > 0.0 ? upstream : 1.0 - upstream;
      diagonal[a] += share_a * flow + mixing;
      from_b[f] = (1.0 - share_a) * flow - mixing;
      diagonal[static_cast<std::size_t>(mesh.cell_b[f])] += mixing - (1.0 - share_a) * flow;
      from_a[f] = -share_a * flow - mixing;
    } else {
      // On the boundary the value is known: 1 on the ground, 0 on top, where the flow leaves with
      // the cell's own value when upwind, with that of the boundary when fitted.
      const double outside = mesh.kind[f] == FaceKind::ground ? 1.0 : 0.0;
      const bool own_value = face_value == FaceValue::upwind && flow > 0.0;
      diagonal[a] += mixing + (own_value ? flow : 0.0);
      y[a] += (mixing - (own_value ? 0.0 : flow)) * outside;
    }
  }
  NeighbourLu lu(mesh);
  EXPECT_TRUE(lu.factor(diagonal, from_b, from_a));
  lu.solve(y);
  const ClosedForm truth;
  const auto [lowest, highest] = std::minmax_element(y.begin(), y.end());
  Transport result{0.0, 0.0, *lowest, *highest};
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    result.largest_error =
        std::max(result.largest_error, std::abs(y[i] - truth.value(mesh.z_m[i])));
    result.thickest_layer = std::max(result.thickest_layer, mesh.volume_m3[i]); // plan area 1
  }
  return result;
}

/// For reports: the error in the test's results file.
void record(const std::string& scheme, int layers, double error) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.6e", error);
  testing::Test::RecordProperty("advection-diffusion-reaction, " + scheme + " " +
                                    std::to_string(layers),
                                std::string(text.data()));
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
    const Transport t = rising_flow(layers, FaceValue::upwind);
    record("upwind", layers, t.largest_error);
    EXPECT_LT(t.largest_error, velocity * t.thickest_layer / 2.0 * curvature / decay);
    if (coarse > 0.0) {
      const double order = std::log2(coarse / t.largest_error);
      std::printf("upwind, %d layers: error %.2e, order %.2f\n", layers, t.largest_error, order);
      EXPECT_NEAR(order, 1.0, 0.05); // cell Péclet numbers are 0.1 and less: the limit is near
    }
    coarse = t.largest_error;
  }
}

TEST(AdvectionConvergence, ExponentialFittingIsOfSecondOrder) {
  double coarse = rising_flow(50, FaceValue::fitted).largest_error;
  record("fitted", 50, coarse);
  for (const int layers : {100, 200, 400}) {
    const double fine = rising_flow(layers, FaceValue::fitted).largest_error;
    const double order = std::log2(coarse / fine);
    record("fitted", layers, fine);
    std::printf("fitted, %d layers: error %.2e, order %.2f; upwind %.2e\n", layers, fine, order,
                rising_flow(layers, FaceValue::upwind).largest_error);
    EXPECT_NEAR(order, 2.0, 0.1);
    coarse = fine;
  }
}

TEST(AdvectionConvergence, ExponentialFittingMakesNoNewExtremeOnACoarseMesh) {
  for (const int layers : {2, 3, 6, 12, 25}) { // cell Péclet numbers from 5 to 0.4
    const Transport t = rising_flow(layers, FaceValue::fitted);
    EXPECT_GE(t.lowest, 0.0) << layers;
    EXPECT_LE(t.highest, 1.0) << layers;
  }
}

TEST(AdvectionConvergence, ExponentialFittingFollowsTheBernoulliFunctionAndKeepsWeightsPositive) {
  for (const double peclet : {1e-8, 1e-3, 0.1, 0.5, 1.0, 2.0, 5.0, 20.0, 1e3, 1e9}) {
    const ExponentialFitting fit(peclet);
    const double exact = peclet < 700.0 ? peclet / std::expm1(peclet) : 0.0;
    // The series is cut behind Pe^3: beyond Pe of 1 more diffusion is left than in the exact one.
    EXPECT_NEAR(fit.diffusion_share, exact, peclet <= 0.1 ? 1e-6 : 0.06) << peclet;
    EXPECT_GE(fit.diffusion_share, exact) << peclet;
    // Both forms are the same flux: D + w Pe on the upstream cell, D - (1 - w) Pe downstream.
    const double held = std::min(peclet, 1e6);
    EXPECT_NEAR(1.0 - (1.0 - fit.upstream_share) * held, fit.diffusion_share, 1e-9) << peclet;
    EXPECT_GE(fit.upstream_share, 0.5) << peclet;
    EXPECT_LE(fit.upstream_share, 1.0) << peclet;
  }
  EXPECT_EQ(ExponentialFitting(0.0).upstream_share, 0.5);
  EXPECT_EQ(ExponentialFitting(0.0).diffusion_share, 1.0);
}

} // namespace
} // namespace heapcast::engine
