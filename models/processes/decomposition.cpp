#include "models/processes/decomposition.hpp"

#include "models/processes/decomposition_law.hpp"
#include "models/properties/acidity.hpp"
#include "models/properties/ammonia.hpp"
#include "models/properties/free_air_space.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/moist_air.hpp"
#include "models/properties/nitrification.hpp"
#include "models/properties/oxidation.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

using F = CellField;
using engine::each_entry;

constexpr double reference_water_holding = 2.6; ///< kg/kg at which moisture counts as it is
constexpr double bound_water_share = 0.02;      ///< kg/kg dry that stays; keeps dry cells finite
constexpr double nitrification_oxygen = 2.0;    ///< mol O2 per mol N
constexpr double nitrification_heat_J_kgN = 349e3 / 0.014007; ///< 349 kJ/mol NH4 (memory)

template <int lanes>
HEAPCAST_INLINE inline void potential(const LaneSite<lanes>& site,
                                      const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w) {
  const double* fast = state.field(F::fast);
  const double* medium = state.field(F::medium);
  const double* slow = state.field(F::slow);
  const double* resistant = state.field(F::resistant);
  const double* humus = state.field(F::humus);
  const double* biomass = state.field(F::biomass);
  const double* organic_n = state.field(F::organic_nitrogen);
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* lump_fast = state.field(F::lump_fast);
  const double* lump_medium = state.field(F::lump_medium);
  const double* lump_slow = state.field(F::lump_slow);
  const double* start_fast = state.field(F::start_fast);
  const double* start_ph = state.field(F::start_ph);
  const double* holding = state.field(F::water_holding);
  const double* free_share = state.field(F::free_ammonia);
  double closed[lanes];
  for (int l = 0; l < lanes; ++l) {
    closed[l] =
        lumps_left(site.coefficients.at(l), in_lane(w.t_s, l) - in_lane(w.lumps_since_s, l));
  }

  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double t = w.temperature_K[i];
    w.temperature_factor[i] = temperature_factor(k, t);
    const double held = w.dry_kg[i] * holding[i] * k.water_holding_scale / reference_water_holding;
    w.moisture_factor[i] =
        moisture_response({.moisture_wet_basis = w.liquid_kg[i] / (w.liquid_kg[i] + held),
                           .mid = k.moisture_mid,
                           .slope = k.moisture_slope});
    w.decay_kgC_s[i] = biomass_decay_kgC_s(
        k, {fast[i], medium[i], slow[i], resistant[i], humus[i], biomass[i]}, t);
  });
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double t = w.temperature_K[i];
    const double f_t = w.temperature_factor[i];
    const double f_m = w.moisture_factor[i];
    const CarbonPools carbon{fast[i], medium[i], slow[i], resistant[i], humus[i], biomass[i]};
    // What lies in lumps waits for a turn.
    const CarbonPools open{std::max(fast[i] - closed[l] * lump_fast[i], 0.0),
                           std::max(medium[i] - closed[l] * lump_medium[i], 0.0),
                           std::max(slow[i] - closed[l] * lump_slow[i], 0.0),
                           resistant[i],
                           humus[i],
                           biomass[i]};
    const NitrogenSupply supply =
        nitrogen_supply(k, carbon, {.organic = organic_n[i], .mineral = ammonium[i] + nitrate[i]});
    const double fast_left = std::clamp(fast[i] / (start_fast[i] + 1e-300), 0.0, 1.0);
    w.ph[i] = pile_ph({.start_ph = start_ph[i],
                       .fast_left = fast_left,
                       .ammonium_dry_basis = ammonium[i] / w.dry_kg[i]});
    const double f_ph = acid_inhibition({.ph = w.ph[i], .temperature_K = t, .ph_half = k.ph_half});
    const double tan = std::max(ammonium[i], 0.0);
    w.ammonia_water_kgN_m3[i] = std::min(1.0, free_share[i] * k.free_ammonia_scale) * tan *
                                unionised_share({.ph = w.ph[i], .temperature_K = t}) *
                                water_density_kg_m3 /
                                (w.liquid_kg[i] + bound_water_share * w.dry_kg[i]);
    w.nitrification_potential[i] =
        k.nitrification_rate_1_s * nitrification_temperature_response(t) * f_m * tan *
        free_ammonia_inhibition(w.ammonia_water_kgN_m3[i]) * (1.0 - fast_left);

    const double unlimited = contois_factor(k, open);
    const double f_p = w.particle_factor[i];
    const double g = f_t * f_m * supply.factor * f_ph * unlimited;
    w.nitrogen_factor[i] = supply.factor;
    w.nitrogen_per_carbon[i] = supply.per_carbon;
    w.unlimited_factor[i] = unlimited;
    w.fast_potential[i] = k.fast_rate_1_s * g * open.fast;
    w.medium_potential[i] = k.medium_rate_1_s * g * f_p * open.medium;
    w.slow_potential[i] = k.slow_rate_1_s * g * f_p * open.slow;
    w.resistant_potential[i] = k.resistant_rate_1_s * f_t * f_m * resistant[i];
    w.growth_yield[i] = k.biomass_yield * supply.factor;

    const double oxidised =
        (1.0 - w.growth_yield[i] - k.humus_yield) *
            (w.fast_potential[i] + w.medium_potential[i] + w.slow_potential[i]) +
        (1.0 - k.humus_yield) * w.resistant_potential[i] + respired_decay * w.decay_kgC_s[i];
    w.oxygen_demand_mol_s[i] =
        oxidised / molar_mass_carbon_kg_mol +
        nitrification_oxygen * w.nitrification_potential[i] / molar_mass_nitrogen_kg_mol;
    w.oxygen_half[i] =
        k.oxygen_half_scale *
        oxygen_half_saturation({.temperature_K = t, .moisture_wet_basis = w.moisture[i]});
  });
}

