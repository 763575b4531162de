#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

namespace heapcast::engine {

/// The point at `share` (0..1) of sorted values, at least one: at place share (n - 1), counted from
/// 0, linear between neighbours. Next to an infinite value it is infinite.
[[nodiscard]] inline double sorted_point(const std::vector<double>& sorted, double share) {
  const double place = share * static_cast<double>(sorted.size() - 1);
  const auto below = static_cast<std::size_t>(place);
  const double weight = place - static_cast<double>(below);
  // A value that is infinite has weight or none: 0 times it is no number.
  return weight > 0.0 && std::isfinite(sorted[below])
             ? sorted[below] + weight * (sorted[below + 1] - sorted[below])
             : sorted[below];
}

} // namespace heapcast::engine
