#pragma once

#include "models/forecast.hpp"
#include "models/hygiene/hygiene_clock.hpp"
#include "models/hygiene/probe_reading.hpp"
#include "models/pile_workspace.hpp"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// Follows one run with the clock of every hygiene rule: at each probe and in every cell.
///
/// A cell is a place in the pile, not a lot of material: turning moves the material on, which is
/// what rules that ask for turns reckon with. A rule has clocks in piles that it is about: a
/// windrow's where the pile stands free and is turned, a static pile's in bins and in piles never
/// turned, a vessel's in bins. Material that is added is untreated: all clocks begin again.
class HygieneWatch {
public:
  HygieneWatch(const PileDescription& pile, const PileSite& site);

  /// After every hour: temperatures at its start and the workspace at its end.
  void hour(double time_h, std::span<const double> before_K, const Workspace& now);
  /// Just before a turn.
  void turning(double time_h, const Workspace& now);
  /// Fresh material was laid on.
  void added(double time_h);
  /// Keeps what the probes read; one call for each of the record's hours.
  void record(const Workspace& now);
  /// Writes hygiene_met_day_<rule>, hygiene_volume_share_<rule> and the probes' curves.
  void report(ForecastResult& result);
  /// Day on which this rule was met at every probe, NaN when it is not; key as in the rule table.
  [[nodiscard]] double met_day(std::string_view rule) const;

private:
  struct Place {
    std::string name;
    double depth_m = unset; ///< unset: at the core
    std::vector<CellShare> cells;
    std::vector<double> recorded_degC;
  };
  struct RuleWatch {
    const HygieneRule* rule;
    std::string not_about; ///< why it is not a rule for this pile; then there are no clocks
    std::vector<HygieneClock> probes;
    std::vector<HygieneClock> cells;
    std::vector<double> wakes_at_degC; ///< of each cell's clock, see HygieneClock
  };

  void place_probes(const Workspace& now);
  /// Lets the clocks of the cells pass the hours that wait.
  void catch_up();
  [[nodiscard]] double met_day(const RuleWatch& watch) const;
  [[nodiscard]] double volume_share(const RuleWatch& watch) const;
  [[nodiscard]] std::string reason(const RuleWatch& watch) const;

  const PileDescription& pile_;
  const PileSite& site_;
  std::vector<Place> probes_;
  std::vector<RuleWatch> rules_;
  std::vector<HotStretch> at_probes_; ///< the hour that passed
  /// [cell][hour]: a day's hours wait, so that a cell's clocks are at hand for all of them at once.
  std::vector<HotStretch> waiting_;
  std::size_t hours_waiting_ = 0;
  double passed_h_ = 0.0;  ///< hours that the cells' clocks have passed
  double added_h_ = unset; ///< when material was last added
};

} // namespace heapcast::models
