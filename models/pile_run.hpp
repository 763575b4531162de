#pragma once

#include "engine/integrator.hpp"
#include "engine/ledger.hpp"
#include "models/forecast.hpp"
#include "models/hygiene/heated_material.hpp"
#include "models/hygiene/hygiene_watch.hpp"
#include "models/hygiene/survivors.hpp"
#include "models/labour.hpp"
#include "models/operations/mix.hpp"
#include "models/operations/schedule.hpp"
#include "models/pile_system.hpp"
#include "models/readiness/readiness_watch.hpp"

#include <functional>
#include <optional>
#include <vector>

namespace heapcast::models {

/// One run of one pile: state, clocks, ledger and record. Advances hour by hour; what is done to
/// the pile is done on the hour.
class PileRun {
public:
  explicit PileRun(const PileDescription& pile,
                   const engine::StepControl& control = step_control());
  /// On another mesh of the same pile, for measuring how results depend on it.
  PileRun(const PileDescription& pile, engine::Mesh mesh,
          const engine::StepControl& control = step_control());

  /// Does what is due now: turning, watering, adding, covering, fan.
  void do_events();
  /// Integrates one hour and records.
  void advance_hour();
  /// Takes `y` from t to t_end and tells the system with `end_step`.
  using Advance =
      std::function<void(PileSystem& system, std::vector<double>& y, double t_s, double t_end_s)>;
  /// The same hour with another solver.
  void advance_hour(const Advance& advance);
  /// The same hour by someone who advances `y` and fills the system's workspace between the two.
  void begin_hour();
  void end_hour();
  /// The integrated part of the state.
  [[nodiscard]] std::vector<double>& y() { return y_; }
  [[nodiscard]] double time_s() const { return time_s_; }
  /// Whether the state or what acts on it jumped since the last call.
  [[nodiscard]] bool take_jump();
  /// What another solver did, for the record.
  void count_steps(long steps, long rejected);
  [[nodiscard]] ForecastResult finish();

  [[nodiscard]] double day() const { return time_s_ / seconds_per_day; }
  [[nodiscard]] const PileState& state() const { return state_; }
  [[nodiscard]] PileSystem& system() { return system_; }
  [[nodiscard]] const PileSite& site() const { return site_; }
  [[nodiscard]] Readings readings() const;
  /// Largest residual so far of water, carbon, nitrogen, ash, energy.
  [[nodiscard]] std::vector<double> closure() const { return closure_; }

  /// The step control of a forecast.
  [[nodiscard]] static engine::StepControl step_control();

private:
  void record();
  void record_field();
  void check_balances();
  void book(const Exchange& exchange);
  void after_event(double aired_share, bool reformed);
  void restart();
  void turn(const std::string& reason);
  void water(const std::string& reason);
  /// Brings the lumps of the state up to now, before something is done to them.
  void settle_lumps();
  [[nodiscard]] std::string too_long_to_fork() const;
  /// Of what is alive now, with the particle size of the laboratory tests: the tests' largest rate
  /// (ReadinessWatch) is higher while the microbes of a fresh pile are still few.
  [[nodiscard]] double uptake_at_30() const;
  [[nodiscard]] std::string limiting();
  /// Share of the dry matter that has been hot for 3 days in a row.
  [[nodiscard]] double heated_fraction() const;
  void add_scalar(std::string name, std::string unit, std::string long_name, double value,
                  std::string reason = {});
  void watch_hour();
  void watch_readiness();
  void fill_scalars();
  void add_costs_and_yield();

  const PileDescription& pile_;
  PileSite site_;
  PileState state_;
  PileSystem system_;
  engine::Integrator integrator_;
  std::vector<double> y_; ///< integrated part of the state
  double time_s_ = 0.0;
  bool jumped_ = true;
  long other_steps_ = 0, other_rejected_ = 0;
  std::vector<double> hour_before_K_; ///< temperatures at the start of the hour

  std::optional<ScheduleClock> turning_, watering_;
  std::vector<ScheduleClock> additions_;
  std::vector<int> times_added_; ///< of each addition
  std::size_t next_cover_ = 0;

  engine::Balance water_, carbon_, nitrogen_, ash_, energy_;
  std::vector<double> closure_;
  double water_added_kg_ = 0.0;
  double turn_steam_kg_ = 0.0;
  double turn_ammonia_kgN_ = 0.0;
  double first_volume_m3_ = 0.0, first_carbon_kgC_ = 0.0, first_nitrogen_kgN_ = 0.0;
  double carbon_in_kgC_ = 0.0, nitrogen_in_kgN_ = 0.0, volume_in_m3_ = 0.0;
  double best_food_kgC_s_ = 0.0;
  int turns_ = 0;
  Labour labour_;

  std::vector<std::size_t> core_cells_, skin_cells_;
  HygieneWatch hygiene_;
  Survivors survivors_;
  HeatedMaterial heated_;
  ReadinessWatch readiness_;
  ForecastResult result_;
};

} // namespace heapcast::models
