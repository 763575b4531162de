#include "models/pile_rates.hpp"

#include "models/processes/air_flow.hpp"
#include "models/processes/decomposition.hpp"
#include "models/processes/heat_and_vapour.hpp"
#include "models/processes/nitrogen.hpp"
#include "models/processes/structure.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <array>
#include <limits>

namespace heapcast::models {

namespace {

using engine::each_entry;
using F = CellField;

template <int lanes>
constexpr std::array process_table = {
    LaneProcess<lanes>{"decomposition", &decomposition},
    LaneProcess<lanes>{"heat_and_vapour", &heat_and_vapour},
    LaneProcess<lanes>{"drainage", &drainage},
    LaneProcess<lanes>{"nitrogen", &nitrogen},
    LaneProcess<lanes>{"settling", &settling},
};

// Error allowed per step, chosen so that a run stays within 1e-3 of each integrated quantity's
// range, in winter within 4e-3 (tests: PileConvergence).
constexpr double temperature_error_K = 0.025;
constexpr double mass_error = 3e-5; ///< of the cell's carbon, water, nitrogen
constexpr double settling_error = 1e-4;
constexpr double snow_error_kg_m2 = 3e-4;

constexpr double steady_s = 1e12; ///< so long that storage does not count

template <int lanes>
HEAPCAST_INLINE inline void allowed(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,
                                    double tolerance, double* scale) {
  const auto at = [&](F f) HEAPCAST_INLINE {
    return scale + lanes * state.layout.field(static_cast<std::size_t>(f));
  };
  const double* pool[] = {state.field(F::fast),  state.field(F::medium),
                          state.field(F::slow),  state.field(F::resistant),
                          state.field(F::humus), state.field(F::biomass)};
  const double* nitrogen[] = {state.field(F::organic_nitrogen), state.field(F::ammonium_nitrogen),
                              state.field(F::nitrate_nitrogen)};
  double* of_pool[] = {at(F::fast),      at(F::medium), at(F::slow),
                       at(F::resistant), at(F::humus),  at(F::biomass)};
  double* of_nitrogen[] = {at(F::organic_nitrogen), at(F::ammonium_nitrogen),
                           at(F::nitrate_nitrogen)};
  const double* ash = state.field(F::ash);
  const double* volatile_ratio = state.field(F::volatile_per_carbon);
  const double* water = state.field(F::water);
  double* of_water = at(F::water);
  double* of_enthalpy = at(F::enthalpy);
  double* of_settling = at(F::settling);
  const double mass = tolerance * mass_error;
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    double carbon = 0.0;
    for (const double* p : pool) {
      carbon += p[i];
    }
    for (double* p : of_pool) {
      p[i] = mass * carbon;
    }
    double total_n = 0.0;
    for (const double* p : nitrogen) {
      total_n += p[i];
    }
    for (double* p : of_nitrogen) {
      p[i] = 3.0 * mass * total_n;
    }
    const double dry = ash[i] + volatile_ratio[i] * carbon;
    of_water[i] = 3.0 * mass * (water[i] + dry);
    of_enthalpy[i] = tolerance * temperature_error_K *
                     heat_capacities_J_K({.dry_mass_kg = dry,
                                          .water_mass_kg = water[i],
                                          .solids_heat_capacity_J_kgK =
                                              site.coefficients.solids_heat_capacity_J_kgK[l]})
                         .thawed;
    of_settling[i] = tolerance * settling_error;
  });
}

HEAPCAST_VECTORISED void allowed_of(const LaneSite<1>& site, const LaneStateView<1>& state,
                                    double tolerance, double* scale) {
  allowed<1>(site, state, tolerance, scale);
}
HEAPCAST_VECTORISED void allowed_of(const LaneSite<run_lanes>& site,
                                    const LaneStateView<run_lanes>& state, double tolerance,
                                    double* scale) {
  allowed<run_lanes>(site, state, tolerance, scale);
}

} // namespace

std::span<const Process> processes() {
  return process_table<1>;
}

template <int lanes>
PileRates<lanes>::PileRates(const PileSite& site, const engine::FieldLayout& layout)
    : layout_(layout), site_(site), w_(site.mesh), flow_(site.mesh), oxygen_(site_, site.mesh) {
  for (int l = 0; l < lanes; ++l) {
    in_lane(w_.surface, l) = surface_shield(*site.pile, site.pile->cover);
    in_lane(w_.wall, l) = wall_shield(*site.pile);
  }
  std::fill(w_.oxygen_before.begin(), w_.oxygen_before.end(), oxygen_in_dry_air);
  w_.oxygen = w_.oxygen_before;
}

