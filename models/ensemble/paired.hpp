#pragma once

#include <cstddef>
#include <vector>

namespace heapcast::models {

/// How one number differs between two sets of runs with the same draws: other minus first, run by
/// run. A run that lacks the number (a day not within the horizon) counts as infinitely large; runs
/// in which both lack it say nothing and are left out.
struct PairedDifference {
  double low = 0.0, mid = 0.0, high = 0.0; ///< 10 %, 50 %, 90 % points; may be infinite
  std::size_t less = 0;                    ///< runs in which the other is smaller
  std::size_t more = 0;                    ///< runs in which it is larger
  std::size_t pairs = 0;                   ///< runs that say something
};

/// Throws std::invalid_argument when the sizes differ. Without pairs the points are NaN.
[[nodiscard]] PairedDifference paired_difference(const std::vector<double>& first,
                                                 const std::vector<double>& other);

} // namespace heapcast::models
