#include "models/ensemble/paired.hpp"

#include "models/ensemble/ensemble.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace heapcast::models {

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
  result.low = sorted_point(differences, 0.1);
  result.mid = sorted_point(differences, 0.5);
  result.high = sorted_point(differences, 0.9);
  return result;
}

} // namespace heapcast::models
