#include "engine/mesh.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <stdexcept>

namespace heapcast::engine {

namespace {

struct Point {
  double x, z;
};

constexpr double pi = std::numbers::pi;

/// Share of the way from the axis (0) to the outline (1) of shell border k of n: shells get thinner
/// towards the surface, smoothly, so that refining halves every shell.
double shell_border(int k, int n) {
  constexpr double grading = 1.5;
  const double u = 1.0 - static_cast<double>(k) / n;
  return 1.0 - std::expm1(grading * u) / std::expm1(grading);
}

/// Outline from the toe to the crown in `sectors` steps of equal length along the arc.
std::vector<Point> half_outline(SectionProfile profile, double half_width, double half_top,
                                double height, int sectors) {
  std::vector<Point> fine;
  switch (profile) {
  case SectionProfile::triangle:
    fine = {{half_width, 0.0}, {0.0, height}};
    break;
  case SectionProfile::trapezoid:
    fine = {{half_width, 0.0}, {half_top, height}, {0.0, height}};
    break;
  case SectionProfile::parabola: {
    constexpr int pieces = 2000;
    for (int i = 0; i <= pieces; ++i) {
      const double x = 1.0 - static_cast<double>(i) / pieces;
      fine.push_back({half_width * x, height * (1.0 - x * x)});
    }
    break;
  }
  }
  std::vector<double> arc{0.0};
  for (std::size_t i = 1; i < fine.size(); ++i) {
    arc.push_back(arc.back() + std::hypot(fine[i].x - fine[i - 1].x, fine[i].z - fine[i - 1].z));
  }
  std::vector<Point> outline;
  std::size_t piece = 1;
  for (int j = 0; j <= sectors; ++j) {
    const double at = arc.back() * j / sectors;
    while (piece + 1 < fine.size() && arc[piece] < at) {
      ++piece;
    }
    const double u = (at - arc[piece - 1]) / (arc[piece] - arc[piece - 1]);
    outline.push_back({fine[piece - 1].x + u * (fine[piece].x - fine[piece - 1].x),
                       fine[piece - 1].z + u * (fine[piece].z - fine[piece - 1].z)});
  }
  outline.back() = {0.0, height}; // exactly on the axis
  return outline;
}

double segment_distance(Point p, Point a, Point b) {
  const double dx = b.x - a.x;
  const double dz = b.z - a.z;
  const double length2 = dx * dx + dz * dz;
  const double t =
      length2 > 0.0 ? std::clamp(((p.x - a.x) * dx + (p.z - a.z) * dz) / length2, 0.0, 1.0) : 0.0;
  return std::hypot(p.x - a.x - t * dx, p.z - a.z - t * dz);
}

/// Area and centroid of a polygon with its corners counter-clockwise.
struct Polygon {
  double area = 0.0;
  Point centroid{0.0, 0.0};
};

Polygon measure(const std::vector<Point>& p) {
  Polygon result;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Point& a = p[i];
    const Point& b = p[(i + 1) % p.size()];
    const double cross = a.x * b.z - b.x * a.z;
    result.area += 0.5 * cross;
    result.centroid.x += (a.x + b.x) * cross / 6.0;
    result.centroid.z += (a.z + b.z) * cross / 6.0;
  }
  result.centroid.x /= result.area;
  result.centroid.z /= result.area;
  return result;
}

/// Collects cells and faces of a section given by polygons; turns them into a prism or a body of
/// revolution.
class SectionBuilder {
public:
  SectionBuilder(bool round, double length) : round_(round), length_(length) {
    mesh_.round = round;
  }

