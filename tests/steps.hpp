#pragma once

#include <cmath>
#include <vector>

namespace heapcast::tests {

/// first, first + step, … up to and including last; last − first is a multiple of step.
[[nodiscard]] inline std::vector<double> steps(double first, double last, double step) {
  std::vector<double> values;
  const long count = std::lround((last - first) / step);
  for (long i = 0; i <= count; ++i) {
    values.push_back(first + static_cast<double>(i) * step);
  }
  return values;
}

} // namespace heapcast::tests
