#include "models/operations/build.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <utility>

namespace heapcast::models {
namespace {

Shape shape_of(ShapeKind kind) {
  Shape shape;
  shape.kind = kind;
  return complete_shape(shape, 3.0);
}

std::size_t cells(const Shape& shape, Resolution resolution) {
  return build_mesh(shape, 3.0, resolution).cells();
}

TEST(BuildMesh, ResolutionsAreAbout25And100And400Cells) {
  for (const ShapeKind kind : {ShapeKind::windrow, ShapeKind::heap, ShapeKind::bin}) {
    const Shape shape = shape_of(kind);
    for (const auto& [resolution, wanted] :
         {std::pair{Resolution::coarse, 25.0}, std::pair{Resolution::standard, 100.0},
          std::pair{Resolution::fine, 400.0}}) {
      // "About": within 5 % of the round number.
      EXPECT_NEAR(static_cast<double>(cells(shape, resolution)), wanted, 0.05 * wanted)
          << "shape " << static_cast<int>(kind);
    }
  }
}

TEST(BuildMesh, OneCellIsOneCellAtEveryResolution) {
  const Shape shape = shape_of(ShapeKind::one_cell);
  for (const Resolution r : {Resolution::coarse, Resolution::standard, Resolution::fine}) {
    EXPECT_EQ(cells(shape, r), 1U);
  }
}

TEST(BuildMesh, WindExposedWindrowHasBothSides) {
  // The core is shared, all other cells come twice.
  Shape shape = shape_of(ShapeKind::windrow);
  const std::size_t half = cells(shape, Resolution::standard);
  shape.wind_exposed = true;
  EXPECT_EQ(cells(shape, Resolution::standard), 2 * half - 1);
}

TEST(BuildMesh, BodiesHoldTheVolumeTheyWereSizedFor) {
  // The polygon of 12 sectors lacks less than 1 % of a parabola; a bin is exact.
  for (const ShapeKind kind : {ShapeKind::windrow, ShapeKind::heap, ShapeKind::bin}) {
    const double volume = build_mesh(shape_of(kind), 3.0, Resolution::standard).total_volume_m3();
    EXPECT_LE(volume, 3.0 * (1.0 + 1e-12)) << static_cast<int>(kind);
    EXPECT_GE(volume, 3.0 * (kind == ShapeKind::bin ? 1.0 - 1e-12 : 0.99))
        << static_cast<int>(kind);
  }
}

} // namespace
} // namespace heapcast::models
