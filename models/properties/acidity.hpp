#pragma once

#include <algorithm>

namespace heapcast::models {

struct PileAcidity {
  double start_ph;
  double fast_left;          ///< share of the fast pool left, clamped to 0..1
  double ammonium_dry_basis; ///< kg TAN per kg dry matter
};

/// pH of the pile's water. The pH of the fresh matter gives way to that of its ammonia as the fast
/// pool is used up: pH = w pH0 + (1 - w)(7.6 + 1.1 TAN/(TAN + 1.5 g/kg)), w the share of the fast
/// pool left. Judgement: acid start, rise to 8-8.5 in the hot phase and fall towards neutral as
/// ammonia is bound or lost follow Sundberg 2005 in direction; the numbers have no source.
[[nodiscard]] inline double pile_ph(const PileAcidity& acidity) {
  const double left = std::clamp(acidity.fast_left, 0.0, 1.0);
  const double tan = std::max(acidity.ammonium_dry_basis, 0.0);
  const double alkaline = 7.6 + 1.1 * tan / (tan + 0.0015);
  return left * acidity.start_ph + (1.0 - left) * alkaline;
}

} // namespace heapcast::models
