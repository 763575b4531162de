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
using engine::each_entry;

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

namespace {

template <int lanes>
HEAPCAST_INLINE inline void matter(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,
                                   LaneWorkspace<lanes>& w) {
  const std::size_t n = site.cells();
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

  // Overburden from the loose pile: its height before the load presses it, per mass above.
  each_entry<lanes>(n, [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double shrink = site.coefficients.shrink[l];
    const double carbon = fast[i] + medium[i] + slow[i] + resistant[i] + humus[i] + biomass[i];
    const double dry = ash[i] + volatile_ratio[i] * carbon;
    w.carbon_kgC[i] = carbon;
    w.degradable_kgC[i] = fast[i] + medium[i] + slow[i];
    w.dry_kg[i] = dry;
    w.volume_m3_cell[i] =
        loose[i] * ((1.0 - shrink) + shrink * dry / start_dry[i]) * (1.0 - settled[i]);
    w.cell_scratch[0][i] = dry + water[i];
  });
  double loose_m3[lanes] = {};
  double wet_kg[lanes] = {};
  double plan2[lanes];
  double load_Pa_m[lanes];
  add_cells<lanes>(n, w.volume_m3_cell, loose_m3);
  add_cells<lanes>(n, w.cell_scratch[0], wet_kg);
  for (int l = 0; l < lanes; ++l) {
    const double plan = in_lane(w.scale, l).plan;
    plan2[l] = plan * (site.round ? plan : 1.0);
    const double loose_height = loose_m3[l] / (in_lane(site.total_volume_m3, l) * plan2[l]);
    in_lane(w.wet_mass_kg, l) = wet_kg[l];
    load_Pa_m[l] = standard_gravity_m_s2 * wet_kg[l] / loose_m3[l] * loose_height;
    in_lane(w.load_Pa_m, l) = load_Pa_m[l];
  }

  each_entry<lanes>(n, [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double dry = w.dry_kg[i];
    const double solids_m3 = (dry - ash[i]) / organic_density_kg_m3 + ash[i] / ash_density_kg_m3;
    const double water_m3 = water[i] / water_density_kg_m3;
    w.load_factor[i] = -std::expm1(-load_Pa_m[l] * site.depth_m[i] / k.settling_stress_Pa);
    const double volume =
        std::max(w.volume_m3_cell[i] / (1.0 + k.load_compression * w.load_factor[i]),
                 (solids_m3 + water_m3) / (1.0 - least_free_air_space));
    const double t = temperature_K({.dry_mass_kg = dry,
                                    .water_mass_kg = water[i],
                                    .solids_heat_capacity_J_kgK = k.solids_heat_capacity_J_kgK},
                                   enthalpy[i]);
    w.volume_m3_cell[i] = volume;
    w.temperature_K[i] = t;
    w.moisture[i] = water[i] / (water[i] + dry);
    w.water_ratio[i] = water[i] / (dry * holding[i] * k.water_holding_scale);
    w.free_air_space[i] = 1.0 - (solids_m3 + water_m3) / volume;
  });
  // By itself: its choices keep a loop from becoming vector code.
  each_entry<lanes>(n, [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    w.liquid_kg[i] = water[i] * (1.0 - ice_fraction(w.temperature_K[i]));
  });
  double volume_m3[lanes] = {};
  add_cells<lanes>(n, w.volume_m3_cell, volume_m3);
  for (int l = 0; l < lanes; ++l) {
    in_lane(w.volume_m3, l) = volume_m3[l];
    in_lane(w.scale, l).height =
        in_lane(w.volume_m3, l) / (in_lane(site.total_volume_m3, l) * plan2[l]);
  }
}

/// What rates need besides: conduction, flow, pore air.
template <int lanes>
HEAPCAST_INLINE inline void pores(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,
                                  LaneWorkspace<lanes>& w) {
  const std::size_t n = site.cells();
  const double* water = state.field(F::water);
  const double* start_dry = state.field(F::start_dry);
  each_entry<lanes>(n, [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double dry = w.dry_kg[i];
    const double water_content = water[i] / water_density_kg_m3 / w.volume_m3_cell[i];
    w.conductivity_W_mK[i] =
        site.coefficients.conductivity_scale[l] *
        conductivity_W_mK({.water_content = water_content,
                           .solids_fraction = 1.0 - w.free_air_space[i] - water_content});
    const double fines =
        std::exp(site.coefficients.fines_exponent[l] * std::log(dry / start_dry[i]));
    const double t = w.temperature_K[i];
    w.permeability_m2[i] = permeability_m2(
        {.flow_size_m = w.flow_size_m[i] * fines, .free_air_space = w.free_air_space[i]});
    w.relative_diffusivity[i] =
        diffusivity_temperature_factor(t) * relative_pore_diffusivity(w.free_air_space[i]);
    w.viscosity_Pa_s[i] = air_viscosity_Pa_s(t);
  });
  each_entry<lanes>(n, [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double pressure = in_lane(site.pressure_Pa, l);
    const double t = w.temperature_K[i];
    const double pore_K = std::min(t, hottest_pore_air_K);
    const double activity = -std::expm1(-sorption_rate * water[i] / w.dry_kg[i]);
    const MoistAirState air{.temperature_K = pore_K,
                            .vapour_pressure_Pa = activity * saturation_pressure_Pa(pore_K),
                            .pressure_Pa = pressure};
    const double vapour = vapour_density_kg_m3(air);
    const double humidity = humidity_ratio(air);
    const double dry_air = dry_air_density_kg_m3(air);
    const double latent = latent_heat_J_kg(t);
    const double clausius_1_K = latent / (gas_constant_vapour_J_kgK * t * t);
    w.vapour_density[i] = vapour;
    w.humidity[i] = humidity;
    w.vapour_slope_J_m3K[i] = latent * vapour * (clausius_1_K - 1.0 / t);
    w.air_slope_J_kgK[i] =
        heat_capacity_dry_air_J_kgK +
        latent * humidity * clausius_1_K / std::max(1.0 - air.vapour_pressure_Pa / pressure, 0.1);
    w.dry_air_density[i] = dry_air;
    w.gas_density[i] = dry_air + vapour;
    w.mobility_s[i] = dry_air * w.permeability_m2[i] / w.viscosity_Pa_s[i];
    w.pore_air_mol[i] =
        w.free_air_space[i] * w.volume_m3_cell[i] * dry_air / molar_mass_dry_air_kg_mol;
  });
  // Mesh::transmissibility_m and area_m2 for all faces.
  each_entry<lanes>(site.faces(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const engine::MeshScale& s = in_lane(w.scale, l);
    const double y = site.round ? s.plan : 1.0;
    const double ax = site.area_x_m2[i] * s.height;
    const double az = site.area_z_m2[i] * s.plan;
    const double dx = site.distance_x_m[i] * s.plan;
    const double dz = site.rise_m[i] * s.height;
    const double area2 = ax * ax + az * az;
    const double area = std::sqrt(area2);
    w.face_area_m2[i] = y * area;
    w.transmissibility_m[i] = y * (site.cell_b[i / lanes] >= 0 ? area / std::sqrt(dx * dx + dz * dz)
                                                               : area2 / (dx * ax + dz * az));
  });
}

template <int lanes>
HEAPCAST_INLINE inline void settle(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,
                                   LaneWorkspace<lanes>& w, const LaneRates<lanes>& rates) {
  const double* settled = state.field(F::settling);
  const double* limit = state.field(F::settling_limit);
  double* rate = rates.field(F::settling);
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double target = std::min(0.85, k.settling_scale * limit[i] *
                                             (own_weight_share + load_share * w.load_factor[i]));
    rate[i] += std::max(0.0, target - settled[i]) / k.settling_time_s;
  });
}

} // namespace

#define HEAPCAST_STRUCTURE(lanes)                                                                  \
  HEAPCAST_VECTORISED void evaluate_matter(                                                        \
      const LaneSite<lanes>& site, const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w) {   \
    matter<lanes>(site, state, w);                                                                 \
  }                                                                                                \
  HEAPCAST_VECTORISED void evaluate_pores(                                                         \
      const LaneSite<lanes>& site, const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w) {   \
    pores<lanes>(site, state, w);                                                                  \
  }
HEAPCAST_STRUCTURE(1)
HEAPCAST_STRUCTURE(run_lanes)
#undef HEAPCAST_STRUCTURE

HEAPCAST_VECTORISED void settling(const LaneSite<1>& site, const LaneStateView<1>& state,
                                  LaneWorkspace<1>& w, const LaneRates<1>& rates) {
  settle<1>(site, state, w, rates);
}
HEAPCAST_VECTORISED void settling(const LaneSite<run_lanes>& site,
                                  const LaneStateView<run_lanes>& state,
                                  LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates) {
  settle<run_lanes>(site, state, w, rates);
}

} // namespace heapcast::models
