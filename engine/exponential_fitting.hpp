#pragma once

#include <algorithm>

namespace heapcast::engine {

/// What crosses a face by flow and diffusion, in the proportions that the exact profile between
/// two cell centres gives (exponential fitting, Scharfetter & Gummel 1969): of second order where
/// diffusion prevails, upwind where the flow does, and never with a new extreme.
///
/// Pe is the flow over the diffusive conductance of the face, both in the same unit, 0 or more.
/// p/(e^p - 1) is taken as 1/(1 + p r), r = 1/2 + p/6 + p^2/24: the same up to Pe^3, and upwind in
/// the limit.
struct ExponentialFitting {
  explicit ExponentialFitting(double peclet) {
    const double p = std::min(peclet, 1e6);
    const double r = 0.5 + p * (1.0 / 6.0 + p * (1.0 / 24.0));
    diffusion_share = 1.0 / (1.0 + p * r);
    upstream_share = 1.0 - r * diffusion_share;
  }
  /// With upwind flow: the share of the diffusive conductance to put beside it.
  double diffusion_share;
  /// With the whole diffusion: how much the upstream cell counts in what the flow carries, 1/2..1.
  double upstream_share;
};

} // namespace heapcast::engine
