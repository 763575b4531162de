#pragma once

#include "engine/mesh.hpp"
#include "engine/stiff_block.hpp"

#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace heapcast::engine {

/// A system dy/dt = rates(t, y), as the integrator sees it.
///
/// Contract:
/// 1. `rates` writes every entry of `dydt`; it may keep algebraic unknowns between calls, but its
///    result depends only on (t, y) and on what the last `end_step` saw.
/// 2. `stiff_blocks` is asked for once before the trial steps that start at the present state, and
///    then `drive`.
/// 3. `end_step(t, y)` is called after an accepted step, with the state it ends in. The last call
/// of
///    `rates` was at that t, and at y or, by the predictor and corrector, at a state that differs
///    from y by what is allowed as error.
/// 4. `error_scale(y)[i]` is the error allowed in y[i]; infinity leaves it out of the control.
class OdeSystem {
public:
  virtual ~OdeSystem() = default;
  [[nodiscard]] virtual std::size_t size() const = 0;
  virtual void rates(double t_s, std::span<const double> y, std::span<double> dydt) = 0;
  /// The state a step ends in, before `end_step`: may put right what is smaller than the error
  /// allowed, such as an amount below 0. By the predictor and corrector alone.
  virtual void repair(std::span<double> /*y*/) {}
  virtual void end_step(double /*t_s*/, std::span<const double> /*y*/) {}
  [[nodiscard]] virtual std::span<const double> error_scale(std::span<const double> y) = 0;
  /// Whether the rates jump at t, the end of a step, from which the next one starts with others.
  [[nodiscard]] virtual bool jumps_at(double /*t_s*/) const { return false; }
  /// Adds to the rates what they jump by there, after `end_step`. False when that is not known and
  /// the rates must be computed anew.
  virtual bool add_jump(double /*t_s*/, std::span<double> /*dydt*/) { return false; }

  /// The mesh of the stiff blocks; nullptr when there is none.
  [[nodiscard]] virtual const Mesh* stiff_mesh() const { return nullptr; }
  /// The stiff blocks, none or several that do not overlap, in the order of their entries.
  [[nodiscard]] virtual std::vector<StiffLayout> stiff_layout() const { return {}; }
  /// Fills the derivatives, in the order of the layout; sizes are those of the mesh.
  virtual void stiff_blocks(std::span<StiffBlock> /*blocks*/) {}
  /// What of the rates' change is known ahead: at the state of the last call of `rates`, what
  /// drives the system from outside changes rate i over the next s by slope_i s + bend_i s (s -
  /// ahead). Returns `ahead`, the time that it looks ahead, in which steps will end. Writes stiff
  /// entries and their sinks, which begin as 0, and no others. Linear invariants of the rates must
  /// be those of slope and bend. What is left out costs accuracy alone.
  virtual double drive(std::span<double> /*slope*/, std::span<double> /*bend*/) { return 1.0; }
};

enum class Scheme {
  rosenbrock,         ///< order 3, four calls of `rates` a step
  predictor_corrector ///< order 2, one call a step, see LaneIntegrator
};

struct StepControl {
  Scheme scheme = Scheme::rosenbrock;
  double first_step_s = 30.0;
  double largest_step_s = 3600.0;
  double smallest_step_s = 1e-3;
  double growth_after_event = 0.0; ///< largest step as a share of the time since `restart`; 0: none
  double fixed_step_s = 0.0;       ///< > 0: this step, no control (for order measurements)
};

/// Integrates an OdeSystem by one of two schemes, both explicit but for the stiff blocks, which are
/// solved for linearly: Boost.Odeint's controlled stepper over a Rosenbrock W-method of order 3(2),
/// ROS34PW2 of Rang & Angermann (BIT 45:761, 2005), written to Odeint's stepper concept; or the
/// predictor and corrector of LaneIntegrator. Linear invariants are kept to rounding. Steps end
/// exactly where `advance` ends.
class Integrator {
public:
  Integrator(OdeSystem& system, const StepControl& control);
  ~Integrator();

  /// Forget the past after a jump in the state; the next step starts small.
  void restart(double t_s);

  /// Advances y from t to t_end. Throws NumericsError when the step falls below the smallest.
  void advance(std::vector<double>& y, double t_s, double t_end_s);

  [[nodiscard]] long steps() const;
  [[nodiscard]] long rejected() const;
  [[nodiscard]] long rate_calls() const;

private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

} // namespace heapcast::engine
