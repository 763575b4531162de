#include "engine/mesh.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <numbers>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::engine {
namespace {

constexpr double pi = std::numbers::pi;

// Sums over some hundred terms of double precision: 1e-12 of the result is a thousand roundings.
constexpr double rounding = 1e-12;

struct NamedMesh {
  std::string name;
  Mesh mesh;
  double length_m; ///< of a prism, twice for a half section; 0 for a body of revolution
};

NamedMesh prism(SectionProfile profile, bool full, SectionResolution resolution = {}) {
  constexpr double length_m = 7.0;
  return {"prism " + std::to_string(static_cast<int>(profile)) + (full ? " full" : " half"),
          make_prism({.height_m = 1.3,
                      .base_width_m = 2.9,
                      .top_width_m = 1.1,
                      .length_m = length_m,
                      .profile = profile,
                      .full_section = full},
                     resolution),
          full ? length_m : 2.0 * length_m};
}

NamedMesh mound(SectionProfile profile, SectionResolution resolution = {}) {
  return {"mound " + std::to_string(static_cast<int>(profile)),
          make_mound({.height_m = 1.3, .base_diameter_m = 2.2, .profile = profile}, resolution),
          0.0};
}

constexpr ContainerShape cylinder{
    .fill_height_m = 0.9, .plan_area_m2 = 0.25 * pi, .perimeter_m = pi};
constexpr ContainerShape box{.fill_height_m = 0.9, .plan_area_m2 = 1.2 * 0.8, .perimeter_m = 4.0};

/// Every builder that divides its body into cells.
std::vector<NamedMesh> all_meshes() {
  std::vector<NamedMesh> meshes;
  for (const auto profile :
       {SectionProfile::parabola, SectionProfile::triangle, SectionProfile::trapezoid}) {
    for (const bool full : {false, true}) {
      meshes.push_back(prism(profile, full));
    }
  }
  meshes.push_back(mound(SectionProfile::parabola));
  meshes.push_back(mound(SectionProfile::triangle));
  meshes.push_back({"cylinder", make_container(cylinder, 4, 6), 0.0});
  meshes.push_back({"box", make_container(box, 4, 6), 0.0});
  return meshes;
}

double sum(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0);
}

/// Area of all faces of one kind.
double area_of(const Mesh& mesh, FaceKind kind) {
  double area = 0.0;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    area += mesh.kind[f] == kind ? mesh.area_m2(f, {}) : 0.0;
  }
  return area;
}

/// Area of a cell's outline in the section plane.
double outline_area(const Mesh& mesh, std::size_t cell) {
  const auto& x = mesh.outline_x_m[cell];
  const auto& z = mesh.outline_z_m[cell];
  double twice = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const std::size_t j = (i + 1) % x.size();
    twice += x[i] * z[j] - x[j] * z[i];
  }
  return 0.5 * twice;
}

/// By how much a boundary face is wider than its place in the section: the ends of a prism, the
/// corners of a box.
double widening(const NamedMesh& named, std::size_t f) {
  const Mesh& mesh = named.mesh;
  if (mesh.kind[f] == FaceKind::surface && mesh.plan_area_m2[f] > 0.0) {
    return mesh.area_z_m2[f] / mesh.plan_area_m2[f];
  }
  if (mesh.kind[f] == FaceKind::wall) {
    return named.name == "box" ? box.perimeter_m / (2.0 * std::sqrt(pi * box.plan_area_m2)) : 1.0;
  }
  return 1.0;
}

/// Sum of the outward vector areas of each cell, without widening.
struct VectorSum {
  std::vector<double> x, z;
};

VectorSum vector_sums(const NamedMesh& named) {
  const Mesh& mesh = named.mesh;
  VectorSum s{std::vector<double>(mesh.cells(), 0.0), std::vector<double>(mesh.cells(), 0.0)};
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double w = widening(named, f);
    s.x[a] += mesh.area_x_m2[f] / w;
    s.z[a] += mesh.area_z_m2[f] / w;
    if (mesh.cell_b[f] >= 0) {
      const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
      s.x[b] -= mesh.area_x_m2[f];
      s.z[b] -= mesh.area_z_m2[f];
    }
  }
  return s;
}

