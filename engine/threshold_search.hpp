#pragma once

#include <functional>
#include <optional>
#include <vector>

namespace heapcast::engine {

struct CurvePoint {
  double at = 0.0, value = 0.0;
};

struct ThresholdOptions {
  double low = 0.0, high = 1.0; ///< where to look; low < high
  double level = 0.0;           ///< to be reached
  std::size_t first_points = 5; ///< evenly between the ends, both among them; at least 2
  double tolerance = 0.01;      ///< how near to the crossing, in the unit of `at`
};

struct ThresholdSearch {
  std::vector<CurvePoint> curve; ///< every point that was tried, by `at`
  /// The lowest place found to reach the level: within the tolerance above one that does not, or
  /// the low end.
  std::optional<double> found;
  bool at_low_end = false;        ///< the low end reaches it already
  std::optional<double> falls_at; ///< the lowest place tried above `found` that does not reach it
  double deepest_fall = 0.0;      ///< by how much the value falls at most while `at` rises
};

/// Where `function`, which should not fall, first reaches a level: it is tried at a few points over
/// the range, then halved between the first of them that reaches it and the one before
/// (Boost.Math's bisection: values of few steps, such as shares of runs, give faster ways nothing
/// to go by). `function` is called once for each place. That it does not fall is checked at the
/// points tried and told, not taken for granted between them.
[[nodiscard]] ThresholdSearch find_threshold(const std::function<double(double)>& function,
                                             const ThresholdOptions& options);

} // namespace heapcast::engine
