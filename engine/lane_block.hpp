#pragma once

#include "engine/lane_solvers.hpp"
#include "engine/stiff_block.hpp"

#include <array>
#include <vector>

namespace heapcast::engine {

template <int lanes> struct BlockLoops;

/// A stiff block's part in the steps of LaneIntegrator, of systems side by side. Arrays are
/// [entry][lane]. The level x (see StiffLayout) moves over a step of length h as
///
///   x' = J x + F + s G + s (s - 1) B from x = 0,  s = t/h
///
/// with J the block's derivatives, F the rates where the step begins, G what they change by over
/// the step beyond what J explains, and B how that bends on the way, as far as the drive says (see
/// OdeSystem::drive), in two stages of one matrix (SDIRK of order 2):
///
///   k_1 = J gamma h k_1 + F + gamma G - B / (6 (1 - gamma)),
///   k_2 = J ((1 - gamma) h k_1 + gamma h k_2) + F + G,   x = h ((1 - gamma) k_1 + gamma k_2).
///
/// gamma = 1 - 1/sqrt(2): fast modes die within a step, and k_2 is the rate at its end. B has the
/// weight in k_1 that makes its mean over the step right.
///
/// The predictor takes G from the last step and the drive. The rates R at the predicted state show
/// by how much that G was wrong, d = R - k_2. The corrector adds what d moves, in one stage of the
/// same matrix: d/2 + J m to the mean rate, with (1/(gamma h) - J) m = d/2, so m to the mean of the
/// level and m/gamma to its end. Follower and sinks go by the same formulas, so linear invariants
/// are kept to rounding.
///
/// Alexander, SIAM J. Numer. Anal. 14:1006 (1977), from memory; tests measure the order.
template <int lanes> class LaneBlock {
public:
  using PerLane = std::array<double, lanes>;
  using Values = std::vector<double>;

  LaneBlock(const Mesh& mesh, const StiffLayout& layout);

  /// Takes the derivatives of these lanes (> 0) from `seen`, which may get the old ones for it.
  void keep(StiffBlock& seen, const PerLane& of_lanes);
  /// Takes what drives these lanes (> 0), see OdeSystem::drive.
  void keep_drive(const PerLane& of_lanes, const PerLane& ahead_s, const Values& slope,
                  const Values& bend);
  /// For steps of these lengths.
  void prepare(const PerLane& h_s);

  /// Puts into `predicted` where the block's entries are led by the slope G of the last step, whose
  /// length was `last_h_s`, and by the change of the drive since then. Where the length is 0 there
  /// was no last step.
  void predict(const PerLane& last_h_s, const Values& y, const Values& rates,
               const Values& rates_before, Values& predicted);
  /// Puts into `out` where the block's entries and sinks end, with the slope that the rates at the
  /// predicted state show.
  void correct(const Values& y, const Values& rates, const Values& rates_predicted, Values& out);
  /// The step from `y` was taken in these lanes: the rates at the predicted state become those
  /// where the step ended.
  void accept(const PerLane& taken, const Values& y, Values& rates_predicted);

  /// Where its stretches of entries begin, one or two; each has an entry a cell and lane.
  [[nodiscard]] const std::vector<std::size_t>& stretches() const { return stretches_; }

  /// Error of the level's last step by its formula alone, estimated from what the two stages differ
  /// by: error constant times h^3 d3x/dt3, damped by the stages' matrix where modes are fast. What
  /// G misses is not in it. [cell][lane]
  [[nodiscard]] const Values& error() const { return error_; }

private:
  friend struct BlockLoops<lanes>;

  /// The entries of block and follower in arrays of the whole system; zeros for a follower that
  /// there is not.
  struct View {
    const double *block, *follower;
  };
  [[nodiscard]] View view(const Values& v) const;
  [[nodiscard]] const double* weight() const; ///< zeros without a follower

  /// By cell and lane.
  struct Pair {
    Values block, follower;
  };
  /// What J says the sinks get at three levels.
  struct Given {
    PerLane predicted{}, mean{}, correction{};
  };

  const Mesh& mesh_;
  StiffEntries block_, follower_;
  bool follows_;
  std::vector<std::size_t> stretches_;
  StiffBlock derivatives_;
  LaneLu<lanes> lu_;
  Values column_, follower_column_; ///< sums of the derivatives' columns
  Values diagonal_, minus_b_, minus_a_;
  Pair drive_slope_, drive_bend_;   ///< per second and per second squared
  Pair drive_before_;               ///< mean slope of the drive in the last step
  Values level_, mean_;             ///< x, and its mean over the step as the formula has it
  Values moved_, moved_mean_;       ///< rate of the follower that these make
  Values slope_, follower_slope_;   ///< G
  Values level_rate_;               ///< F
  Values first_, second_;           ///< gamma h k_1, gamma h k_2
  Values correction_;               ///< m
  Values moved_correction_;         ///< rate of the follower that it makes
  Values missed_, missed_follower_; ///< d
  Values curvature_, error_;        ///< h^2 d2x/dt2
  Values before_, follower_before_; ///< where the last step began
  PerLane h_s_{}, per_stage_{}, ahead_s_{};
  PerLane drive_sink_bend_{}, drive_follower_sink_bend_{};
  Given given_, follower_given_;
  Values none_; ///< zeros
};

extern template class LaneBlock<1>;
extern template class LaneBlock<8>;

} // namespace heapcast::engine