TEST(Mesh, TriangularBodiesHaveTheirClosedFormVolumes) {
  // The outline is made of straight lines, so the polygons fill the body exactly.
  for (const bool full : {false, true}) {
    const Mesh mesh = prism(SectionProfile::triangle, full).mesh;
    EXPECT_NEAR(mesh.total_volume_m3(), 0.5 * 1.3 * 2.9 * 7.0, 13.2 * rounding);
  }
  const Mesh cone = mound(SectionProfile::triangle).mesh;
  EXPECT_NEAR(cone.total_volume_m3(), pi * 1.1 * 1.1 * 1.3 / 3.0, 1.65 * rounding);
}

TEST(Mesh, ParabolicBodiesLackNoMoreThanThePolygonError) {
  // z = H (1 - x²/R²); a chord that spans dx cuts off H dx³ / (6 R²). Together, with dx at most the
  // step along the arc, itself at most (R + H)/sectors: of the prism's section 4/3 H R at most
  // (dx/R)²/4, of the paraboloid's volume pi R² H/2 at most (dx/R)²/3.
  const SectionResolution resolution{.shells = 5, .sectors = 11};
  const double full_section = 2.0 / 3.0 * 1.3 * 2.9 * 7.0;
  for (const bool full : {false, true}) {
    const double missing =
        1.0 -
        prism(SectionProfile::parabola, full, resolution).mesh.total_volume_m3() / full_section;
    const double dx = (1.45 + 1.3) / 11.0 / 1.45;
    EXPECT_GT(missing, 0.0);
    EXPECT_LT(missing, dx * dx / 4.0);
  }
  const double missing = 1.0 - mound(SectionProfile::parabola, resolution).mesh.total_volume_m3() /
                                   (0.5 * pi * 1.1 * 1.1 * 1.3);
  const double dx = (1.1 + 1.3) / 11.0 / 1.1;
  EXPECT_GT(missing, 0.0);
  EXPECT_LT(missing, dx * dx / 3.0);
}

TEST(Mesh, TrapezoidalPrismLacksNoMoreThanItsCutCorners) {
  // The sector border may miss the corner: a triangle with two sides that add up to one step h
  // along the arc, at most h²/8 on each side.
  const double slope = std::hypot(0.5 * (2.9 - 1.1), 1.3);
  const double h = (slope + 0.5 * 1.1) / 12.0;
  const double whole = 0.5 * (2.9 + 1.1) * 1.3 * 7.0;
  for (const bool full : {false, true}) {
    const double missing = whole - prism(SectionProfile::trapezoid, full).mesh.total_volume_m3();
    EXPECT_GE(missing, -rounding * whole);
    EXPECT_LE(missing, 2.0 * h * h / 8.0 * 7.0);
  }
}

TEST(Mesh, ContainersHaveTheVolumeAndTheWallsOfTheirShape) {
  const Mesh round = make_container(cylinder, 5, 7);
  EXPECT_NEAR(round.total_volume_m3(), 0.25 * pi * 0.9, rounding);
  EXPECT_NEAR(area_of(round, FaceKind::wall), pi * 0.9, 3.0 * rounding);
  const Mesh square = make_container(box, 5, 7);
  EXPECT_NEAR(square.total_volume_m3(), 1.2 * 0.8 * 0.9, rounding);
  EXPECT_NEAR(area_of(square, FaceKind::wall), 4.0 * 0.9, 4.0 * rounding);
  for (const FaceKind end : {FaceKind::surface, FaceKind::ground}) {
    EXPECT_NEAR(area_of(round, end), 0.25 * pi, rounding);
    EXPECT_NEAR(area_of(square, end), 1.2 * 0.8, rounding);
  }
}

TEST(Mesh, LumpKeepsWhatItIsGiven) {
  const Mesh mesh =
      make_lump({.volume_m3 = 2.0, .height_m = 1.2, .surface_area_m2 = 5.0, .ground_area_m2 = 3.0});
  EXPECT_EQ(mesh.cells(), 1U);
  EXPECT_DOUBLE_EQ(mesh.total_volume_m3(), 2.0);
  EXPECT_DOUBLE_EQ(area_of(mesh, FaceKind::surface), 5.0);
  EXPECT_DOUBLE_EQ(area_of(mesh, FaceKind::ground), 3.0);
  EXPECT_DOUBLE_EQ(mesh.plan_area_total_m2, 3.0);
  // Half the height to either side.
  EXPECT_DOUBLE_EQ(mesh.transmissibility_m(0, {}), 5.0 / 0.6);
  EXPECT_DOUBLE_EQ(mesh.transmissibility_m(1, {}), 3.0 / 0.6);
}

