#pragma once

#include "models/forecast.hpp"
#include "models/pile_workspace.hpp"

#include <span>

namespace heapcast::models {

/// Follows one run with the clock of every hygiene rule: at each probe and in every cell.
class HygieneWatch {
public:
  HygieneWatch(const PileDescription& pile, const PileSite& site);

  /// After every hour: temperatures at its start and the workspace at its end.
  void hour(double time_h, std::span<const double> before_K, const Workspace& now);
  /// Just before a turn.
  void turning(double time_h, const Workspace& now);
  /// Writes hygiene_met_day_<rule>, hygiene_volume_share_<rule> and the probes' curves.
  void report(ForecastResult& result) const;
  /// Day on which this rule was met at every probe, NaN when it is not; key as in the rule table.
  [[nodiscard]] double met_day(std::string_view rule) const;

private:
  const PileDescription& pile_;
  const PileSite& site_;
};

} // namespace heapcast::models
