#include "engine/threshold_search.hpp"

#include "engine/bisect.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <map>

namespace heapcast::engine {

ThresholdSearch find_threshold(const std::function<double(double)>& function,
                               const ThresholdOptions& options) {
  assert(options.low < options.high && options.first_points >= 2);
  std::map<double, double> tried;
  const auto at = [&](double place) {
    const auto [entry, is_new] = tried.try_emplace(place, 0.0);
    if (is_new) {
      entry->second = function(place);
    }
    return entry->second;
  };
  const auto reaches = [&](double place) { return at(place) >= options.level; };

  ThresholdSearch result;
  std::vector<double> places;
  const double steps = static_cast<double>(options.first_points) - 1.0;
  for (std::size_t i = 0; i < options.first_points; ++i) {
    places.push_back(std::lerp(options.low, options.high, static_cast<double>(i) / steps));
    at(places.back());
  }
  const auto first = std::ranges::find_if(places, reaches);
  if (first == places.begin()) {
    result.found = options.low;
    result.at_low_end = true;
  } else if (first != places.end()) {
    result.found = bisect(reaches, *(first - 1), *first, options.tolerance);
  }

  double highest = -std::numeric_limits<double>::infinity();
  for (const auto& [place, value] : tried) {
    result.curve.push_back({place, value});
    result.deepest_fall = std::max(result.deepest_fall, highest - value);
    highest = std::max(highest, value);
    if (result.found && place > *result.found && value < options.level && !result.falls_at) {
      result.falls_at = place;
    }
  }
  return result;
}

} // namespace heapcast::engine