template <int lanes>
void PileRates<lanes>::read(const PerLane<double, lanes>& t_s, const PerLane<double, lanes>& rain_s,
                            const LaneStateView<lanes>& state) {
  w_.t_s = t_s;
  for (int l = 0; l < lanes; ++l) {
    in_lane(w_.forcing, l) =
        in_lane(site_.site, l)->forcing.at({.t_s = in_lane(t_s, l), .start_s = in_lane(rain_s, l)});
  }
  evaluate_matter(site_, state, w_);
  for (int l = 0; l < lanes; ++l) {
    const double scale = in_lane(w_.scale, l).plan;
    const double plan = in_lane(site_.plan_area_total_m2, l) * scale * (site_.round ? scale : 1.0);
    in_lane(w_.snow_kg_m2, l) = state.totals(Total::snow)[l] / std::max(plan, 1e-9);
  }
}

template <int lanes>
void PileRates<lanes>::prepare(const PerLane<double, lanes>& t_s,
                               const LaneStateView<lanes>& state) {
  read(t_s, step_start_s_, state);
  evaluate_pores(site_, state, w_);
  air_flow(site_, flow_, w_);
  decomposition_potential(site_, state, w_);
  oxygen_.set_transport(w_);
}

template <int lanes>
void PileRates<lanes>::add_rates(const LaneStateView<lanes>& state, std::span<double> dydt) {
  oxygen_factors(site_, w_);
  std::fill(dydt.begin(), dydt.end(), 0.0);
  const LaneRates<lanes> rates{layout_, dydt};
  for (const LaneProcess<lanes>& process : process_table<lanes>) {
    process.rates(site_, state, w_, rates);
  }
}

template <int lanes>
void PileRates<lanes>::rates(const PerLane<double, lanes>& t_s, const LaneStateView<lanes>& state,
                             std::span<double> dydt) {
  prepare(t_s, state);
  PerLane<double, lanes> since_s;
  for (int l = 0; l < lanes; ++l) {
    in_lane(since_s, l) = storage_ ? in_lane(t_s, l) - in_lane(step_start_s_, l) : steady_s;
  }
  oxygen_.solve(since_s, w_);
  add_rates(state, dydt);
}

template <int lanes>
void PileRates<lanes>::rates_with_oxygen(const PerLane<double, lanes>& t_s,
                                         const LaneStateView<lanes>& state,
                                         std::span<const double> x, std::span<double> dydt,
                                         std::span<double> dxdt) {
  prepare(t_s, state);
  std::copy(x.begin(), x.end(), w_.oxygen.begin());
  for (double& v : w_.oxygen) {
    v = std::max(v, 0.0);
  }
  oxygen_.rates(w_, w_.oxygen, dxdt);
  add_rates(state, dydt);
}

template <int lanes>
void PileRates<lanes>::evaluate(const PerLane<double, lanes>& t_s,
                                const LaneStateView<lanes>& state) {
  prepare(t_s, state);
  w_.oxygen = w_.oxygen_before;
  oxygen_factors(site_, w_);
}

template <int lanes> void PileRates<lanes>::repair(int lane, std::span<double> y) const {
  const std::size_t ammonium = layout_.field(static_cast<std::size_t>(F::ammonium_nitrogen));
  const std::size_t lost = layout_.total(static_cast<std::size_t>(Total::ammonia_nitrogen));
  for (std::size_t c = 0; c < site_.cells(); ++c) {
    double& here = y[(ammonium + c) * lanes + static_cast<std::size_t>(lane)];
    if (here < 0.0) {
      y[lost * lanes + static_cast<std::size_t>(lane)] += here;
      here = 0.0;
    }
  }
}

template <int lanes> void PileRates<lanes>::end_step(int lane, double t_s) {
  const double step_s = storage_ ? t_s - in_lane(step_start_s_, lane) : 0.0;
  in_lane(w_.oxygen_step_s, lane) = step_s;
  for (std::size_t c = 0; c < site_.cells(); ++c) {
    const std::size_t i = c * lanes + static_cast<std::size_t>(lane);
    if (step_s > 0.0) {
      w_.oxygen_slope_1_s[i] = (w_.oxygen[i] - w_.oxygen_before[i]) / step_s;
    }
    w_.oxygen_before[i] = w_.oxygen[i];
  }
  in_lane(step_start_s_, lane) = t_s;
}

