#include "models/processes/structure.hpp"

#include "models/properties/flow_resistance.hpp"
#include "models/properties/free_air_space.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr double sorption_rate = 7.6;
constexpr double own_weight_share = 0.8; ///< of the settling limit, reached without load
constexpr double load_share = 0.4;       ///< added under a heavy one; 1 at half load
constexpr double least_free_air_space = 1e-3;
constexpr double hottest_pore_air_K = 273.15 + 95.0; ///< the steam limit is not modelled

} // namespace

void prepare_structure(const PileSite& site, const PileState& state, Workspace& w) {
  const Coefficients& k = site.coefficients;
  const double* flow = state.field(F::log_flow_size);
  const double* particle = state.field(F::log_particle_size);
  for (std::size_t i = 0; i < site.mesh.cells(); ++i) {
    w.flow_size_m[i] = k.flow_size_scale * std::exp(flow[i]);
    w.particle_factor[i] = particle_size_factor(
        {.particle_size_m = std::exp(particle[i]), .exponent = k.particle_exponent});
  }
}

void evaluate_structure(const PileSite& site, const StateView& state, Workspace& w) {
  const Coefficients& k = site.coefficients;
  const std::size_t n = site.mesh.cells();
  const double* fast = state.field(F::fast);
  const double* medium = state.field(F::medium);
  const double* slow = state.field(F::slow);
  const double* resistant = state.field(F::resistant);
  const double* humus = state.field(F::humus);
  const double* biomass = state.field(F::biomass);
  const double* water = state.field(F::water);
  const double* enthalpy = state.field(F::enthalpy);
  const double* settled = state.field(F::settling);
  const double* ash = state.field(F::ash);
  const double* loose = state.field(F::loose_volume);
  const double* start_dry = state.field(F::start_dry);
  const double* volatile_ratio = state.field(F::volatile_per_carbon);
  const double* holding = state.field(F::water_holding);
  const double pressure = site.forcing.pressure_Pa();

  // Overburden from the loose pile: its height before the load presses it, per mass above.
  double loose_m3 = 0.0;
  double wet_kg = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double carbon = fast[i] + medium[i] + slow[i] + resistant[i] + humus[i] + biomass[i];
    const double dry = ash[i] + volatile_ratio[i] * carbon;
    w.carbon_kgC[i] = carbon;
    w.dry_kg[i] = dry;
    w.volume_m3_cell[i] =
        loose[i] * ((1.0 - k.shrink) + k.shrink * dry / start_dry[i]) * (1.0 - settled[i]);
    loose_m3 += w.volume_m3_cell[i];
    wet_kg += dry + water[i];
  }
  const double plan2 = w.scale.plan * (site.mesh.round ? w.scale.plan : 1.0);
  const double loose_height = loose_m3 / (site.mesh.total_volume_m3() * plan2);
  w.wet_mass_kg = wet_kg;
  w.load_Pa_m = standard_gravity_m_s2 * wet_kg / loose_m3 * loose_height;

  w.volume_m3 = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double degradable = fast[i] + medium[i] + slow[i];
    const double dry = w.dry_kg[i];
    const double organic = dry - ash[i];
    const double kept = dry / start_dry[i];
    const double solids_m3 = organic / organic_density_kg_m3 + ash[i] / ash_density_kg_m3;
    const double water_m3 = water[i] / water_density_kg_m3;
    w.load_factor[i] = -std::expm1(-w.load_Pa_m * site.mesh.depth_m[i] / k.settling_stress_Pa);
    const double volume =
        std::max(w.volume_m3_cell[i] / (1.0 + k.load_compression * w.load_factor[i]),
                 (solids_m3 + water_m3) / (1.0 - least_free_air_space));
    const double t = temperature_K({.dry_mass_kg = dry,
                                    .water_mass_kg = water[i],
                                    .solids_heat_capacity_J_kgK = k.solids_heat_capacity_J_kgK},
                                   enthalpy[i]);
    const double eps = 1.0 - (solids_m3 + water_m3) / volume;
    const double liquid = water[i] * (1.0 - ice_fraction(t));

    w.degradable_kgC[i] = degradable;
    w.volume_m3_cell[i] = volume;
    w.temperature_K[i] = t;
    w.liquid_kg[i] = liquid;
    w.moisture[i] = water[i] / (water[i] + dry);
    w.water_ratio[i] = water[i] / (dry * holding[i] * k.water_holding_scale);
    w.free_air_space[i] = eps;
    const double fines = k.fines_exponent == 1.0 ? kept : std::pow(kept, k.fines_exponent);
    w.permeability_m2[i] =
        permeability_m2({.flow_size_m = w.flow_size_m[i] * fines, .free_air_space = eps});
    w.conductivity_W_mK[i] =
        k.conductivity_scale * conductivity_W_mK({.water_content = water_m3 / volume,
                                                  .solids_fraction = solids_m3 / volume});
    w.relative_diffusivity[i] =
        diffusivity_temperature_factor(t) *
        millington_quirk({.free_air_space = eps, .porosity = 1.0 - solids_m3 / volume});

    const double pore_K = std::min(t, hottest_pore_air_K);
    const double activity = -std::expm1(-sorption_rate * water[i] / dry);
    const MoistAirState air{.temperature_K = pore_K,
                            .vapour_pressure_Pa = activity * saturation_pressure_Pa(pore_K),
                            .pressure_Pa = pressure};
    w.vapour_density[i] = vapour_density_kg_m3(air);
    w.humidity[i] = humidity_ratio(air);
    const double latent = latent_heat_J_kg(t);
    const double clausius_1_K = latent / (gas_constant_vapour_J_kgK * t * t);
    w.vapour_slope_J_m3K[i] = latent * w.vapour_density[i] * (clausius_1_K - 1.0 / t);
    w.air_slope_J_kgK[i] =
        heat_capacity_dry_air_J_kgK + latent * w.humidity[i] * clausius_1_K /
                                          std::max(1.0 - air.vapour_pressure_Pa / pressure, 0.1);
    w.dry_air_density[i] = dry_air_density_kg_m3(air);
    w.gas_density[i] = w.dry_air_density[i] + w.vapour_density[i];
    w.viscosity_Pa_s[i] = air_viscosity_Pa_s(t);
    w.pore_air_mol[i] = eps * volume * w.dry_air_density[i] / molar_mass_dry_air_kg_mol;

    w.volume_m3 += volume;
  }
  w.scale.height = w.volume_m3 / (site.mesh.total_volume_m3() * plan2);
  for (std::size_t f = 0; f < site.mesh.faces(); ++f) {
    w.transmissibility_m[f] = site.mesh.transmissibility_m(f, w.scale);
  }
}

void settling(const PileSite& site, const StateView& state, Workspace& w, const Rates& rates) {
  const Coefficients& k = site.coefficients;
  const double* settled = state.field(F::settling);
  const double* limit = state.field(F::settling_limit);
  double* rate = rates.field(F::settling);
  for (std::size_t i = 0; i < site.mesh.cells(); ++i) {
    const double target = std::min(0.85, k.settling_scale * limit[i] *
                                             (own_weight_share + load_share * w.load_factor[i]));
    rate[i] += std::max(0.0, target - settled[i]) / k.settling_time_s;
  }
}

} // namespace heapcast::models
