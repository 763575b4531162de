#pragma once

#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

enum class Gas { oxygen, carbon_dioxide, methane, ammonia, water, nitrous_oxide };

/// Diffusivity of a trace gas in air at 0 °C and 1 atm, m2/s. Massman 1998, Atmos. Environ.
/// 32:1111.
[[nodiscard]] constexpr double reference_diffusivity_m2_s(Gas gas) {
  switch (gas) {
  case Gas::oxygen:
    return 0.1820e-4;
  case Gas::carbon_dioxide:
    return 0.1381e-4;
  case Gas::methane:
    return 0.1952e-4;
  case Gas::ammonia:
    return 0.1978e-4;
  case Gas::water:
    return 0.2178e-4;
  case Gas::nitrous_oxide:
    return 0.1436e-4;
  }
  return 0.0;
}

/// Diffusivity over its value at 0 °C: x^1.81, x = T / 273.15 K.
///
/// Computed as the binomial series 1 + 1.81 u + 1.81·0.81/2 u² − 1.81·0.81·0.19/6 u³ in u = x − 1:
/// within 2e-4 of the power from 210 to 365 K, far inside the 3 % of the measured diffusivities,
/// and without its cost.
[[nodiscard]] inline double diffusivity_temperature_factor(double temperature_K) {
  const double u = temperature_K * (1.0 / freezing_K) - 1.0;
  return 1.0 + u * (1.81 + u * (1.81 * 0.81 / 2.0 - u * (1.81 * 0.81 * 0.19 / 6.0)));
}

/// Diffusivity of a trace gas in air at 1 atm, m2/s: D0 (T / 273.15)^1.81.
///
/// At another pressure multiply by 101325 Pa / P. Massman 1998.
[[nodiscard]] inline double diffusivity_m2_s(Gas gas, double temperature_K) {
  return reference_diffusivity_m2_s(gas) * diffusivity_temperature_factor(temperature_K);
}

/// Diffusivity in the pile over that in free air: a², and 0 for a <= 0.
///
/// @param free_air_space m3 air per m3 pile, 0..1
/// Buckingham 1904; for soils Papendick & Campbell 1981, and for compost Richard (Cornell
/// composting, "Inadequate porosity", read). The law of Millington & Quirk 1961, a^(10/3)/φ², was
/// made for soils of single grains: at a = 0.5 it gives half, at 0.37 a third of this.
[[nodiscard]] inline double relative_pore_diffusivity(double free_air_space) {
  const double a = std::max(free_air_space, 0.0);
  return a * a;
}

/// Oxygen taken up at a constant rate in a layer that gets it by diffusion from one side.
struct ConstantUptake {
  double diffusivity_m2_s;     ///< in the pile
  double concentration_mol_m3; ///< in the pore gas at the surface
  double uptake_mol_m3_s;      ///< per volume of pile, above 0
};

/// Depth to which oxygen reaches, m: sqrt(2 D C / r). Closed form for a deep layer.
[[nodiscard]] inline double oxygen_penetration_m(const ConstantUptake& layer) {
  return std::sqrt(2.0 * layer.diffusivity_m2_s * layer.concentration_mol_m3 /
                   layer.uptake_mol_m3_s);
}

/// Pore oxygen without any supply.
struct PoreOxygen {
  double free_air_space;
  double concentration_mol_m3; ///< in the pore gas
  double uptake_mol_m3_s;      ///< per volume of pile, above 0
};

/// Time until pore oxygen is used up, s: ε C / r.
[[nodiscard]] inline double oxygen_exhaustion_s(const PoreOxygen& pores) {
  return pores.free_air_space * pores.concentration_mol_m3 / pores.uptake_mol_m3_s;
}

} // namespace heapcast::models
