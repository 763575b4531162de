#pragma once

#include "models/properties/moist_air.hpp"

#include <algorithm>

namespace heapcast::models {

/// What conducts heat, m3 per m3 of pile; the rest is air.
struct ConductingParts {
  double water_content;   ///< θ
  double solids_fraction; ///< φ
};

/// Thermal conductivity, W/m/K: 0.05 + 0.55 θ + 0.3 φ.
///
/// A linear mix, judgement; it lies inside what Ahn et al. 2009 measured (0.12–0.81 in wet dense
/// materials, 0.03–0.30 in straw). Ice is not told from water. Heat carried by vapour is not in it.
[[nodiscard]] inline double conductivity_W_mK(const ConductingParts& parts) {
  return 0.05 + 0.55 * parts.water_content + 0.3 * parts.solids_fraction;
}

/// Solids and water that share one temperature. At least one mass above 0.
struct HeatContent {
  double dry_mass_kg;
  double water_mass_kg; ///< liquid and ice
  double solids_heat_capacity_J_kgK;
};

inline constexpr double freezable_share = 0.7;  ///< of the water; judgement
inline constexpr double freezing_range_K = 1.0; ///< over which it freezes, below 0 °C; judgement

/// Share of all water that is ice: 0 from 0 °C up, rising linearly to 0.7 at −1 °C, 0.7 below.
///
/// The remaining 30 % is bound to the solids or holds the salts and stays liquid. Judgement.
[[nodiscard]] inline double ice_fraction(double temperature_K) {
  return freezable_share * std::clamp((freezing_K - temperature_K) / freezing_range_K, 0.0, 1.0);
}

/// Heat capacities dH/dT of the three linear pieces of the enthalpy, J/K.
struct HeatCapacities {
  double thawed;   ///< from 0 °C up
  double freezing; ///< −1..0 °C: the latent heat is in it
  double frozen;   ///< below −1 °C
};

/// The same of the water alone, J/kg/K: means while the ice share goes from 0 to 0.7, and after.
inline constexpr HeatCapacities water_J_kgK = {
    heat_capacity_water_J_kgK,
    (1.0 - 0.5 * freezable_share) * heat_capacity_water_J_kgK +
        0.5 * freezable_share* heat_capacity_ice_J_kgK +
        freezable_share* heat_of_fusion_J_kg / freezing_range_K,
    (1.0 - freezable_share) * heat_capacity_water_J_kgK + freezable_share* heat_capacity_ice_J_kgK};

/// The three heat capacities of solids and water.
[[nodiscard]] inline HeatCapacities heat_capacities_J_K(const HeatContent& content) {
  const double solids = content.dry_mass_kg * content.solids_heat_capacity_J_kgK;
  return {solids + content.water_mass_kg * water_J_kgK.thawed,
          solids + content.water_mass_kg * water_J_kgK.freezing,
          solids + content.water_mass_kg * water_J_kgK.frozen};
}

/// Heat capacity dH/dT, J/K, latent heat of freezing included; at 0 and −1 °C that of the warmer
/// side.
[[nodiscard]] inline double heat_capacity_J_K(const HeatContent& content, double temperature_K) {
  const auto capacity = heat_capacities_J_K(content);
  const double t = temperature_K - freezing_K;
  if (t >= 0.0) {
    return capacity.thawed;
  }
  return t >= -freezing_range_K ? capacity.freezing : capacity.frozen;
}

/// Enthalpy, J; 0 J is 0 °C with all water liquid.
///
/// Continuous, strictly rising and linear in three pieces (see HeatCapacities): solids c_s, liquid
/// 4186, ice 2050 J/kg/K, fusion 333.55 kJ/kg spread evenly over −1..0 °C.
[[nodiscard]] inline double enthalpy_J(const HeatContent& content, double temperature_K) {
  const auto capacity = heat_capacities_J_K(content);
  const double t = temperature_K - freezing_K;
  if (t >= 0.0) {
    return capacity.thawed * t;
  }
  if (t >= -freezing_range_K) {
    return capacity.freezing * t;
  }
  return -capacity.freezing * freezing_range_K + capacity.frozen * (t + freezing_range_K);
}

/// What a kilogram of water adds to the enthalpy at a temperature, J/kg.
[[nodiscard]] inline double water_enthalpy_J_kg(double temperature_K) {
  const double t = temperature_K - freezing_K;
  return water_J_kgK.thawed * std::max(t, 0.0) +
         water_J_kgK.freezing * std::clamp(t, -freezing_range_K, 0.0) +
         water_J_kgK.frozen * std::min(t + freezing_range_K, 0.0);
}

/// Temperature of solids and water of this enthalpy, K: the inverse of enthalpy_J, closed form
/// without a branch.
[[nodiscard]] inline double temperature_K(const HeatContent& content, double enthalpy_J) {
  const auto capacity = heat_capacities_J_K(content);
  const double thawed_J = std::max(enthalpy_J, 0.0);
  const double below_J = enthalpy_J - thawed_J;
  const double freezing_J = std::max(below_J, -capacity.freezing * freezing_range_K);
  return freezing_K + (thawed_J / capacity.thawed + freezing_J / capacity.freezing +
                       (below_J - freezing_J) / capacity.frozen);
}

} // namespace heapcast::models
