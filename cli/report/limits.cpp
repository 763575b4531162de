#include "cli/report/limits.hpp"

#include <algorithm>

namespace heapcast::cli {

std::vector<LimitLane> limit_lanes(const ResultsReader& results) {
  const auto* variable = results.data().variable("limit");
  const auto& time_h = results.time_h();
  if (variable == nullptr || time_h.size() < 2 || variable->values.size() != time_h.size()) {
    return {};
  }
  std::vector<LimitLane> lanes;
  for (const auto& name : variable->flags) {
    lanes.push_back({name, 0.0, {}});
  }
  const double whole_h = time_h.back() - time_h.front();
  std::size_t lane_before = lanes.size();
  for (std::size_t t = 1; t < time_h.size(); ++t) {
    const double flag = variable->values[t];
    const bool known = flag >= 0.0 && flag < static_cast<double>(lanes.size());
    const std::size_t at = known ? static_cast<std::size_t>(flag) : lanes.size();
    if (known) {
      auto& lane = lanes[at];
      const double width = 100.0 * (time_h[t] - time_h[t - 1]) / whole_h;
      lane.share_percent += width;
      if (at == lane_before) {
        lane.spans.back().width_percent += width;
      } else {
        lane.spans.push_back({100.0 * (time_h[t - 1] - time_h.front()) / whole_h, width});
      }
    }
    lane_before = at;
  }
  std::erase_if(lanes, [](const auto& lane) { return lane.spans.empty(); });
  return lanes;
}

} // namespace heapcast::cli