  int add_cell(const std::vector<Point>& corners) {
    const Polygon polygon = measure(corners);
    if (!(polygon.area > 0.0)) {
      throw std::logic_error("mesh cell with no area");
    }
    mesh_.volume_m3.push_back(round_ ? 2.0 * pi * polygon.centroid.x * polygon.area
                                     : length_ * polygon.area);
    // Of the section, also in a body of revolution: with the radius weighed in, a ring's centre
    // lies outside its middle, and near the axis the error is h² log h, not h².
    mesh_.x_m.push_back(polygon.centroid.x);
    mesh_.z_m.push_back(polygon.centroid.z);
    std::vector<double> xs;
    std::vector<double> zs;
    for (const Point& p : corners) {
      xs.push_back(p.x);
      zs.push_back(p.z);
    }
    mesh_.outline_x_m.push_back(std::move(xs));
    mesh_.outline_z_m.push_back(std::move(zs));
    return static_cast<int>(mesh_.volume_m3.size()) - 1;
  }

  /// Face along the segment p to q; `a` lies to its left when looking from p to q.
  /// `widen` enlarges the area without enlarging its horizontal projection.
  void add_face(int a, int b, FaceKind kind, Point p, Point q, double widen = 1.0) {
    const double middle_x = 0.5 * (p.x + q.x);
    const double depth = round_ ? 2.0 * pi * std::abs(middle_x) : length_;
    const double ax = (q.z - p.z) * depth;
    const double az = -(q.x - p.x) * depth;
    const Point from{mesh_.x_m[static_cast<std::size_t>(a)],
                     mesh_.z_m[static_cast<std::size_t>(a)]};
    const Point to = b >= 0 ? Point{mesh_.x_m[static_cast<std::size_t>(b)],
                                    mesh_.z_m[static_cast<std::size_t>(b)]}
                            : Point{middle_x, 0.5 * (p.z + q.z)};
    const double distance_area = (to.x - from.x) * ax + (to.z - from.z) * az;
    if (!(distance_area > 0.0)) {
      if (std::hypot(ax, az) == 0.0) {
        return; // a face on the axis
      }
      throw std::logic_error("mesh face turned the wrong way");
    }
    mesh_.cell_a.push_back(a);
    mesh_.cell_b.push_back(b);
    mesh_.kind.push_back(kind);
    mesh_.area_x_m2.push_back(ax * widen);
    mesh_.area_z_m2.push_back(az * widen);
    mesh_.distance_x_m.push_back(to.x - from.x);
    mesh_.rise_m.push_back(to.z - from.z);
    mesh_.plan_area_m2.push_back(kind == FaceKind::surface ? std::max(az, 0.0) : 0.0);
  }

  Mesh finish(double height, const std::vector<Point>& surface) {
    mesh_.height_m = height;
    for (std::size_t i = 0; i < mesh_.cells(); ++i) {
      const Point c{mesh_.x_m[i], mesh_.z_m[i]};
      double depth = std::numeric_limits<double>::infinity();
      for (std::size_t k = 0; k + 1 < surface.size(); ++k) {
        depth = std::min(depth, segment_distance(c, surface[k], surface[k + 1]));
      }
      mesh_.depth_m.push_back(depth);
    }
    mesh_.plan_area_total_m2 =
        std::accumulate(mesh_.plan_area_m2.begin(), mesh_.plan_area_m2.end(), 0.0);
    return std::move(mesh_);
  }

