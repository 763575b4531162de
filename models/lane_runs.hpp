#pragma once

#include "models/pile_run.hpp"

#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace heapcast::models {

/// One of the runs that are made side by side.
struct LaneRun {
  const PileDescription* pile = nullptr; ///< read until the runs are done
  /// Asked once a day of the run, with the share done; false stops it there.
  Progress progress;

  ForecastResult result;
  std::string failure; ///< why there is no result; empty: there is
};

/// Makes the runs, up to `run_lanes` at a time, each hour by hour with its own clock, events and
/// steps. All piles must have meshes of one topology: the same shape and resolution. A run's
/// numbers do not depend on which other runs are made with it, to the last bit; they differ from
/// those of `run_forecast` by less than the error allowed per step, because pore oxygen is solved
/// with fresh factors each time. Throws nothing but what `progress` throws; what a run throws of
/// InputError and NumericsError is its `failure`.
void run_side_by_side(std::span<LaneRun> runs);

} // namespace heapcast::models
