#pragma once

#include "engine/integrator.hpp"
#include "engine/potential_flow.hpp"
#include "models/pile_workspace.hpp"
#include "models/processes/pore_oxygen.hpp"

#include <span>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// One process: adds its rates from the state and the workspace. A new process is its file pair,
/// its test and one line in `process_table`.
template <int lanes> struct LaneProcess {
  std::string_view name;
  void (*rates)(const LaneSite<lanes>&, const LaneStateView<lanes>&, LaneWorkspace<lanes>&,
                const LaneRates<lanes>&);
};
using Process = LaneProcess<1>;

[[nodiscard]] std::span<const Process> processes();

/// The rates of one pile, or of several side by side. Order of one evaluation: weather, structure,
/// air flow, potential decomposition, pore oxygen (algebraic, storage implicit over the step), then
/// every process. A lane's result depends on no other lane.
template <int lanes> class PileRates {
public:
  /// The layout is that of one pile. All lanes begin as `site`.
  PileRates(const PileSite& site, const engine::FieldLayout& layout);
  PileRates(const PileRates&) = delete;
  PileRates& operator=(const PileRates&) = delete;

  /// dydt at (t, y); `held` is the state that the held fields are read from.
  void rates(const PerLane<double, lanes>& t_s, const LaneStateView<lanes>& state,
             std::span<double> dydt);
  /// The same with pore oxygen given, and its own rate.
  void rates_with_oxygen(const PerLane<double, lanes>& t_s, const LaneStateView<lanes>& state,
                         std::span<const double> x, std::span<double> dydt, std::span<double> dxdt);
  /// Brings the workspace up to the given state without advancing anything.
  void evaluate(const PerLane<double, lanes>& t_s, const LaneStateView<lanes>& state);
  /// Brings the weather and what follows from the state without a solver up to it. Rain and snow
  /// are those of the hour of `rain_s`.
  void read(const PerLane<double, lanes>& t_s, const PerLane<double, lanes>& rain_s,
            const LaneStateView<lanes>& state);

  /// What a step took too much of a cell's ammonium, less than the error allowed, comes back out of
  /// the ammonia that left.
  void repair(int lane, std::span<double> y) const;
  /// A lane's step was taken, right after `rates` at its end.
  void end_step(int lane, double t_s);
  /// A lane's clock of steps begins here.
  void start_step(int lane, double t_s) { in_lane(step_start_s_, lane) = t_s; }

  /// Heat with the water that evaporates as its follower, and on fine meshes ammonia in the pore
  /// air.
  [[nodiscard]] std::vector<engine::StiffLayout> stiff_layout() const;
  void stiff_blocks(std::span<engine::StiffBlock> blocks);
  /// See engine::OdeSystem: the weather until the hour's end, as heat and vapour at the boundary
  /// see it.
  [[nodiscard]] PerLane<double, lanes> drive(std::span<double> slope, std::span<double> bend);
  /// See engine::OdeSystem: rain and snow of a lane from one hour to the next.
  bool add_jump(int lane, double t_s, std::span<double> dydt) const;
  /// Error allowed per step of every entry of y.
  void error_scale(const LaneStateView<lanes>& state, std::span<double> scale) const;

  [[nodiscard]] LaneWorkspace<lanes>& workspace() { return w_; }
  [[nodiscard]] const LaneWorkspace<lanes>& workspace() const { return w_; }
  [[nodiscard]] LaneSite<lanes>& site() { return site_; }
  [[nodiscard]] const LaneSite<lanes>& site() const { return site_; }

  void set_tolerance(double factor) { tolerance_ = factor; }
  void set_oxygen_storage(bool on) { storage_ = on; }

private:
  void prepare(const PerLane<double, lanes>& t_s, const LaneStateView<lanes>& state);
  void add_rates(const LaneStateView<lanes>& state, std::span<double> dydt);

  engine::FieldLayout layout_;
  LaneSite<lanes> site_;
  LaneWorkspace<lanes> w_;
  engine::PotentialFlow<lanes> flow_;
  PoreOxygenBalance<lanes> oxygen_;
  PerLane<double, lanes> step_start_s_{};
  double tolerance_ = 1.0;
  bool storage_ = true;
};

} // namespace heapcast::models
