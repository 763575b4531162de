#pragma once

#include <cstring>
#include <vector>

namespace heapcast::tests {

/// NaN equals itself and -0 is not 0, unlike with ==.
[[nodiscard]] inline bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  return a.size() == b.size() &&
         (a.empty() || std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0);
}

} // namespace heapcast::tests