  Mesh& mesh() { return mesh_; }

private:
  bool round_;
  double length_;
  Mesh mesh_;
};

/// Shells and sectors of a free-standing section around the middle of its base.
Mesh make_nested(SectionBuilder& builder, const std::vector<Point>& outline, double height,
                 int shells, double widen) {
  const int sectors = static_cast<int>(outline.size()) - 1;
  const auto at = [&](int shell, int border) {
    const double r = shell_border(shell, shells);
    const Point& p = outline[static_cast<std::size_t>(border)];
    return Point{r * p.x, r * p.z};
  };
  std::vector<Point> core;
  if (outline.back().x == 0.0) {
    core.push_back({0.0, 0.0}); // half section: the middle of the base closes the polygon
  }
  for (int j = 0; j <= sectors; ++j) {
    core.push_back(at(1, j));
  }
  std::vector<std::vector<int>> cell(static_cast<std::size_t>(shells));
  cell[0].assign(static_cast<std::size_t>(sectors), builder.add_cell(core));
  for (int k = 1; k < shells; ++k) {
    for (int j = 0; j < sectors; ++j) {
      cell[static_cast<std::size_t>(k)].push_back(
          builder.add_cell({at(k, j), at(k + 1, j), at(k + 1, j + 1), at(k, j + 1)}));
    }
  }
  const auto id = [&](int k, int j) {
    return cell[static_cast<std::size_t>(k)][static_cast<std::size_t>(j)];
  };
  for (int k = 0; k < shells; ++k) {
    for (int j = 0; j < sectors; ++j) {
      const bool outermost = k + 1 == shells;
      builder.add_face(id(k, j), outermost ? -1 : id(k + 1, j),
                       outermost ? FaceKind::surface : FaceKind::inner, at(k + 1, j),
                       at(k + 1, j + 1), outermost ? widen : 1.0);
      if (k > 0 && j + 1 < sectors) {
        builder.add_face(id(k, j), id(k, j + 1), FaceKind::inner, at(k + 1, j + 1), at(k, j + 1));
      }
    }
    const Point inner = k == 0 ? Point{0.0, 0.0} : at(k, 0);
    builder.add_face(id(k, 0), -1, FaceKind::ground, inner, at(k + 1, 0));
    if (outline.back().x < 0.0) { // full section: the other side stands on the ground too
      const Point other = k == 0 ? Point{0.0, 0.0} : at(k, sectors);
      builder.add_face(id(k, sectors - 1), -1, FaceKind::ground, at(k + 1, sectors), other);
    }
  }
  Mesh mesh = builder.finish(height, outline);
  std::vector<int> order(mesh.cells());
  std::iota(order.begin(), order.end(), 0);
  mesh.stacks = {order}; // built shell by shell from the middle
  return mesh;
}

} // namespace

double Mesh::total_volume_m3() const {
  return std::accumulate(volume_m3.begin(), volume_m3.end(), 0.0);
}

double Mesh::transmissibility_m(std::size_t f, const MeshScale& s) const {
  const double y = round ? s.plan : 1.0;
  const double ax = area_x_m2[f] * s.height;
  const double az = area_z_m2[f] * s.plan;
  const double dx = distance_x_m[f] * s.plan;
  const double dz = rise_m[f] * s.height;
  const double area2 = ax * ax + az * az;
  return y *
         (cell_b[f] >= 0 ? std::sqrt(area2 / (dx * dx + dz * dz)) : area2 / (dx * ax + dz * az));
}

double Mesh::area_m2(std::size_t f, const MeshScale& s) const {
  const double y = round ? s.plan : 1.0;
  return y * std::hypot(area_x_m2[f] * s.height, area_z_m2[f] * s.plan);
}

Mesh make_prism(const PrismShape& shape, SectionResolution resolution) {
  const double half = 0.5 * shape.base_width_m;
  const double half_top = 0.5 * shape.top_width_m;
  std::vector<Point> outline =
      half_outline(shape.profile, half, half_top, shape.height_m, resolution.sectors);
  // Surface faces are widened by the two ends, taken as upright: 2 sections over the arc times
  // the length. The half section carries both sides: twice the length.
  double arc = 0.0;
  double section = 0.0;
  for (std::size_t j = 0; j + 1 < outline.size(); ++j) {
    arc += std::hypot(outline[j + 1].x - outline[j].x, outline[j + 1].z - outline[j].z);
    section += 0.5 * (outline[j].x * outline[j + 1].z - outline[j + 1].x * outline[j].z);
  }
  const double widen = 1.0 + 2.0 * section / (arc * shape.length_m);
  if (shape.full_section) {
    for (std::size_t j = outline.size() - 1; j-- > 0;) {
      outline.push_back({-outline[j].x, outline[j].z});
    }
  }
  SectionBuilder builder(false, shape.full_section ? shape.length_m : 2.0 * shape.length_m);
  return make_nested(builder, outline, shape.height_m, resolution.shells, widen);
}

Mesh make_mound(const MoundShape& shape, SectionResolution resolution) {
  SectionBuilder builder(true, 0.0);
  return make_nested(builder,
                     half_outline(shape.profile, 0.5 * shape.base_diameter_m, 0.0, shape.height_m,
                                  resolution.sectors),
                     shape.height_m, resolution.shells, 1.0);
}

