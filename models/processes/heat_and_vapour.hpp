#pragma once

#include "engine/integrator.hpp"
#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Heat and water vapour through every face, together:
///
///   conduction  k |A|^2/(d.A) (T_a - T_b)
///   air         m (c_pa T + w h_v(T)) of the cell it comes from
///   diffusion   eta D_v (rho_va - rho_vb) with h_v of the cell it comes from
///
/// and at the surface the balance of a thin skin between half a cell and the air, which sets its
/// temperature: what comes from inside is what convection and long-wave exchange take (a sol-air
/// temperature behind film and cover) and the latent heat of what evaporates. Evaporation is from a
/// skin that dries (g_s times the square of its wetness). Besides rain, snow that insulates and
/// melts, and conduction to the soil. Melting of snow on top is paid by the heat that the skin
/// gives to the air's side.
void heat_and_vapour(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
                     const LaneRates<1>& rates);
void heat_and_vapour(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
                     LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

struct Precipitation {
  double rain_kg_m2_s; ///< liquid
  double snow_kg_m2_s; ///< as water
};

/// Adds what falls on the pile of one lane, with the heat that rain brings at the temperature of
/// the workspace's air: also the part of `heat_and_vapour` that jumps with the weather.
void precipitation(const LaneSite<1>& site, const LaneWorkspace<1>& w, int lane,
                   const Precipitation& falls, const LaneRates<1>& rates);
void precipitation(const LaneSite<run_lanes>& site, const LaneWorkspace<run_lanes>& w, int lane,
                   const Precipitation& falls, const LaneRates<run_lanes>& rates);

/// The derivatives of the face terms above at the workspace's state: conduction, vapour diffusion
/// with its latent heat, and the air's enthalpy. With `weight` of one entry a cell also those of
/// the water as follower: what it brings along, h_w(T), does not warm, so the level H - h_w(T) W
/// stands for the temperature, and the vapour that moves is the latent part of the heat over the
/// latent heat.
void heat_linearisation(const LaneSite<1>& site, LaneWorkspace<1>& w, engine::StiffBlock& block);
void heat_linearisation(const LaneSite<run_lanes>& site, LaneWorkspace<run_lanes>& w,
                        engine::StiffBlock& block);

/// How the weather to come changes what flows through the boundary at the workspace's state: the
/// parabola in time through the flows of now, in the weather half way and at the end, 1/`per_s`
/// from now. Adds its slope and bend as engine::OdeSystem::drive has them; of heat and water and
/// what leaves of them.
void heat_drive(const LaneSite<1>& site, LaneWorkspace<1>& w, const PerLane<Forcing, 1>& half_way,
                const PerLane<Forcing, 1>& at_end, const PerLane<double, 1>& per_s,
                const LaneRates<1>& slopes, const LaneRates<1>& bends);
void heat_drive(const LaneSite<run_lanes>& site, LaneWorkspace<run_lanes>& w,
                const PerLane<Forcing, run_lanes>& half_way,
                const PerLane<Forcing, run_lanes>& at_end, const PerLane<double, run_lanes>& per_s,
                const LaneRates<run_lanes>& slopes, const LaneRates<run_lanes>& bends);

/// Water above what the matter holds drains downwards with time constant tau_d; what reaches the
/// ground is leachate. Dissolved nitrogen and heat go with it. Frozen water stays.
void drainage(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
              const LaneRates<1>& rates);
void drainage(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
              LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

/// How a cover, walls and lid shield the faces they lie on.
[[nodiscard]] Shield surface_shield(const PileDescription& pile, const Cover& cover);
[[nodiscard]] Shield wall_shield(const PileDescription& pile);

} // namespace heapcast::models
