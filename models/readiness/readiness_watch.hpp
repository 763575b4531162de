#pragma once

#include "models/forecast.hpp"
#include "models/pile_state.hpp"
#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Follows one run and judges when its compost is ready: takes a mixed sample a day for the
/// laboratory tests, and watches how the core stands to the air and what turns do.
class ReadinessWatch {
public:
  ReadinessWatch(const PileDescription& pile, const PileSite& site);

  /// After every hour, once the workspace is that of the new state.
  void hour(double time_h, double core_K, double air_K, const PileState& state, const Workspace& w);
  /// Just after a turn.
  void turned(double time_h, double core_K);
  /// Writes ready_day, ready_day_<measure>, decided_by and the tests. `hygiene_met_day` is that of
  /// the use's rule, NaN when it is not met.
  void report(double hygiene_met_day, ForecastResult& result) const;

private:
  const PileDescription& pile_;
  const PileSite& site_;
};

} // namespace heapcast::models
