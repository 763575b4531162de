#pragma once

#include "models/forecast.hpp"
#include "models/pile_state.hpp"
#include "models/pile_workspace.hpp"

#include <string>
#include <vector>

namespace heapcast::models {

/// Follows one run and judges when its compost is ready.
///
/// At the build and every 24 h after it a mixed sample of the whole pile goes through the
/// laboratory tests (stability_tests.hpp); C:N and ammonium:nitrate are those of the same sample.
/// Hour by hour the core is compared with the mean air of the last 5 days.
///
/// A criterion's own day is the first from which it holds without a break to the end of the run.
/// - Reheating looks at every turn that finds the core below 45 degC once it was last hotter: how
///   much the core warms above its temperature just after the turn, within 5 days or until the next
///   turn. A turn followed by more than the limit breaks the criterion for that time. It counts
///   from the first such turn on; without one it is not tested and left out of the judgement.
/// - Ammonium:nitrate also holds while there are less than 75 mg ammoniacal nitrogen per kg dry
///   matter (very mature below, CCQC 2001, id ccqc_nh4_vm): the ratio of two traces says nothing.
///
/// The pile is ready on the latest day of its use's criteria and its hygiene rule, and not before
/// the last material went in: what was laid on that day is raw, whatever a mixed sample shows.
class ReadinessWatch {
public:
  ReadinessWatch(const PileDescription& pile, const PileSite& site);

  /// At the build and after every hour, once the state and the workspace are the new ones.
  void hour(double time_h, double core_K, double air_K, const PileState& state, const Workspace& w);
  /// Just after a turn.
  void turned(double time_h, double core_K);
  /// Just after material was added.
  void added(double time_h) { last_addition_h_ = time_h; }
  /// Writes ready_day, ready_day_<measure>, final_<measure>, decided_by and the tests.
  /// `hygiene_met_day` is that of the use's rule, NaN when it is not met.
  void report(double hygiene_met_day, ForecastResult& result) const;

  /// What the run is judged for.
  [[nodiscard]] const Use& use() const { return use_; }

private:
  struct Turn {
    std::size_t hour;
    double core_K; ///< just after
  };
  /// What became of one criterion.
  struct Verdict {
    double day = 0.0;   ///< NaN: not met, or not tested
    std::string reason; ///< why it is NaN
    bool tested = true;
  };
  [[nodiscard]] Verdict judge(const Criterion& criterion) const;
  [[nodiscard]] Verdict judge_reheating(double limit_K) const;
  [[nodiscard]] Verdict judge_values(const Criterion& criterion, const std::vector<double>& value,
                                     double hours_apart) const;
  [[nodiscard]] std::vector<double> above_air() const;
  [[nodiscard]] std::size_t end_of_window(std::size_t turn) const;
  void report_finals(ForecastResult& result) const;

  const PileDescription& pile_;
  const PileSite& site_;
  Use use_;
  std::vector<double> core_K_, air_K_; ///< by hour
  std::vector<Turn> turns_;
  double last_addition_h_ = unset;
  // by day
  std::vector<double> oxygen_uptake_, carbon_dioxide_, self_heating_, carbon_nitrogen_,
      ammonium_nitrate_;
  double last_ammonium_ = 0.0, last_nitrate_ = 0.0; ///< kg N per kg dry matter
};

} // namespace heapcast::models
