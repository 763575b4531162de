#pragma once

#include "engine/stiff_block.hpp"
#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Nitrification, denitrification and ammonia carried by the pore air (MODEL 8).
///
///   nitrification   mu f_nit(T) f_m f_O2 f_NH3 (1 - F/F_0) TAN   (f_N2O of it leaves as N2O)
///   denitrification k_den f_T K_I/(K_I + x) NO3         (f_N2O of it as N2O, the rest as N2)
///   NH3 gas         C_g = C_aq/H, C_aq = x_free TAN alpha(pH, T) per water
///
/// f_NH3 = 32/(32 + C_aq) with C_aq in g N/m3; x pore oxygen, K_I = 0.6 %. F/F_0 is the share of
/// the fast carbon left, 0..1: nitrification belongs to the curing phase (review of nitrification
/// within composting, Waste Manage. 2018, doi 10.1016/j.wasman.2017.10.049, read in abstract);
/// nitrifiers grow slowly and lose the race for oxygen and ammonium while there is food for others.
/// That it is proportional is a judgement: their number is no state of the model.
///
/// Ammonia moves with the air flow (upwind) and by diffusion, is taken up again where it is cool,
/// and leaves through the surface.
void nitrogen(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
              const LaneRates<1>& rates);
void nitrogen(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
              LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

/// d(ammonium rate)/d(ammonium) by what moves in the pore air, at what the last call of `nitrogen`
/// saw.
void ammonia_linearisation(const LaneSite<1>& site, const LaneWorkspace<1>& w,
                           engine::NeighbourMatrix& matrix);
void ammonia_linearisation(const LaneSite<run_lanes>& site, const LaneWorkspace<run_lanes>& w,
                           engine::NeighbourMatrix& matrix);

} // namespace heapcast::models