Mesh make_container(const ContainerShape& shape, int rings, int layers) {
  const double radius = std::sqrt(shape.plan_area_m2 / pi);
  const double widen = shape.perimeter_m / (2.0 * pi * radius);
  const auto r_at = [&](int i) { return radius * shell_border(i, rings); };
  const auto z_at = [&](int k) {
    // thin layers at the top and, less so, at the bottom
    constexpr double grading = 1.8;
    const double u = static_cast<double>(k) / layers;
    const double middle = 0.4; // widest layer
    const auto warp = [&](double v) { return std::tanh(grading * (v - middle)); };
    return shape.fill_height_m * (warp(u) - warp(0.0)) / (warp(1.0) - warp(0.0));
  };
  SectionBuilder builder(true, 0.0);
  std::vector<std::vector<int>> cell(static_cast<std::size_t>(rings));
  for (int i = 0; i < rings; ++i) {
    for (int k = 0; k < layers; ++k) {
      cell[static_cast<std::size_t>(i)].push_back(builder.add_cell({{r_at(i), z_at(k)},
                                                                    {r_at(i + 1), z_at(k)},
                                                                    {r_at(i + 1), z_at(k + 1)},
                                                                    {r_at(i), z_at(k + 1)}}));
    }
  }
  const auto id = [&](int i, int k) {
    return cell[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
  };
  for (int i = 0; i < rings; ++i) {
    for (int k = 0; k < layers; ++k) {
      const Point low_out{r_at(i + 1), z_at(k)};
      const Point high_out{r_at(i + 1), z_at(k + 1)};
      const Point high_in{r_at(i), z_at(k + 1)};
      const bool outermost = i + 1 == rings;
      const bool top = k + 1 == layers;
      builder.add_face(id(i, k), outermost ? -1 : id(i + 1, k),
                       outermost ? FaceKind::wall : FaceKind::inner, low_out, high_out,
                       outermost ? widen : 1.0);
      builder.add_face(id(i, k), top ? -1 : id(i, k + 1), top ? FaceKind::surface : FaceKind::inner,
                       high_out, high_in);
    }
    builder.add_face(id(i, 0), -1, FaceKind::ground, {r_at(i), 0.0}, {r_at(i + 1), 0.0});
  }
  Mesh mesh = builder.finish(shape.fill_height_m,
                             {{0.0, shape.fill_height_m}, {radius, shape.fill_height_m}});
  mesh.stacks = cell;
  return mesh;
}

Mesh make_lump(const LumpShape& shape) {
  Mesh mesh;
  mesh.volume_m3 = {shape.volume_m3};
  mesh.x_m = {0.0};
  mesh.z_m = {0.5 * shape.height_m};
  mesh.depth_m = {0.5 * shape.height_m};
  const double half = 0.5 * std::sqrt(shape.ground_area_m2);
  mesh.outline_x_m = {{-half, half, half, -half}};
  mesh.outline_z_m = {{0.0, 0.0, shape.height_m, shape.height_m}};
  mesh.round = true;
  mesh.height_m = shape.height_m;
  const double reach = 0.5 * shape.height_m;
  const auto face = [&](FaceKind kind, double area, double plan, double direction) {
    mesh.cell_a.push_back(0);
    mesh.cell_b.push_back(-1);
    mesh.kind.push_back(kind);
    mesh.area_x_m2.push_back(0.0);
    mesh.area_z_m2.push_back(direction * area);
    mesh.distance_x_m.push_back(0.0);
    mesh.rise_m.push_back(direction * reach);
    mesh.plan_area_m2.push_back(plan);
  };
  face(FaceKind::surface, shape.surface_area_m2, shape.ground_area_m2, 1.0);
  face(FaceKind::ground, shape.ground_area_m2, 0.0, -1.0);
  mesh.plan_area_total_m2 = shape.ground_area_m2;
  mesh.stacks = {{0}};
  return mesh;
}

} // namespace heapcast::engine