TEST(Mesh, PlanAreaIsTheGroundUnderTheBody) {
  const std::vector<double> wanted = {2.9 * 7.0, 2.9 * 7.0, 2.9 * 7.0,      2.9 * 7.0,
                                      2.9 * 7.0, 2.9 * 7.0, pi * 1.1 * 1.1, pi * 1.1 * 1.1,
                                      0.25 * pi, 1.2 * 0.8};
  const auto meshes = all_meshes();
  ASSERT_EQ(meshes.size(), wanted.size());
  for (std::size_t i = 0; i < meshes.size(); ++i) {
    const Mesh& mesh = meshes[i].mesh;
    EXPECT_NEAR(mesh.plan_area_total_m2, wanted[i], rounding * wanted[i]) << meshes[i].name;
    EXPECT_NEAR(sum(mesh.plan_area_m2), wanted[i], rounding * wanted[i]) << meshes[i].name;
    EXPECT_NEAR(area_of(mesh, FaceKind::ground), wanted[i], rounding * wanted[i]) << meshes[i].name;
  }
}

TEST(Mesh, PrismSurfaceIsItsSidesAndTwoUprightEnds) {
  for (const bool full : {false, true}) {
    const Mesh mesh = prism(SectionProfile::triangle, full).mesh;
    const double sides = 2.0 * std::hypot(1.45, 1.3) * 7.0;
    const double ends = 2.0 * 0.5 * 2.9 * 1.3;
    EXPECT_NEAR(area_of(mesh, FaceKind::surface), sides + ends, (sides + ends) * rounding);
  }
}

TEST(Mesh, ConeSurfaceIsPiTimesRadiusTimesSlant) {
  const Mesh mesh = mound(SectionProfile::triangle).mesh;
  const double area = pi * 1.1 * std::hypot(1.1, 1.3);
  EXPECT_NEAR(area_of(mesh, FaceKind::surface), area, area * rounding);
}

TEST(Mesh, CellVolumesAreTheirOutlinesSweptThroughTheBody) {
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      // Pappus: the section's centroid, which is where a cell's centre is, goes round once.
      const double swept = named.length_m > 0.0 ? named.length_m : 2.0 * pi * mesh.x_m[i];
      EXPECT_NEAR(mesh.volume_m3[i], swept * outline_area(mesh, i), rounding)
          << named.name << " cell " << i;
    }
  }
}

TEST(Mesh, FacesOfEachCellCloseItOutwards) {
  // The vector areas of a closed surface add up to nothing. Two closed forms replace what the mesh
  // does not store. The symmetry plane of a half section has no face: the sum points from it, along
  // x, as large as the cell's edge on it. In a body of revolution x is the radius: by the
  // divergence theorem the radial parts add up to the integral of 1/x, 2 pi times the outline.
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    const VectorSum sums = vector_sums(named);
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      double expected_x = 0.0;
      if (mesh.round) {
        expected_x = 2.0 * pi * outline_area(mesh, i);
      } else if (named.name.find("half") != std::string::npos) {
        const auto& x = mesh.outline_x_m[i];
        const auto& z = mesh.outline_z_m[i];
        for (std::size_t k = 0; k < x.size(); ++k) {
          const std::size_t next = (k + 1) % x.size();
          expected_x +=
              x[k] == 0.0 && x[next] == 0.0 ? named.length_m * std::abs(z[next] - z[k]) : 0.0;
        }
      }
      EXPECT_NEAR(sums.x[i], expected_x, 20.0 * rounding) << named.name << " cell " << i;
      EXPECT_NEAR(sums.z[i], 0.0, 20.0 * rounding) << named.name << " cell " << i;
    }
  }
}

/// d.A of a face.
double distance_area(const Mesh& mesh, std::size_t f) {
  return mesh.distance_x_m[f] * mesh.area_x_m2[f] + mesh.rise_m[f] * mesh.area_z_m2[f];
}

