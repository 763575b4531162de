#pragma once

#include "models/pile_run.hpp"

#include <functional>
#include <memory>
#include <optional>
#include <string>

namespace heapcast::models {

/// One of the runs that are made side by side.
struct LaneRun {
  std::shared_ptr<const PileDescription> pile;
  Progress progress; ///< asked once a day of the run, with the share done; false stops it there
  std::function<void(ForecastResult&&)> done;
  std::function<void(const std::string& reason)> failed; ///< instead of `done`
};

/// Makes the runs that `next` gives until it gives none, up to `most` (1..run_lanes) at a time,
/// each hour by hour with its own clock, events and steps. A run whose mesh has another topology
/// waits until those under way are done: runs of one shape and resolution should follow each other.
/// A run's numbers do not depend on which other runs are made with it, to the last bit; they differ
/// from those of `run_forecast` by less than the error allowed per step, because pore oxygen is
/// solved with other factors on the way.
///
/// What a run throws of InputError and NumericsError is told to `failed`; what `progress`, `done`
/// and `failed` throw is passed on.
void run_side_by_side(const std::function<std::optional<LaneRun>()>& next, int most = run_lanes);

} // namespace heapcast::models
