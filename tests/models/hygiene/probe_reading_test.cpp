#include "models/hygiene/probe_reading.hpp"

#include "tests/steps.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace heapcast::models {
namespace {

engine::Mesh windrow_mesh() {
  return engine::make_prism(
      {.height_m = 1.4, .base_width_m = 2.8, .top_width_m = 0.0, .length_m = 10.0}, {9, 12});
}

engine::Mesh bin_mesh() {
  return engine::make_container({.fill_height_m = 1.0, .plan_area_m2 = 1.0, .perimeter_m = 4.0}, 8,
                                12);
}

double reading(const std::vector<CellShare>& cells, const std::vector<double>& values) {
  double sum = 0.0;
  for (const CellShare& one : cells) {
    sum += one.share * values[one.cell];
  }
  return sum;
}

double deepest_skin_m(const engine::Mesh& mesh) {
  double deepest = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.kind[f] == engine::FaceKind::surface) {
      deepest = std::max(deepest, mesh.depth_m[static_cast<std::size_t>(mesh.cell_a[f])]);
    }
  }
  return deepest;
}

TEST(ProbeReading, IsExactWhereTemperatureIsLinearInDepth) {
  const engine::Mesh mesh = windrow_mesh();
  const double deepest = *std::max_element(mesh.depth_m.begin(), mesh.depth_m.end());
  const double shallowest = deepest_skin_m(mesh);
  ASSERT_LT(shallowest, 0.1);
  for (const double depth : tests::steps(shallowest + 0.01, deepest - 0.01, 0.05)) {
    EXPECT_NEAR(reading(cells_at_depth(mesh, {}, depth), mesh.depth_m), depth, 1e-12); // rounding
  }
  const engine::Mesh bin = bin_mesh();
  for (const double depth : tests::steps(0.1, 0.85, 0.05)) {
    EXPECT_NEAR(reading(cells_down_the_middle(bin, {}, depth), bin.depth_m), depth, 1e-12);
  }
}

TEST(ProbeReading, SharesAreOneWhole) {
  const engine::Mesh mesh = windrow_mesh();
  const std::vector<double> ones(mesh.cells(), 1.0);
  for (const double depth : tests::steps(0.0, 2.0, 0.03)) {
    EXPECT_NEAR(reading(cells_at_depth(mesh, {}, depth), ones), 1.0, 1e-12); // rounding
  }
}

TEST(ProbeReading, ReadsTheSkinAtNoDepthAndTheDeepestPlaceBeyondIt) {
  const engine::Mesh mesh = windrow_mesh();
  for (const CellShare& one : cells_at_depth(mesh, {}, 0.0)) {
    EXPECT_LE(mesh.depth_m[one.cell], deepest_skin_m(mesh));
  }
  const auto beyond = cells_at_depth(mesh, {}, 3.0);
  ASSERT_EQ(beyond.size(), 1U);
  EXPECT_EQ(mesh.depth_m[beyond[0].cell],
            *std::max_element(mesh.depth_m.begin(), mesh.depth_m.end()));
  const engine::Mesh bin = bin_mesh();
  EXPECT_LT(bin.depth_m[cells_down_the_middle(bin, {}, 0.0)[0].cell], 0.1);
  EXPECT_GT(bin.depth_m[cells_down_the_middle(bin, {}, 9.0)[0].cell], 0.9);
}

TEST(ProbeReading, AProbeReachesRelativelyDeeperInASunkenPile) {
  const engine::Mesh mesh = windrow_mesh();
  const engine::MeshScale half{.plan = 1.0, .height = 0.5};
  // 30 cm below the surface of the sunken pile is what was 60 cm below it.
  EXPECT_NEAR(reading(cells_at_depth(mesh, half, 0.3), mesh.depth_m), 0.6, 1e-12); // rounding
  const engine::Mesh bin = bin_mesh();
  EXPECT_NEAR(reading(cells_down_the_middle(bin, half, 0.3), bin.depth_m), 0.6, 1e-12);
}

TEST(ProbeReading, ReadsABinInItsMiddle) {
  const engine::Mesh bin = bin_mesh();
  const double nearest = *std::min_element(bin.x_m.begin(), bin.x_m.end());
  for (const CellShare& one : cells_down_the_middle(bin, {}, 0.4)) {
    EXPECT_NEAR(bin.x_m[one.cell], nearest, 1e-12); // rounding of centroids in one ring
  }
}

TEST(ProbeReading, TheCoreIsFarFromSurfaceGroundAndWalls) {
  const engine::Mesh bin = bin_mesh();
  const std::size_t core = core_cell(bin);
  // The middle of the bin, to half a layer of at most 12 cm and half a ring of at most 10 cm.
  EXPECT_NEAR(bin.z_m[core], 0.5, 0.06);
  EXPECT_LT(bin.x_m[core], 0.1);
  const engine::Mesh windrow = windrow_mesh();
  const std::size_t middle = core_cell(windrow);
  EXPECT_GT(windrow.depth_m[middle], 0.4);
  EXPECT_GT(windrow.z_m[middle], 0.4);
  EXPECT_EQ(
      core_cell(engine::make_lump(
          {.volume_m3 = 1.0, .height_m = 1.0, .surface_area_m2 = 3.0, .ground_area_m2 = 1.0})),
      0U);
}

} // namespace
} // namespace heapcast::models
