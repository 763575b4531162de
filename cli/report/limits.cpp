#include "cli/report/limits.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

namespace heapcast::cli {

namespace {

/// The flags' numbers, written "0 1 2" or "0, 1, 2"; counted from zero when there are none.
std::vector<double> flag_values(const std::string& text, std::size_t count) {
  std::string spaced = text;
  std::replace(spaced.begin(), spaced.end(), ',', ' ');
  std::istringstream words(spaced);
  std::vector<double> values;
  for (double value = 0.0; words >> value;) {
    values.push_back(value);
  }
  if (values.size() != count) {
    values.resize(count);
    for (std::size_t i = 0; i < count; ++i) {
      values[i] = static_cast<double>(i);
    }
  }
  return values;
}

} // namespace

std::vector<LimitLane> limit_lanes(const ResultsReader& results) {
  const auto* variable = results.data().variable("limit");
  const auto& time_h = results.time_h();
  if (variable == nullptr || time_h.size() < 2 ||
      variable->values.size() % time_h.size() != 0 || variable->values.empty()) {
    return {};
  }
  std::istringstream names(attribute_text(find_attribute(variable->attributes, "flag_meanings")));
  std::vector<LimitLane> lanes;
  for (std::string name; names >> name;) {
    lanes.push_back({name, 0.0, {}});
  }
  const auto flags =
      flag_values(attribute_text(find_attribute(variable->attributes, "flag_values")), lanes.size());
  const double whole_h = time_h.back() - time_h.front();
  if (lanes.empty() || !(whole_h > 0.0)) {
    return {};
  }
  const std::size_t runs = variable->values.size() / time_h.size();
  std::size_t lane_before = lanes.size();
  for (std::size_t t = 1; t < time_h.size(); ++t) {
    std::vector<std::size_t> votes(lanes.size() + 1);
    for (std::size_t run = 0; run < runs; ++run) {
      const auto flag =
          std::find(flags.begin(), flags.end(), variable->values[run * time_h.size() + t]);
      ++votes[static_cast<std::size_t>(flag - flags.begin())];
    }
    const auto winner = static_cast<std::size_t>(
        std::max_element(votes.begin(), votes.end()) - votes.begin());
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
