#pragma once

#include "engine/potential_flow.hpp"
#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Flow of dry air through the pile [kg/s per face, from `cell_a`]: Darcy's law with buoyancy,
///
///   m_f = rho_d K/mu |A|^2/(d.A) (p_a - p_b + (rho_air - rho) g (z_b - z_a)),
///
/// p the excess over the outside air's hydrostatic pressure; conservation of dry air in every cell.
/// Ground closed unless pipes open it; wind pressure on an exposed surface; a fan blows through the
/// base. Inertia (Ergun's second term) is left out: Reynolds numbers are far below 1.
void air_flow(const LaneSite<1>& site, engine::PotentialFlow<1>& solver, LaneWorkspace<1>& w);
void air_flow(const LaneSite<run_lanes>& site, engine::PotentialFlow<run_lanes>& solver,
              LaneWorkspace<run_lanes>& w);

} // namespace heapcast::models
