#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace heapcast::engine {

enum class FaceKind : std::uint8_t {
  inner,   ///< between two cells
  surface, ///< open top and sides
  wall,    ///< side wall of a container
  ground   ///< underside
};

/// How a mesh grows: `plan` stretches x (and y where the shape is round), `height` stretches z.
struct MeshScale {
  double plan = 1.0;
  double height = 1.0;
};

/// Finite-volume mesh of a body of revolution or of a prism: cells and faces as arrays.
///
/// Geometry is kept at unit scale and scaled on demand, so that a body may sink or be re-formed
/// without a new mesh. A face has a vector area A, pointing from `cell_a` outwards or to `cell_b`,
/// and a vector d from the centre of a to that of b, or to the middle of a boundary face. The
/// two-point transmissibility [m] is |A|/|d| between cells, |A|^2/(d.A) on the boundary. All are
/// the same where d is normal to the face. Nested sections are skewed, which refining does not
/// heal: between cells |A|^2/(d.A) makes a heated triangular prism 17 % too cool at the core,
/// |A|/|d| 5 %.
struct Mesh {
  // cells
  std::vector<double> volume_m3;
  std::vector<double> x_m;     ///< centroid of the cell's section, distance from the axis
  std::vector<double> z_m;     ///< centroid of the cell's section, above ground
  std::vector<double> depth_m; ///< shortest distance from the centroid to the open surface
  std::vector<std::vector<double>> outline_x_m, outline_z_m; ///< corners in the section plane

  // faces
  std::vector<int> cell_a;
  std::vector<int> cell_b; ///< -1 on the boundary
  std::vector<FaceKind> kind;
  std::vector<double> area_x_m2, area_z_m2; ///< vector area
  std::vector<double> distance_x_m, rise_m; ///< d, outwards and upwards
  std::vector<double> plan_area_m2;         ///< share of the horizontal projection (surface faces)

  /// Cells in the order in which new material buries old: one list per column of a container,
  /// one list from the middle outwards for a free-standing body.
  std::vector<std::vector<int>> stacks;

  bool round = false;  ///< true: `plan` stretches two directions
  double height_m = 0; ///< of the whole body at unit scale
  double plan_area_total_m2 = 0;

  [[nodiscard]] std::size_t cells() const { return volume_m3.size(); }
  [[nodiscard]] std::size_t faces() const { return cell_a.size(); }
  [[nodiscard]] double total_volume_m3() const;

  [[nodiscard]] double volume_scale(const MeshScale& s) const {
    return s.plan * s.height * (round ? s.plan : 1.0);
  }
  [[nodiscard]] double transmissibility_m(std::size_t f, const MeshScale& s) const;
  /// |A| of face f [m2].
  [[nodiscard]] double area_m2(std::size_t f, const MeshScale& s) const;
  [[nodiscard]] double plan_area_m2_at(std::size_t f, const MeshScale& s) const {
    return plan_area_m2[f] * s.plan * (round ? s.plan : 1.0);
  }
};

/// Outline of a free-standing body from the toe (x = 1, z = 0) to the crown (x = 0, z = 1).
enum class SectionProfile { parabola, triangle, trapezoid };

/// Shells nested inside the outline and sectors from toe to crown; the innermost shell is one cell.
struct SectionResolution {
  int shells = 9;
  int sectors = 12;
};

struct PrismShape {
  double height_m, base_width_m, top_width_m, length_m;
  SectionProfile profile = SectionProfile::parabola;
  bool full_section = false; ///< both sides of the symmetry plane
};

struct MoundShape {
  double height_m, base_diameter_m;
  SectionProfile profile = SectionProfile::parabola;
};

struct ContainerShape {
  double fill_height_m;
  double plan_area_m2;
  double perimeter_m; ///< of the walls; a circle's for a cylinder, longer for a box
};

struct LumpShape {
  double volume_m3, height_m, surface_area_m2, ground_area_m2;
};

/// Prism: the section times its length; the two ends widen the surface faces' area.
[[nodiscard]] Mesh make_prism(const PrismShape& shape, SectionResolution resolution);
/// Body of revolution: dome or cone.
[[nodiscard]] Mesh make_mound(const MoundShape& shape, SectionResolution resolution);
/// Container as rings times layers; a box is the cylinder of equal plan area whose wall area
/// is that of the box.
[[nodiscard]] Mesh make_container(const ContainerShape& shape, int rings, int layers);
/// One well-mixed cell.
[[nodiscard]] Mesh make_lump(const LumpShape& shape);

} // namespace heapcast::engine
