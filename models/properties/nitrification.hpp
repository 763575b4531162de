#pragma once

#include "models/properties/growth.hpp"

namespace heapcast::models {

/// Nitrification over that at 32 °C, 0..1: none below 5 °C and above 45 °C. Judgement.
[[nodiscard]] inline double nitrification_temperature_response(double temperature_K) {
  constexpr CardinalTemperatures cardinal{freezing_K + 5.0, freezing_K + 32.0, freezing_K + 45.0};
  return temperature_response(cardinal, temperature_K);
}

/// Share of nitrification that free ammonia leaves, 0..1: K_I/(K_I + NH3), K_I = 32 g N/m3.
///
/// @param dissolved_ammonia_kgN_m3 NH3 (not ammonium) in the pile's water, 0 or more.
/// Anthonisen et al. 1976, J. WPCF 48:835: ammonia oxidisers are held back from 10–150 mg NH3/l on
/// (range read second-hand); K_I is its geometric mean, 39 mg NH3/l. Nitrite oxidisers, which
/// suffer from 0.1–1 mg/l on, are not told apart.
[[nodiscard]] inline double free_ammonia_inhibition(double dissolved_ammonia_kgN_m3) {
  constexpr double half_kgN_m3 = 0.032;
  return half_kgN_m3 / (half_kgN_m3 + dissolved_ammonia_kgN_m3);
}

/// Share of denitrification that oxygen leaves, 0..1: K_I/(K_I + x), K_I = 0.006 mol/mol.
///
/// @param oxygen in the pore gas, mol per mol dry gas, 0 or more.
/// Activated sludge model no. 1 (Henze et al. 1987, memory): K_I = 0.2 g O2/m3 in the water, which
/// is in balance with 0.6 vol % at 35 °C (6.9 g/m3 under air); 0.5 % at 20, 0.8 % at 55 °C are not
/// told apart.
[[nodiscard]] inline double denitrification_oxygen_inhibition(double oxygen) {
  constexpr double half = 0.006;
  return half / (half + oxygen);
}

} // namespace heapcast::models
