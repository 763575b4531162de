#include "models/processes/decomposition.hpp"

#include "models/properties/acidity.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/moist_air.hpp"
#include "models/properties/nitrification.hpp"
#include "models/properties/oxidation.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr double reference_water_holding = 2.6; ///< kg/kg at which moisture counts as it is
constexpr double kill_start_K = 273.15 + 66.0;
constexpr double kill_reference_K = 273.15 + 72.0;
constexpr double kill_slope_1_K = 0.35;
constexpr double spore_share = 0.25;   ///< floor of biomass over K_X times the slow pool
constexpr double respired_decay = 0.1; ///< of dead biomass; the rest returns to the pools
constexpr double decay_to_fast = 0.4;
constexpr double decay_to_medium = 0.2;
constexpr double decay_to_slow = 0.2;
constexpr double decay_to_humus = 0.1;
constexpr double lignin_nitrogen = 0.5;      ///< N content of the resistant pool over the others'
constexpr double nitrification_oxygen = 2.0; ///< mol O2 per mol N
constexpr double nitrification_heat_J_kgN = 349e3 / 0.014007; ///< 349 kJ/mol NH4 (memory)

} // namespace

void decomposition_potential(const PileSite& site, const StateView& state, Workspace& w) {
  const Coefficients& k = site.coefficients;
  const double* fast = state.field(F::fast);
  const double* medium = state.field(F::medium);
  const double* slow = state.field(F::slow);
  const double* resistant = state.field(F::resistant);
  const double* humus = state.field(F::humus);
  const double* biomass = state.field(F::biomass);
  const double* organic_n = state.field(F::organic_nitrogen);
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* start_fast = state.field(F::start_fast);
  const double* start_ph = state.field(F::start_ph);
  const double* holding = state.field(F::water_holding);
  const CardinalTemperatures cardinal{k.temperature_min_K, k.temperature_opt_K,
                                      k.temperature_max_K};
  const double kill_at_start = std::exp(kill_slope_1_K * (kill_start_K - kill_reference_K));

  for (std::size_t i = 0; i < site.mesh.cells(); ++i) {
    const double t = w.temperature_K[i];
    const double d = w.degradable_kgC[i];
    const double b = std::max(biomass[i], 0.0);
    const double f_t = temperature_response(cardinal, t);
    const double held = w.dry_kg[i] * holding[i] * k.water_holding_scale / reference_water_holding;
    const double f_m =
        moisture_response({.moisture_wet_basis = w.liquid_kg[i] / (w.liquid_kg[i] + held),
                           .mid = k.moisture_mid,
                           .slope = k.moisture_slope});
    const double substrate_n = std::max(organic_n[i] - b / k.biomass_cn, 0.0);
    const double nitrogen_per_carbon =
        substrate_n / (d + humus[i] + lignin_nitrogen * resistant[i] + 1e-300);
    const double self_sufficient =
        std::min(1.0, nitrogen_per_carbon * (1.0 - k.humus_yield) * k.biomass_cn / k.biomass_yield);
    const double mineral = std::max(ammonium[i] + nitrate[i], 0.0);
    const double f_n = self_sufficient +
                       (1.0 - self_sufficient) * mineral / (mineral + k.nitrogen_half * d + 1e-300);
    w.ph[i] = pile_ph({.start_ph = start_ph[i],
                       .fast_left = fast[i] / (start_fast[i] + 1e-300),
                       .ammonium_dry_basis = ammonium[i] / w.dry_kg[i]});
    const double f_ph = acid_inhibition({.ph = w.ph[i], .temperature_K = t, .ph_half = k.ph_half});

    const double unlimited = w.particle_factor[i] * b / (b + k.contois * d + 1e-300);
    const double g = f_t * f_m * f_n * f_ph * unlimited;
    w.temperature_factor[i] = f_t;
    w.moisture_factor[i] = f_m;
    w.nitrogen_factor[i] = f_n;
    w.nitrogen_per_carbon[i] = nitrogen_per_carbon;
    w.unlimited_factor[i] = unlimited;
    w.fast_potential[i] = k.fast_rate_1_s * g * fast[i];
    w.medium_potential[i] = k.medium_rate_1_s * g * medium[i];
    w.slow_potential[i] = k.slow_rate_1_s * g * slow[i];
    w.resistant_potential[i] = k.resistant_rate_1_s * f_t * f_m * resistant[i];
    w.growth_yield[i] = k.biomass_yield * f_n;

    const double celsius = std::min(t - freezing_K, 60.0);
    double b_rate = k.decay_rate_1_s * std::exp(k.log_decay_theta * (celsius - 20.0));
    if (t > kill_start_K) {
      b_rate +=
          k.heat_kill_1_s * (std::exp(kill_slope_1_K * (t - kill_reference_K)) - kill_at_start);
    }
    w.decay_kgC_s[i] = b_rate * std::max(b - spore_share * k.contois * slow[i], 0.0);
    w.nitrification_potential[i] = k.nitrification_rate_1_s *
                                   nitrification_temperature_response(t) * f_m *
                                   std::max(ammonium[i], 0.0);

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
  }
}

