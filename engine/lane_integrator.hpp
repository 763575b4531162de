#pragma once

#include "engine/integrator.hpp"
#include "engine/lane_solvers.hpp"

#include <array>
#include <span>
#include <vector>

namespace heapcast::engine {

/// Eight systems of one structure side by side, as LaneIntegrator sees them: OdeSystem with arrays
/// [entry][lane], each lane at its own time. No lane's rates may depend on another lane.
class LaneOdeSystem {
public:
  static constexpr int lanes = 8;
  using Times = std::array<double, lanes>;

  virtual ~LaneOdeSystem() = default;
  /// Entries of one lane.
  [[nodiscard]] virtual std::size_t size() const = 0;
  [[nodiscard]] virtual const Mesh& stiff_mesh() const = 0;
  /// Before every try: forget what a try that was turned down left behind.
  virtual void begin_try() = 0;
  virtual void rates(const Times& t_s, std::span<const double> y, std::span<double> dydt) = 0;
  /// At the state of the last call of `rates` that each lane kept; `first` and `sink` are those of
  /// entry 0 in lane 0.
  virtual void stiff_block(StiffBlock& block) = 0;
  virtual void error_scale(std::span<const double> y, std::span<double> scale) = 0;
  virtual void end_step(int lane, double t_s) = 0;
  [[nodiscard]] virtual bool jumps_at(int lane, double t_s) const = 0;
};

/// The method and the step control of Integrator for eight systems side by side, each with its own
/// clock, step and control: a lane takes the steps that it would take beside any others, to the
/// last bit. One call of `attempt` tries one step in every lane that runs.
class LaneIntegrator {
public:
  static constexpr int lanes = LaneOdeSystem::lanes;

  LaneIntegrator(LaneOdeSystem& system, const StepControl& control);

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

private:
  struct Lane {
    double t_s = 0.0, t_end_s = 0.0, restarted_s = 0.0;
    double next_step_s = 0.0; ///< the control's wish for the next step
    double wanted_s = 0.0;    ///< the same, cut by what is allowed
    double h_s = 1.0;         ///< of the try under way
    bool running = false, failed = false;
    bool fresh = true;       ///< its state is new since the last try
    bool needs_rates = true; ///< the rates at its state are not known
    long steps = 0, rejected = 0;
  };

  void choose_steps();
  void prepare_stiff();
  void solve_stiff(std::vector<double>& r);
  void finish_try();

  LaneOdeSystem& system_;
  StepControl control_;
  std::array<Lane, lanes> lane_;
  LaneLu<lanes> lu_;
  StiffBlock block_, new_block_;
  std::vector<double> y_, first_, last_, stage_, out_, scale_;
  std::array<std::vector<double>, 4> u_;
  std::vector<double> column_, diagonal_, minus_a_, minus_b_;
  std::array<double, lanes> h_{}, inverse_hg_{}, hg_{}, largest_{};
};

} // namespace heapcast::engine
