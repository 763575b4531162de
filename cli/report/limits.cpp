#include "cli/report/limits.hpp"

#include <algorithm>

namespace heapcast::cli {

std::vector<LimitLane> limit_lanes(const ResultsReader& results) {
  const auto* variable = results.data().variable("limit");
  const auto& time_h = results.time_h();
  if (variable == nullptr || time_h.size() < 2 || variable->values.empty() ||
      variable->values.size() % time_h.size() != 0) {
    return {};
  }
  std::vector<LimitLane> lanes;
  for (const auto& name : variable->flags) {
    lanes.push_back({name, 0.0, {}});
  }
  const double whole_h = time_h.back() - time_h.front();
  const std::size_t runs = variable->values.size() / time_h.size();
  std::size_t lane_before = lanes.size();
  for (std::size_t t = 1; t < time_h.size(); ++t) {
    std::vector<std::size_t> votes(lanes.size() + 1); // the last: unknown
    for (std::size_t run = 0; run < runs; ++run) {
      const double flag = variable->values[run * time_h.size() + t];
      const bool known = flag >= 0.0 && flag < static_cast<double>(lanes.size());
      ++votes[known ? static_cast<std::size_t>(flag) : lanes.size()];
    }
    const auto winner =
        static_cast<std::size_t>(std::max_element(votes.begin(), votes.end()) - votes.begin());
    if (winner < lanes.size()) {
      auto& lane = lanes[winner];
      const double width = 100.0 * (time_h[t] - time_h[t - 1]) / whole_h;
      lane.share_percent += width;
      if (winner == lane_before) {
        lane.spans.back().width_percent += width;
      } else {
        lane.spans.push_back({100.0 * (time_h[t - 1] - time_h.front()) / whole_h, width});
      }
    }
    lane_before = winner;
  }
  std::erase_if(lanes, [](const auto& lane) { return lane.spans.empty(); });
  return lanes;
}

} // namespace heapcast::cli
