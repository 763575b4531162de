#include "models/pile_system.hpp"

#include "models/processes/air_flow.hpp"
#include "models/processes/decomposition.hpp"
#include "models/processes/heat_and_vapour.hpp"
#include "models/processes/nitrogen.hpp"
#include "models/processes/structure.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr std::array process_table = {
    Process{"decomposition", &decomposition}, Process{"heat_and_vapour", &heat_and_vapour},
    Process{"drainage", &drainage},           Process{"nitrogen", &nitrogen},
    Process{"settling", &settling},
};

// Error allowed per step, chosen so that a run stays within 1e-3 of each integrated quantity's
// range (tests: PileConvergence).
constexpr double temperature_error_K = 0.03;
constexpr double mass_error = 3e-5; ///< of the cell's carbon, water, nitrogen
constexpr double settling_error = 1e-4;
constexpr double snow_error_kg_m2 = 0.02;

constexpr double steady_s = 1e12; ///< so long that storage does not count

} // namespace

std::span<const Process> processes() {
  return process_table;
}

PileSystem::PileSystem(const PileSite& site, const PileState& state)
    : site_(site), state_(state), flow_(site.mesh), oxygen_(site), w_(site.mesh), scale_(size()) {
  w_.surface = surface_shield(*site.pile, site.pile->cover);
  w_.wall = wall_shield(*site.pile);
  std::fill(w_.oxygen_before.begin(), w_.oxygen_before.end(), oxygen_in_dry_air);
  w_.oxygen = w_.oxygen_before;
  prepare_structure(site_, state_, w_);
}

void PileSystem::prepare(double t_s, const StateView& view) {
  w_.t_s = t_s;
  w_.forcing = site_.forcing.at({.t_s = t_s, .start_s = step_start_s_});
  evaluate_structure(site_, view, w_);
  const double plan =
      site_.mesh.plan_area_total_m2 * w_.scale.plan * (site_.mesh.round ? w_.scale.plan : 1.0);
  w_.snow_kg_m2 = view.total(Total::snow) / std::max(plan, 1e-9);
  air_flow(site_, flow_, w_);
  decomposition_potential(site_, view, w_);
  oxygen_.set_transport(w_);
}

void PileSystem::add_rates(const StateView& view, std::span<double> dydt) {
  oxygen_factors(w_);
  std::fill(dydt.begin(), dydt.end(), 0.0);
  const Rates rates{state_.layout, dydt};
  for (const Process& process : process_table) {
    process.rates(site_, view, w_, rates);
  }
}

void PileSystem::rates(double t_s, std::span<const double> y, std::span<double> dydt) {
  const StateView view{state_.layout, y.data(), state_.y.data()};
  prepare(t_s, view);
  oxygen_.solve(storage_ ? t_s - step_start_s_ : steady_s, w_);
  add_rates(view, dydt);
}

void PileSystem::rates_with_oxygen(double t_s, std::span<const double> y, std::span<const double> x,
                                   std::span<double> dydt, std::span<double> dxdt) {
  const StateView view{state_.layout, y.data(), state_.y.data()};
  prepare(t_s, view);
  std::copy(x.begin(), x.end(), w_.oxygen.begin());
  for (double& v : w_.oxygen) {
    v = std::max(v, 0.0);
  }
  oxygen_.rates(w_, w_.oxygen, dxdt);
  add_rates(view, dydt);
}

void PileSystem::evaluate(double t_s, std::span<const double> y) {
  const StateView view{state_.layout, y.data(), state_.y.data()};
  prepare(t_s, view);
  w_.oxygen = w_.oxygen_before;
  oxygen_factors(w_);
}

void PileSystem::end_step(double t_s, std::span<const double> /*y*/) {
  w_.oxygen_step_s = storage_ ? t_s - step_start_s_ : 0.0;
  if (w_.oxygen_step_s > 0.0) {
    for (std::size_t i = 0; i < w_.oxygen.size(); ++i) {
      w_.oxygen_slope_1_s[i] = (w_.oxygen[i] - w_.oxygen_before[i]) / w_.oxygen_step_s;
    }
  }
  step_start_s_ = t_s;
  w_.oxygen_before = w_.oxygen;
}

bool PileSystem::jumps_at(double t_s) const {
  return site_.forcing.precipitation_jumps_at(t_s);
}

void PileSystem::after_event(double t_s, double aired_share, bool reformed) {
  step_start_s_ = t_s;
  prepare_structure(site_, state_, w_);
  if (reformed && !site_.container) {
    evaluate_structure(site_, {state_.layout, state_.y.data(), state_.y.data()}, w_);
    const double shrunk = w_.volume_m3 / site_.mesh.total_volume_m3();
    w_.scale.plan = site_.mesh.round ? std::cbrt(shrunk) : std::sqrt(shrunk);
  }
  w_.oxygen_step_s = 0.0;
  for (double& x : w_.oxygen_before) {
    x += aired_share * (oxygen_in_dry_air - x);
  }
  w_.oxygen = w_.oxygen_before;
}

void PileSystem::stiff_block(engine::StiffBlock& block) {
  block.first = state_.layout.field(static_cast<std::size_t>(F::enthalpy));
  block.sink = state_.layout.total(static_cast<std::size_t>(Total::heat_lost));
  heat_linearisation(site_, w_, block);
}

std::span<const double> PileSystem::error_scale(std::span<const double> y) {
  const std::size_t n = site_.mesh.cells();
  const auto& layout = state_.layout;
  const auto at = [&](F f) { return scale_.data() + layout.field(static_cast<std::size_t>(f)); };
  const auto value = [&](F f, std::size_t i) {
    return y[layout.field(static_cast<std::size_t>(f)) + i];
  };
  const double mass = tolerance_ * mass_error;
  for (std::size_t i = 0; i < n; ++i) {
    const double carbon = value(F::fast, i) + value(F::medium, i) + value(F::slow, i) +
                          value(F::resistant, i) + value(F::humus, i) + value(F::biomass, i);
    for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass}) {
      at(f)[i] = mass * carbon;
    }
    const double dry = state_.field(F::ash)[i] + state_.field(F::volatile_per_carbon)[i] * carbon;
    const double water = value(F::water, i);
    at(F::water)[i] = 3.0 * mass * (water + dry);
    at(F::enthalpy)[i] = tolerance_ * temperature_error_K *
                         heat_capacity_J_K({.dry_mass_kg = dry,
                                            .water_mass_kg = water,
                                            .solids_heat_capacity_J_kgK =
                                                site_.coefficients.solids_heat_capacity_J_kgK},
                                           freezing_K + 20.0);
    const double nitrogen = value(F::organic_nitrogen, i) + value(F::ammonium_nitrogen, i) +
                            value(F::nitrate_nitrogen, i);
    for (const F f : {F::organic_nitrogen, F::ammonium_nitrogen, F::nitrate_nitrogen}) {
      at(f)[i] = 3.0 * mass * nitrogen;
    }
    at(F::settling)[i] = tolerance_ * settling_error;
  }
  // Totals feed nothing back, except the snow that lies.
  std::fill(scale_.begin() + static_cast<std::ptrdiff_t>(layout.total(0)), scale_.end(),
            std::numeric_limits<double>::infinity());
  scale_[layout.total(static_cast<std::size_t>(Total::snow))] =
      tolerance_ * snow_error_kg_m2 * site_.mesh.plan_area_total_m2;
  return scale_;
}

} // namespace heapcast::models
