#pragma once

#include "cli/report/results_reader.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// One thing that held the pile back, and when.
struct LimitLane {
  struct Span {
    double from_percent, width_percent; ///< of the whole time
  };
  std::string name; ///< as in the file: "cold", "dry", …
  double share_percent = 0.0;
  std::vector<Span> spans;
};

/// Reads `limit`, flags over (time) or (run,time) with one run; of several runs the file holds that
/// of the pile as given. A lane for each flag that occurs, in the order of the flags. Each output
/// holds for the time since the one before it. Empty when the file has no readable limit.
[[nodiscard]] std::vector<LimitLane> limit_lanes(const ResultsReader& results);

} // namespace heapcast::cli