TEST(Mesh, DistancesBetweenCentresSpanTheVolume) {
  // Divergence theorem for the position vector r, whose divergence is 2 in a section and 3 in a
  // body of revolution: D V = sum of r.A over a cell's faces. Summed over all cells, what is left
  // of r.A with r from the cell's centre c is d.A on every face: sum of d.A = D V - sum of c.S,
  // with S the sums of vector areas above.
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    const VectorSum sums = vector_sums(named);
    double left = 0.0;
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      left += distance_area(mesh, f) / widening(named, f);
    }
    double right = (mesh.round ? 3.0 : 2.0) * mesh.total_volume_m3();
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      right -= mesh.x_m[i] * sums.x[i] + mesh.z_m[i] * sums.z[i];
    }
    EXPECT_NEAR(left, right, 30.0 * rounding) << named.name;
  }
}

TEST(Mesh, RiseIsTheHeightBetweenWhatAFaceJoins) {
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      const double z_a = mesh.z_m[static_cast<std::size_t>(mesh.cell_a[f])];
      if (mesh.kind[f] == FaceKind::inner) {
        ASSERT_GE(mesh.cell_b[f], 0) << named.name;
        const double z_b = mesh.z_m[static_cast<std::size_t>(mesh.cell_b[f])];
        EXPECT_DOUBLE_EQ(mesh.rise_m[f], z_b - z_a) << named.name;
      } else {
        ASSERT_LT(mesh.cell_b[f], 0) << named.name;
      }
      if (mesh.kind[f] == FaceKind::ground) {
        EXPECT_DOUBLE_EQ(mesh.rise_m[f], -z_a) << named.name; // the ground is at 0
        EXPECT_LT(mesh.area_z_m2[f], 0.0) << named.name;
      }
      if (mesh.kind[f] == FaceKind::surface) {
        EXPECT_GT(mesh.area_z_m2[f], 0.0) << named.name;
      }
      EXPECT_GT(distance_area(mesh, f), 0.0) << named.name;
    }
  }
}

TEST(Mesh, EveryCellIsConnectedWithEveryOther) {
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    std::vector<int> group(mesh.cells());
    std::iota(group.begin(), group.end(), 0);
    const std::function<int(int)> root = [&](int i) {
      return group[static_cast<std::size_t>(i)] == i ? i : root(group[static_cast<std::size_t>(i)]);
    };
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      if (mesh.cell_b[f] >= 0) {
        group[static_cast<std::size_t>(root(mesh.cell_a[f]))] = root(mesh.cell_b[f]);
      }
    }
    for (std::size_t i = 0; i < mesh.cells(); ++i) {
      EXPECT_EQ(root(static_cast<int>(i)), root(0)) << named.name << " cell " << i;
    }
  }
}

TEST(Mesh, EachShellLiesDeeperThanTheNext) {
  // Cells are numbered from the core outwards, `sectors` to a shell.
  constexpr std::size_t sectors = 12;
  constexpr std::size_t shells = 9;
  for (const NamedMesh& named : all_meshes()) {
    const Mesh& mesh = named.mesh;
    const std::size_t around = named.name.find("full") != std::string::npos ? 2 * sectors : sectors;
    if (mesh.cells() != 1 + (shells - 1) * around) {
      continue; // a container
    }
    const auto depth = [&](std::size_t shell, std::size_t sector) {
      return mesh.depth_m[1 + (shell - 1) * around + sector];
    };
    for (std::size_t sector = 0; sector < around; ++sector) {
      EXPECT_GT(mesh.depth_m[0], depth(1, sector)) << named.name;
      for (std::size_t shell = 1; shell + 1 < shells; ++shell) {
        EXPECT_GT(depth(shell, sector), depth(shell + 1, sector))
            << named.name << " shell " << shell << " sector " << sector;
      }
      EXPECT_GT(depth(shells - 1, sector), 0.0) << named.name;
    }
  }
}

TEST(Mesh, DepthInAContainerCountsFromTheTop) {
  const Mesh mesh = make_container(cylinder, 4, 6);
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    EXPECT_NEAR(mesh.depth_m[i], 0.9 - mesh.z_m[i], rounding);
  }
}

TEST(Mesh, StacksHoldEveryCellOnce) {
  for (const NamedMesh& named : all_meshes()) {
    std::vector<int> cells;
    for (const auto& stack : named.mesh.stacks) {
      cells.insert(cells.end(), stack.begin(), stack.end());
    }
    std::sort(cells.begin(), cells.end());
    std::vector<int> wanted(named.mesh.cells());
    std::iota(wanted.begin(), wanted.end(), 0);
    EXPECT_EQ(cells, wanted) << named.name;
  }
  for (const auto& column : make_container(cylinder, 4, 6).stacks) {
    ASSERT_EQ(column.size(), 6U);
  }
}

