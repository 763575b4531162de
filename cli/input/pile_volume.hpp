#pragma once

#include "models/pile.hpp"

namespace heapcast::cli {

/// Volume that the dimensions enclose, m3; NaN when one that it takes is unset.
///
/// Windrow: cross-section times length, the cross-section being 2/3, 1/2 or (1 + top/base)/2 of
/// height times base width (parabolic, triangular, trapezoidal). Heap: pi/8 (dome) or pi/12 (cone)
/// of base diameter squared times height. Bin: base times height. One cell: NaN.
[[nodiscard]] double enclosed_volume_m3(const models::Shape& shape);

} // namespace heapcast::cli
