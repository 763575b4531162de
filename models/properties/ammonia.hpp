#pragma once

#include <cmath>
#include <numbers>

namespace heapcast::models {

/// pKa of ammonium in water: 0.09018 + 2729.92 / T.
///
/// @param temperature_K above 0; published for 0–50 °C, used beyond.
/// Emerson et al. 1975.
[[nodiscard]] inline double ammonium_pka(double temperature_K) {
  return 0.09018 + 2729.92 / temperature_K;
}

struct AmmoniaWater {
  double ph;
  double temperature_K;
};

/// Share of dissolved ammoniacal nitrogen that is NH3: 1 / (1 + 10^(pKa − pH)).
///
/// For dilute water; the salts of a pile lower it somewhat, which is not modelled.
[[nodiscard]] inline double unionised_share(const AmmoniaWater& water) {
  return 1.0 /
         (1.0 + std::exp(std::numbers::ln10 * (ammonium_pka(water.temperature_K) - water.ph)));
}

/// NH3 dissolved over NH3 in the gas, mol/m3 over mol/m3: 10^(1477.7/T − 1.69).
///
/// Hales & Drewes 1979. Other published constants differ by 20–25 %.
[[nodiscard]] inline double ammonia_henry_ratio(double temperature_K) {
  return std::exp(std::numbers::ln10 * (1477.7 / temperature_K - 1.69));
}

} // namespace heapcast::models
