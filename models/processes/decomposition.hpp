#pragma once

#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Potential rates of decomposition, at unlimited oxygen, and the oxygen they would take up.
///
/// D = fast + medium + slow, B biomass (MODEL 4):
///   r_F = k_F G B/(B + K_X D) F          G = f_T f_m f_N f_pH
///   r_i = k_i G f_p B/(B + K_X D) i      for medium and slow: the particle size slows what is
///                                        broken down at surfaces
///   r_R = k_R f_T f_m R
///   decay = b (B - B_floor), b = b_20 theta^(T-20) + kill above 66 degC, B_floor = 0.25 K_X slow
///   uptake = [(1 - Y f_N - h) sum r_i + (1 - h) r_R + 0.1 decay]/M_C + nitrification
///
/// f_N = phi + (1 - phi) x/(x + K_N): x mineral N per degradable carbon; phi the share of the
/// growth's nitrogen that the decomposed matter itself brings. The same f_N caps the yield, which
/// is a nitrogen balance and not a second rate limit: what cannot be built is respired.
///
/// f_T is that of mesophiles and thermophiles together (`community_response`). Dissolved ammonia
/// and the nitrification that it leaves are worked out here too: see nitrogen.hpp.
void decomposition_potential(const LaneSite<1>& site, const LaneStateView<1>& state,
                             LaneWorkspace<1>& w);
void decomposition_potential(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
                             LaneWorkspace<run_lanes>& w);

/// Rates from the potentials and the oxygen that is there: a = f_O2 + a_an (1 - f_O2).
/// Carbon dioxide, methane, metabolic water, heat, mineralised and immobilised nitrogen.
void decomposition(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
                   const LaneRates<1>& rates);
void decomposition(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
                   LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

} // namespace heapcast::models