TEST(Mesh, HalfSectionIsTheFullOneFoldedOver) {
  for (const auto profile :
       {SectionProfile::parabola, SectionProfile::triangle, SectionProfile::trapezoid}) {
    const Mesh half = prism(profile, false).mesh;
    const Mesh full = prism(profile, true).mesh;
    EXPECT_NEAR(half.total_volume_m3(), full.total_volume_m3(), 30.0 * rounding);
    EXPECT_NEAR(area_of(half, FaceKind::surface), area_of(full, FaceKind::surface),
                60.0 * rounding);
  }
}

/// What scaling must reproduce: face by face and cell by cell, `scaled` at `scale` is `rebuilt`.
void expect_scaled(const Mesh& scaled, const MeshScale& scale, const Mesh& rebuilt) {
  ASSERT_EQ(scaled.faces(), rebuilt.faces());
  const auto near = [](double got, double wanted) {
    EXPECT_NEAR(got, wanted, 1e-11 * std::abs(wanted)); // narrow cells cancel a few digits
  };
  for (std::size_t i = 0; i < scaled.cells(); ++i) {
    near(scaled.volume_m3[i] * scaled.volume_scale(scale), rebuilt.volume_m3[i]);
  }
  for (std::size_t f = 0; f < scaled.faces(); ++f) {
    near(scaled.transmissibility_m(f, scale), rebuilt.transmissibility_m(f, {}));
    near(scaled.area_m2(f, scale), rebuilt.area_m2(f, {}));
    near(scaled.plan_area_m2_at(f, scale), rebuilt.plan_area_m2[f]);
    EXPECT_NEAR(scaled.rise_m[f] * scale.height, rebuilt.rise_m[f], rounding); // may be zero
  }
}

TEST(Mesh, ScaledContainerEqualsOneBuiltAtThatSize) {
  const MeshScale scale{.plan = 1.3, .height = 0.6};
  for (const ContainerShape& shape : {cylinder, box}) {
    expect_scaled(make_container(shape, 4, 6), scale,
                  make_container({.fill_height_m = shape.fill_height_m * scale.height,
                                  .plan_area_m2 = shape.plan_area_m2 * scale.plan * scale.plan,
                                  .perimeter_m = shape.perimeter_m * scale.plan},
                                 4, 6));
  }
}

TEST(Mesh, ScaledMoundEqualsOneBuiltAtThatSize) {
  // Borders are equally spaced along the outline. A straight outline keeps that under any scale, a
  // bent one only when both directions scale alike.
  const auto check = [](SectionProfile profile, const MeshScale& scale) {
    const MoundShape shape{.height_m = 1.3, .base_diameter_m = 2.2, .profile = profile};
    expect_scaled(make_mound(shape, {}), scale,
                  make_mound({.height_m = shape.height_m * scale.height,
                              .base_diameter_m = shape.base_diameter_m * scale.plan,
                              .profile = profile},
                             {}));
  };
  check(SectionProfile::triangle, {.plan = 1.3, .height = 0.6});
  check(SectionProfile::parabola, {.plan = 0.7, .height = 0.7});
}

TEST(Mesh, ScaledPrismEqualsOneBuiltAtThatSize) {
  // The length stays. So long a prism that its ends, 1e-12 of the surface, do not count: their
  // share is fixed when the mesh is built.
  const auto check = [](SectionProfile profile, bool full, const MeshScale& scale) {
    PrismShape shape{.height_m = 1.3,
                     .base_width_m = 2.9,
                     .top_width_m = 1.1,
                     .length_m = 1e12,
                     .profile = profile,
                     .full_section = full};
    const Mesh mesh = make_prism(shape, {});
    shape.height_m *= scale.height;
    shape.base_width_m *= scale.plan;
    shape.top_width_m *= scale.plan;
    expect_scaled(mesh, scale, make_prism(shape, {}));
  };
  for (const bool full : {false, true}) {
    check(SectionProfile::triangle, full, {.plan = 1.3, .height = 0.6});
    check(SectionProfile::parabola, full, {.plan = 0.7, .height = 0.7});
    check(SectionProfile::trapezoid, full, {.plan = 0.7, .height = 0.7});
  }
}

} // namespace
} // namespace heapcast::engine
