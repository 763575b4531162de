#pragma once

#include "engine/integrator.hpp"
#include "engine/lane_block.hpp"

#include <array>
#include <span>
#include <vector>

namespace heapcast::engine {

/// Systems of one structure side by side, as LaneIntegrator sees them: OdeSystem with arrays
/// [entry][lane], each lane at its own time. No lane's rates may depend on another lane.
template <int lanes> class LaneOdeSystem {
public:
  using Times = std::array<double, lanes>;

  virtual ~LaneOdeSystem() = default;
  /// Entries of one lane.
  [[nodiscard]] virtual std::size_t size() const = 0;
  /// See OdeSystem; places are those in one lane.
  [[nodiscard]] virtual const Mesh* stiff_mesh() const = 0;
  [[nodiscard]] virtual std::vector<StiffLayout> stiff_layout() const = 0;
  virtual void rates(const Times& t_s, std::span<const double> y, std::span<double> dydt) = 0;
  /// At what the last call of `rates` saw.
  virtual void stiff_blocks(std::span<StiffBlock> blocks) = 0;
  /// See OdeSystem.
  [[nodiscard]] virtual Times drive(std::span<double> slope, std::span<double> bend) = 0;
  virtual void error_scale(std::span<const double> y, std::span<double> scale) = 0;
  /// See OdeSystem.
  virtual void repair(int lane, std::span<double> y) = 0;
  virtual void end_step(int lane, double t_s) = 0;
  [[nodiscard]] virtual bool jumps_at(int lane, double t_s) const = 0;
  virtual bool add_jump(int lane, double t_s, std::span<double> dydt) = 0;
};

/// Predictor and corrector of order 2 with one call of `rates` a step, for systems side by side,
/// each with its own clock, step and control: a lane takes the steps that it would take beside any
/// others, to the last bit. One call of `attempt` tries one step in every lane that runs.
///
/// The state is predicted by the formula of Adams and Bashforth from the rates F at the last two
/// steps (by Euler's after a restart), the rates there are computed, once, and the step is the
/// trapezoidal rule:
///
///   y_p = y_n + h ((1 + r/2) F_n - r/2 F_{n-1}),  r = h / h_{n-1}
///   y_{n+1} = y_n + h/2 (F_n + F_{n+1}),          F_{n+1} = f(y_p)
///
/// Stiff blocks are predicted and corrected linearly implicitly instead, see LaneBlock: by their
/// own derivatives, by the slope that the rates had over the last step or have up to y_p, and by
/// what drives them from outside as far as that is known ahead. So they limit no step, what answers
/// within a step is predicted as well as the rest, and a bend of the drive where a step begins is
/// no surprise.
/// F_{n+1} stands for the rates at y_{n+1}, those of the blocks corrected for what lies between; it
/// is never computed again. Linear invariants are kept to rounding. The error is estimated from
/// y_{n+1} - y_p (Milne), or from LaneBlock::error where that is larger. Where rates jump, F_{n-1}
/// jumps with F_n: the change of the rates goes on as it was.
template <int lanes> class LaneIntegrator {
public:
  LaneIntegrator(LaneOdeSystem<lanes>& system, const StepControl& control);

  /// States, [entry][lane]; the caller writes a lane's state before `restart`.
  [[nodiscard]] std::vector<double>& y() { return y_; }

  /// After a jump in the lane's state: its next step starts small.
  void restart(int lane, double t_s);
  /// Lets a lane run until `t_end_s`, where one of its steps will end.
  void run_until(int lane, double t_end_s);
  void stop(int lane) { lane_[static_cast<std::size_t>(lane)].running = false; }

  /// Tries one step in every running lane. Lanes that reached their end stop.
  void attempt();

  [[nodiscard]] bool running(int lane) const {
    return lane_[static_cast<std::size_t>(lane)].running;
  }
  /// The lane's step fell below the smallest one; it stopped.
  [[nodiscard]] bool failed(int lane) const { return lane_[static_cast<std::size_t>(lane)].failed; }
  [[nodiscard]] double time_s(int lane) const { return lane_[static_cast<std::size_t>(lane)].t_s; }
  [[nodiscard]] long steps(int lane) const { return lane_[static_cast<std::size_t>(lane)].steps; }
  [[nodiscard]] long rejected(int lane) const {
    return lane_[static_cast<std::size_t>(lane)].rejected;
  }
  /// Calls of `rates`, of all lanes together.
  [[nodiscard]] long rate_calls() const { return calls_; }

private:
  struct Lane {
    double t_s = 0.0, t_end_s = 0.0, restarted_s = 0.0;
    double next_step_s = 0.0; ///< the control's wish for the next step
    double wanted_s = 0.0;    ///< the same, cut by what is allowed
    double h_s = 1.0;         ///< of the try under way
    double last_h_s = 0.0;    ///< of the last step; 0: none since the restart
    bool running = false, failed = false;
    bool fresh = true;       ///< its state is new since the last try
    bool needs_rates = true; ///< the rates at its state are not known
    long steps = 0, rejected = 0;
  };

  void find_rates();
  void choose_steps();
  void keep_stiff(const std::array<double, lanes>& of_lanes);
  void finish_try();

  LaneOdeSystem<lanes>& system_;
  StepControl control_;
  std::array<Lane, lanes> lane_;
  std::vector<LaneBlock<lanes>> blocks_;
  std::vector<StiffBlock> seen_;             ///< their derivatives as last asked for
  std::vector<std::size_t> stiff_stretches_; ///< of all blocks, in order
  std::vector<double> y_, rates_, rates_before_, predicted_, rates_predicted_, out_, scale_;
  std::vector<double> drive_slope_, drive_bend_; ///< as last asked for
  std::array<double, lanes> h_{}, error_share_{}, largest_{};
  long calls_ = 0;
};

} // namespace heapcast::engine