void decomposition(const PileSite& site, const StateView& state, Workspace& w, const Rates& rates) {
  const Coefficients& k = site.coefficients;
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
  const double heat_aerobic_J_kgC = k.heat_per_oxygen_J_kg * oxygen_per_carbon_kg_kgC;
  double carbon_dioxide = 0.0;
  double methane = 0.0;
  double water_made = 0.0;
  double heat_made = 0.0;

  for (std::size_t i = 0; i < site.mesh.cells(); ++i) {
    const double f_o = w.oxygen_factor[i];
    const double anaerobic = k.anaerobic_share * (1.0 - f_o);
    const double a = f_o + anaerobic;
    const double fast = a * w.fast_potential[i];
    const double medium = a * w.medium_potential[i];
    const double slow = a * w.slow_potential[i];
    const double lignin = a * w.resistant_potential[i];
    const double sum = fast + medium + slow;
    const double decay = w.decay_kgC_s[i];
    const double growth = w.growth_yield[i] * sum;

    const double respired = (sum - growth) - k.humus_yield * (sum + lignin) + lignin;
    const double aerobic = respired * (f_o / a) + respired_decay * decay * f_o;
    const double without_air = respired * (anaerobic / a) + respired_decay * decay * (1.0 - f_o);

    d_fast[i] += decay_to_fast * decay - fast;
    d_medium[i] += decay_to_medium * decay - medium;
    d_slow[i] += decay_to_slow * decay - slow;
    d_resistant[i] -= lignin;
    d_humus[i] += decay_to_humus * decay + k.humus_yield * (sum + lignin);
    d_biomass[i] += growth - decay;
    carbon_dioxide += aerobic + (1.0 - k.methane_share) * without_air;
    methane += k.methane_share * without_air;

    // Nitrogen follows carbon: what decomposes brings its own, growth takes its share.
    const double mineralised =
        (1.0 - k.humus_yield) * w.nitrogen_per_carbon[i] * (sum + lignin_nitrogen * lignin) +
        respired_decay * decay / k.biomass_cn - growth / k.biomass_cn;
    d_organic_n[i] -= mineralised;
    const double mineral = ammonium[i] + nitrate[i];
    const double from_nitrate = mineralised < 0.0 && mineral > 0.0 ? nitrate[i] / mineral : 0.0;
    d_ammonium[i] += (1.0 - from_nitrate) * mineralised;
    d_nitrate[i] += from_nitrate * mineralised;

    // Products leave at the cell's temperature: their sensible heat is part of the reaction's.
    const double t = w.temperature_K[i] - freezing_K;
    const double water = k.metabolic_water * volatile_ratio[i] * aerobic;
    const double solids = volatile_ratio[i] * (aerobic + without_air);
    const double heat =
        heat_aerobic_J_kgC * (aerobic + k.anaerobic_heat * without_air) +
        nitrification_heat_J_kgN * f_o * w.nitrification_potential[i] +
        t * (heat_capacity_water_J_kgK * water - k.solids_heat_capacity_J_kgK * solids);
    d_water[i] += water;
    d_enthalpy[i] += heat;
    water_made += water;
    heat_made += heat;
  }
  rates.total(Total::carbon_dioxide_carbon) += carbon_dioxide;
  rates.total(Total::methane_carbon) += methane;
  rates.total(Total::metabolic_water) += water_made;
  rates.total(Total::heat_made) += heat_made;
}

} // namespace heapcast::models
