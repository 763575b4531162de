#pragma once

#include "models/pile_workspace.hpp"

namespace heapcast::models {

/// Nitrification, denitrification and ammonia carried by the pore air (MODEL 8).
///
///   nitrification   mu f_nit(T) f_m f_O2 TAN            (f_N2O of it leaves as N2O)
///   denitrification k_den f_T (1 - f_O2) NO3            (f_N2O of it as N2O, the rest as N2)
///   NH3 gas         C_g = C_aq/H, C_aq = x_free TAN alpha(pH, T) per water
///
/// Ammonia moves with the air flow (upwind) and by diffusion, is taken up again where it is cool,
/// and leaves through the surface.
void nitrogen(const LaneSite<1>& site, const LaneStateView<1>& state, LaneWorkspace<1>& w,
              const LaneRates<1>& rates);
void nitrogen(const LaneSite<run_lanes>& site, const LaneStateView<run_lanes>& state,
              LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates);

} // namespace heapcast::models
