#pragma once

#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Matter of every cell from its state: masses, volume, temperature, moisture, free air space; and
/// the pile's height.
///
///   V = V0 ((1-s) + s dry/dry0) (1-c) / (1 + x_L (1 - exp(-sigma/sigma_0)))
///   eps = 1 - solids/V - water/(1000 V)
///
/// sigma is the weight of the loose pile above the cell, by its depth.
void evaluate_matter(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w);
void evaluate_matter(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
                     LaneWorkspace<run_lanes>& w);

/// What rates need besides, once the matter is known: permeability, conductivity, diffusivity, pore
/// air, faces.
///
///   K = d_e^2 eps^3 / (150 (1-eps)^2), d_e ~ (dry/dry0)^n
///
/// Pore air holds vapour at the water activity of the cell, a_w = 1 - exp(-7.6 W/dry) (judgement:
/// 0.57 at 10 % and 0.85 at 20 % wet-basis moisture, as plant matter's sorption isotherms run).
void evaluate_pores(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w);
void evaluate_pores(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
                    LaneWorkspace<run_lanes>& w);

/// What events change and rates only read: flow size and particle factor.
void prepare_structure(const PileSite& site, const PileState& state, Workspace& w);

/// dc/dt = (c_limit - c)/tau while c is below its limit under the load above it:
/// c_limit = x c_max (0.8 + 0.4 (1 - exp(-sigma/sigma_0))), sigma the overburden (MODEL 7; the
/// split between own weight and load is a judgement).
void settling(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
              const LaneRates<1>& rates);
void settling(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
              LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

} // namespace heapcast::models