/// In meshes of no more cells than this ammonia is slower than the steps of a forecast: its block
/// would cost a tenth of the time and save no step.
constexpr std::size_t cells_of_slow_ammonia = 150;

template <int lanes> std::vector<engine::StiffLayout> PileRates<lanes>::stiff_layout() const {
  const auto entries = [&](F field, Total sink) {
    return engine::StiffEntries{layout_.field(static_cast<std::size_t>(field)),
                                layout_.total(static_cast<std::size_t>(sink))};
  };
  std::vector<engine::StiffLayout> layout = {{.block = entries(F::enthalpy, Total::heat_lost),
                                              .follower = entries(F::water, Total::evaporation)}};
  if (site_.cells() > cells_of_slow_ammonia) {
    layout.push_back(
        {.block = entries(F::ammonium_nitrogen, Total::ammonia_nitrogen), .follower = {}});
  }
  return layout;
}

template <int lanes> void PileRates<lanes>::stiff_blocks(std::span<engine::StiffBlock> blocks) {
  heat_linearisation(site_, w_, blocks[0]);
  if (blocks.size() > 1) {
    ammonia_linearisation(site_, w_, blocks[1].level);
  }
}

template <int lanes>
PerLane<double, lanes> PileRates<lanes>::drive(std::span<double> slope, std::span<double> bend) {
  PerLane<Forcing, lanes> half_way;
  PerLane<Forcing, lanes> at_end;
  PerLane<double, lanes> ahead_s;
  PerLane<double, lanes> per_s;
  for (int l = 0; l < lanes; ++l) {
    const double now_s = in_lane(w_.t_s, l);
    const double end_s = end_of_hour_s(now_s);
    in_lane(ahead_s, l) = end_s - now_s;
    in_lane(per_s, l) = 1.0 / (end_s - now_s);
    const ForcingSeries& weather = in_lane(site_.site, l)->forcing;
    in_lane(half_way, l) = weather.at({.t_s = 0.5 * (now_s + end_s), .start_s = now_s});
    in_lane(at_end, l) = weather.at({.t_s = end_s, .start_s = now_s});
  }
  const LaneRates<lanes> slopes{layout_, slope};
  const LaneRates<lanes> bends{layout_, bend};
  for (const LaneRates<lanes>& to : {slopes, bends}) {
    for (const F field : {F::enthalpy, F::water}) {
      std::fill_n(to.field(field), lanes * site_.cells(), 0.0);
    }
    for (const Total total : {Total::heat_lost, Total::evaporation}) {
      std::fill_n(to.totals(total), lanes, 0.0);
    }
  }
  heat_drive(site_, w_, half_way, at_end, per_s, slopes, bends);
  return ahead_s;
}

template <int lanes>
bool PileRates<lanes>::add_jump(int lane, double t_s, std::span<double> dydt) const {
  const Forcing& before = in_lane(w_.forcing, lane);
  const Forcing after = in_lane(site_.site, lane)->forcing.at(t_s);
  precipitation(site_, w_, lane,
                {.rain_kg_m2_s = after.rain_kg_m2_s - before.rain_kg_m2_s,
                 .snow_kg_m2_s = after.snow_kg_m2_s - before.snow_kg_m2_s},
                {layout_, dydt});
  return true;
}

template <int lanes>
void PileRates<lanes>::error_scale(const LaneStateView<lanes>& state,
                                   std::span<double> scale) const {
  allowed_of(site_, state, tolerance_, scale.data());
  // Totals feed nothing back, except the snow that lies.
  std::fill(scale.begin() + static_cast<std::ptrdiff_t>(lanes * layout_.total(0)), scale.end(),
            std::numeric_limits<double>::infinity());
  double* snow = scale.data() + lanes * layout_.total(static_cast<std::size_t>(Total::snow));
  for (int l = 0; l < lanes; ++l) {
    snow[l] = tolerance_ * snow_error_kg_m2 * in_lane(site_.plan_area_total_m2, l);
  }
}

template class PileRates<1>;
template class PileRates<run_lanes>;

} // namespace heapcast::models
