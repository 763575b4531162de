#include "models/ensemble/paired.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace heapcast::models {

namespace {

/// Point `share` of sorted values, between neighbours linearly. Infinite values have no between:
/// there the nearer one counts.
double point(const std::vector<double>& sorted, double share) {
  const double at = share * static_cast<double>(sorted.size() - 1);
  const auto below = static_cast<std::size_t>(at);
  const std::size_t above = std::min(below + 1, sorted.size() - 1);
  const double weight = at - static_cast<double>(below);
  if (!std::isfinite(sorted[below]) || !std::isfinite(sorted[above])) {
    return weight < 0.5 ? sorted[below] : sorted[above];
  }
  return sorted[below] + weight * (sorted[above] - sorted[below]);
}

} // namespace

PairedDifference paired_difference(const std::vector<double>& first,
                                   const std::vector<double>& other) {
  if (first.size() != other.size()) {
    throw std::invalid_argument("paired difference of sets of different size");
  }
  constexpr double never = std::numeric_limits<double>::infinity();
  PairedDifference result;
  std::vector<double> differences;
  for (std::size_t i = 0; i < first.size(); ++i) {
    if (std::isnan(first[i]) && std::isnan(other[i])) {
      continue;
    }
    const double difference = std::isnan(other[i])   ? never
                              : std::isnan(first[i]) ? -never
                                                     : other[i] - first[i];
    differences.push_back(difference);
    result.less += difference < 0.0 ? 1 : 0;
    result.more += difference > 0.0 ? 1 : 0;
  }
  result.pairs = differences.size();
  if (differences.empty()) {
    result.low = result.mid = result.high = std::numeric_limits<double>::quiet_NaN();
    return result;
  }
  std::sort(differences.begin(), differences.end());
  result.low = point(differences, 0.1);
  result.mid = point(differences, 0.5);
  result.high = point(differences, 0.9);
  return result;
}

} // namespace heapcast::models
