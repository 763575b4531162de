#pragma once

#include "engine/integrator.hpp"
#include "engine/potential_flow.hpp"
#include "models/pile_state.hpp"
#include "models/pile_workspace.hpp"
#include "models/processes/pore_oxygen.hpp"

#include <span>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// One process: adds its rates from the state and the workspace. A new process is its file pair,
/// its test and one line in `processes()`.
struct Process {
  std::string_view name;
  void (*rates)(const PileSite&, const StateView&, Workspace&, const Rates&);
};

[[nodiscard]] std::span<const Process> processes();

/// The pile as a system of rates. Order of one evaluation: weather, structure, air flow, potential
/// decomposition, pore oxygen (algebraic, storage implicit over the step), then every process.
/// Owns the scratch space of one run; not for sharing between threads.
class PileSystem final : public engine::OdeSystem {
public:
  /// `state` holds the fields that only events change; it is read, not owned.
  PileSystem(const PileSite& site, const PileState& state);

  [[nodiscard]] std::size_t size() const override { return state_.layout.integrated_size(); }
  void rates(double t_s, std::span<const double> y, std::span<double> dydt) override;
  void end_step(double t_s, std::span<const double> y) override;
  [[nodiscard]] bool jumps_at(double t_s) const override;
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> y) override;

  [[nodiscard]] const engine::Mesh* stiff_mesh() const override { return &site_.mesh; }
  /// Conduction, vapour and air flow in the heat balance, linearised in temperature.
  void stiff_block(engine::StiffBlock& block) override;

  /// After an event: the state jumped, the pores were aired by a share (1: all of them), and the
  /// pile may have been re-formed at its first proportions.
  void after_event(double t_s, double aired_share, bool reformed);

  /// Rates with pore oxygen as a state of its own, for solvers that integrate it. x and dxdt have
  /// one entry a cell.
  void rates_with_oxygen(double t_s, std::span<const double> y, std::span<const double> x,
                         std::span<double> dydt, std::span<double> dxdt);

  [[nodiscard]] const Workspace& workspace() const { return w_; }
  [[nodiscard]] Workspace& workspace() { return w_; }
  /// Brings the workspace up to the given state without advancing anything.
  void evaluate(double t_s, std::span<const double> y);

  /// Relative size of the allowed error; 1 is the default.
  void set_tolerance(double factor) { tolerance_ = factor; }
  /// Whether pore oxygen is held back by what is stored in the pores (default) or is steady.
  void set_oxygen_storage(bool on) { storage_ = on; }

private:
  void prepare(double t_s, const StateView& view);
  void add_rates(const StateView& view, std::span<double> dydt);

  const PileSite& site_;
  const PileState& state_;
  engine::PotentialFlow flow_;
  PoreOxygenBalance oxygen_;
  Workspace w_;
  std::vector<double> scale_;
  double step_start_s_ = 0.0;
  double tolerance_ = 1.0;
  bool storage_ = true;
};

} // namespace heapcast::models
