#include "cli/input/pile_volume.hpp"

#include <numbers>

namespace heapcast::cli {

double enclosed_volume_m3(const models::Shape& shape) {
  using models::Profile;
  const double height_m = shape.height_m;
  const double width_m = shape.width_m;
  switch (shape.kind) {
  case models::ShapeKind::windrow:
    switch (shape.profile) {
    case Profile::parabolic:
      return 2.0 / 3.0 * height_m * width_m * shape.length_m;
    case Profile::triangular:
      return 0.5 * height_m * width_m * shape.length_m;
    case Profile::trapezoidal:
      return 0.5 * (width_m + shape.top_width_m) * height_m * shape.length_m;
    }
    break;
  case models::ShapeKind::heap:
    return std::numbers::pi / (shape.profile == Profile::triangular ? 12.0 : 8.0) * width_m *
           width_m * height_m;
  case models::ShapeKind::bin:
    return shape.round ? std::numbers::pi / 4.0 * width_m * width_m * height_m
                       : width_m * shape.length_m * height_m;
  case models::ShapeKind::one_cell:
    break;
  }
  return models::unset;
}

} // namespace heapcast::cli
