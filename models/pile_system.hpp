#pragma once

#include "engine/integrator.hpp"
#include "models/pile_rates.hpp"
#include "models/pile_state.hpp"

#include <span>
#include <vector>

namespace heapcast::models {

/// The pile as a system of rates, see PileRates.
/// Owns the scratch space of one run; not for sharing between threads.
class PileSystem final : public engine::OdeSystem {
public:
  /// `state` holds the fields that only events change; it is read, not owned.
  PileSystem(const PileSite& site, const PileState& state);

  [[nodiscard]] std::size_t size() const override { return state_.layout.integrated_size(); }
  void rates(double t_s, std::span<const double> y, std::span<double> dydt) override;
  void repair(std::span<double> y) override { rates_.repair(0, y); }
  void end_step(double t_s, std::span<const double> y) override;
  [[nodiscard]] bool jumps_at(double t_s) const override;
  bool add_jump(double t_s, std::span<double> dydt) override {
    return rates_.add_jump(0, t_s, dydt);
  }
  [[nodiscard]] std::span<const double> error_scale(std::span<const double> y) override;

  [[nodiscard]] const engine::Mesh* stiff_mesh() const override { return &site_.mesh; }
  [[nodiscard]] std::vector<engine::StiffLayout> stiff_layout() const override {
    return rates_.stiff_layout();
  }
  void stiff_blocks(std::span<engine::StiffBlock> blocks) override { rates_.stiff_blocks(blocks); }
  double drive(std::span<double> slope, std::span<double> bend) override {
    return rates_.drive(slope, bend);
  }

  /// After an event: the state jumped, the pores were aired by a share (1: all of them), and the
  /// pile may have been re-formed at its first proportions.
  void after_event(double t_s, double aired_share, bool reformed);

  /// Rates with pore oxygen as a state of its own, for solvers that integrate it. x and dxdt have
  /// one entry a cell.
  void rates_with_oxygen(double t_s, std::span<const double> y, std::span<const double> x,
                         std::span<double> dydt, std::span<double> dxdt);

  [[nodiscard]] const Workspace& workspace() const { return rates_.workspace(); }
  [[nodiscard]] Workspace& workspace() { return rates_.workspace(); }
  /// The site as processes see it.
  [[nodiscard]] const LaneSite<1>& lane_site() const { return rates_.site(); }
  /// Brings the workspace up to the given state without advancing anything.
  void evaluate(double t_s, std::span<const double> y);
  /// Brings what follows from the state without a solver, temperatures among it, up to the state;
  /// air flow and pore oxygen stay those of the last call of `rates`. Rain is that of the hour that
  /// ends.
  void read(double t_s, std::span<const double> y);

  /// Relative size of the allowed error; 1 is the default.
  void set_tolerance(double factor) { rates_.set_tolerance(factor); }
  /// Whether pore oxygen is held back by what is stored in the pores (default) or is steady.
  void set_oxygen_storage(bool on) { rates_.set_oxygen_storage(on); }

private:
  [[nodiscard]] StateView view(std::span<const double> y) const {
    return {state_.layout, y.data(), state_.y.data()};
  }

  const PileSite& site_;
  const PileState& state_;
  PileRates<1> rates_;
  std::vector<double> scale_;
};

} // namespace heapcast::models