template <int lanes>
HEAPCAST_INLINE inline void decompose(const LaneSite<lanes>& site,
                                      const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w,
                                      const LaneRates<lanes>& rates) {
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* volatile_ratio = state.field(F::volatile_per_carbon);
  double* d_fast = rates.field(F::fast);
  double* d_medium = rates.field(F::medium);
  double* d_slow = rates.field(F::slow);
  double* d_resistant = rates.field(F::resistant);
  double* d_humus = rates.field(F::humus);
  double* d_biomass = rates.field(F::biomass);
  double* d_water = rates.field(F::water);
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_organic_n = rates.field(F::organic_nitrogen);
  double* d_ammonium = rates.field(F::ammonium_nitrogen);
  double* d_nitrate = rates.field(F::nitrate_nitrogen);
  std::vector<double>& carbon_dioxide = w.cell_scratch[0];
  std::vector<double>& methane = w.cell_scratch[1];
  std::vector<double>& water_made = w.cell_scratch[2];
  std::vector<double>& heat_made = w.cell_scratch[3];

  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double f_o = w.oxygen_factor[i];
    const double anaerobic = k.anaerobic_share * (1.0 - f_o);
    const double a = f_o + anaerobic;
    const CarbonFlows flow = carbon_flows(k, {.fast = a * w.fast_potential[i],
                                              .medium = a * w.medium_potential[i],
                                              .slow = a * w.slow_potential[i],
                                              .resistant = a * w.resistant_potential[i],
                                              .decay = w.decay_kgC_s[i],
                                              .growth_yield = w.growth_yield[i],
                                              .nitrogen_per_carbon = w.nitrogen_per_carbon[i]});
    const double aerobic = flow.respired * (f_o / a) + flow.respired_decay * f_o;
    const double without_air = flow.respired * (anaerobic / a) + flow.respired_decay * (1.0 - f_o);

    d_fast[i] += flow.fast;
    d_medium[i] += flow.medium;
    d_slow[i] += flow.slow;
    d_resistant[i] += flow.resistant;
    d_humus[i] += flow.humus;
    d_biomass[i] += flow.biomass;
    carbon_dioxide[i] = aerobic + (1.0 - k.methane_share) * without_air;
    methane[i] = k.methane_share * without_air;

    d_organic_n[i] -= flow.mineralised;
    const double mineral = ammonium[i] + nitrate[i];
    const double from_nitrate =
        flow.mineralised < 0.0 && mineral > 0.0 ? nitrate[i] / mineral : 0.0;
    d_ammonium[i] += (1.0 - from_nitrate) * flow.mineralised;
    d_nitrate[i] += from_nitrate * flow.mineralised;

    // Products leave at the cell's temperature: their sensible heat is part of the reaction's.
    const double t = w.temperature_K[i] - freezing_K;
    const double water = k.metabolic_water * volatile_ratio[i] * aerobic;
    const double solids = volatile_ratio[i] * (aerobic + without_air);
    const double heat =
        k.heat_per_oxygen_J_kg * oxygen_per_carbon_kg_kgC *
            (aerobic + k.anaerobic_heat * without_air) +
        nitrification_heat_J_kgN * f_o * w.nitrification_potential[i] +
        t * (heat_capacity_water_J_kgK * water - k.solids_heat_capacity_J_kgK * solids);
    d_water[i] += water;
    d_enthalpy[i] += heat;
    water_made[i] = water;
    heat_made[i] = heat;
  });
  add_cells<lanes>(site.cells(), carbon_dioxide, rates.totals(Total::carbon_dioxide_carbon));
  add_cells<lanes>(site.cells(), methane, rates.totals(Total::methane_carbon));
  add_cells<lanes>(site.cells(), water_made, rates.totals(Total::metabolic_water));
  add_cells<lanes>(site.cells(), heat_made, rates.totals(Total::heat_made));
}

} // namespace

HEAPCAST_VECTORISED void decomposition_potential(const LaneSite<1>& site,
                                                 const LaneStateView<1>& state,
                                                 LaneWorkspace<1>& w) {
  potential<1>(site, state, w);
}
HEAPCAST_VECTORISED void decomposition_potential(const LaneSite<run_lanes>& site,
                                                 const LaneStateView<run_lanes>& state,
                                                 LaneWorkspace<run_lanes>& w) {
  potential<run_lanes>(site, state, w);
}
HEAPCAST_VECTORISED void decomposition(const LaneSite<1>& site, const LaneStateView<1>& state,
                                       LaneWorkspace<1>& w, const LaneRates<1>& rates) {
  decompose<1>(site, state, w, rates);
}
HEAPCAST_VECTORISED void decomposition(const LaneSite<run_lanes>& site,
                                       const LaneStateView<run_lanes>& state,
                                       LaneWorkspace<run_lanes>& w,
                                       const LaneRates<run_lanes>& rates) {
  decompose<run_lanes>(site, state, w, rates);
}

} // namespace heapcast::models
