#pragma once

#include "engine/vector_math.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

inline constexpr double gas_constant_J_molK = 8.314462618;        ///< CODATA 2018
inline constexpr double stefan_boltzmann_W_m2K4 = 5.670374419e-8; ///< CODATA 2018
inline constexpr double molar_mass_dry_air_kg_mol = 0.0289647;
inline constexpr double molar_mass_water_kg_mol = 0.01801528;
inline constexpr double molar_mass_oxygen_kg_mol = 0.031998; ///< O2
inline constexpr double molar_mass_carbon_kg_mol = 0.012011;
inline constexpr double molar_mass_nitrogen_kg_mol = 0.014007; ///< N, not N2
inline constexpr double gas_constant_dry_air_J_kgK =
    gas_constant_J_molK / molar_mass_dry_air_kg_mol;
inline constexpr double gas_constant_vapour_J_kgK = gas_constant_J_molK / molar_mass_water_kg_mol;
inline constexpr double standard_pressure_Pa = 101325.0;
inline constexpr double oxygen_in_dry_air = 0.20946; ///< mol per mol, US Standard Atmosphere
inline constexpr double freezing_K = 273.15;         ///< 0 °C
inline constexpr double heat_capacity_dry_air_J_kgK = 1006.0;
inline constexpr double heat_capacity_water_J_kgK = 4186.0;
inline constexpr double heat_capacity_ice_J_kgK = 2050.0;
inline constexpr double heat_of_fusion_J_kg = 333.55e3;

inline constexpr double lowest_vapour_temperature_K = 200.0;  ///< saturation is held below
inline constexpr double highest_vapour_temperature_K = 400.0; ///< saturation is held above

/// Numbers of log_saturation_pressure: least squares to IAPWS-IF97 region 4 from 0 to 100 °C, with
/// supercooled water after Murphy & Koop (2005) and 100..127 °C at low weight.
struct SaturationFit {
  double per_x;
  double constant;
  double x;
  double x_squared;
};
inline constexpr SaturationFit saturation_fit{-23.25615, 34.03348, -5.313593, 0.9517604};

/// Natural logarithm of the saturation pressure over liquid water, of its value in Pa.
///
/// ln p = c0 / x + c1 + c2 x + c3 x², x = T / 273.15 K, c of saturation_fit
///
/// @param temperature_K held within 200..400 K.
[[nodiscard]] inline double log_saturation_pressure(double temperature_K) {
  constexpr auto c = saturation_fit;
  const double held_K =
      std::clamp(temperature_K, lowest_vapour_temperature_K, highest_vapour_temperature_K);
  const double x = held_K * (1.0 / freezing_K);
  return c.constant + c.per_x / x + x * (c.x + c.x_squared * x);
}

/// Saturation pressure over liquid water, Pa: the exponential of log_saturation_pressure.
///
/// Within 0.006 % of IAPWS-IF97 from 0 to 100 °C. Below 0 °C it is that of supercooled water, not
/// of ice, because the water that keeps exchanging vapour in a freezing pile is the unfrozen part:
/// within 0.2 % of Murphy & Koop (2005) down to −30 °C and 9 % at 200 K. Outside 200..400 K it
/// stays at the value of the limit, so that a bad trial temperature gives no infinity; NaN stays
/// NaN. One exponential.
[[nodiscard]] inline double saturation_pressure_Pa(double temperature_K) {
  return std::exp(log_saturation_pressure(temperature_K));
}

/// Latent heat of vaporisation of water, J/kg.
///
/// L = 2500.56e3 − 2303.7 t − 1.345 t², t in °C
///
/// Least squares to the steam table (IAPWS-95, rows hfg_*): within 0.02 % from 0 to 100 °C.
[[nodiscard]] inline double latent_heat_J_kg(double temperature_K) {
  const double t = temperature_K - freezing_K;
  return 2500.56e3 - t * (2303.7 + 1.345 * t);
}

/// Enthalpy of water vapour, J/kg, above liquid water at 0 °C: 4186 (T − 273.15) + L(T).
[[nodiscard]] inline double vapour_enthalpy_J_kg(double temperature_K) {
  return heat_capacity_water_J_kgK * (temperature_K - freezing_K) + latent_heat_J_kg(temperature_K);
}

/// Air and water vapour, ideal gases, at total pressure `pressure_Pa`.
struct MoistAirState {
  double temperature_K;
  double vapour_pressure_Pa; ///< 0..pressure
  double pressure_Pa;        ///< total
};

/// Temperature and total pressure of air that is saturated.
struct SaturatedAir {
  double temperature_K;
  double pressure_Pa;
};

/// The state of saturated air.
[[nodiscard]] inline MoistAirState saturated(const SaturatedAir& air) {
  return {air.temperature_K, saturation_pressure_Pa(air.temperature_K), air.pressure_Pa};
}

/// Partial pressure of the dry air, Pa: P − e, but never less than 2 % of P.
///
/// The floor keeps a trial state at or above the boiling point finite; a pile whose pore air is
/// nearly all steam is outside this model.
[[nodiscard]] inline double dry_air_pressure_Pa(const MoistAirState& air) {
  return std::max(air.pressure_Pa - air.vapour_pressure_Pa, 0.02 * air.pressure_Pa);
}

/// Humidity ratio, kg water per kg dry air: (M_w / M_a) e / (P − e), with the floor of
/// dry_air_pressure_Pa. Ideal gases: about 0.5 % below real moist air (enhancement factor).
[[nodiscard]] inline double humidity_ratio(const MoistAirState& air) {
  constexpr double mass_ratio = molar_mass_water_kg_mol / molar_mass_dry_air_kg_mol;
  return mass_ratio * air.vapour_pressure_Pa / dry_air_pressure_Pa(air);
}

/// Mass of dry air per volume of moist air, kg/m3: (P − e) / (R_a T).
[[nodiscard]] inline double dry_air_density_kg_m3(const MoistAirState& air) {
  return dry_air_pressure_Pa(air) / (gas_constant_dry_air_J_kgK * air.temperature_K);
}

/// Mass of vapour per volume of moist air, kg/m3: e / (R_v T).
[[nodiscard]] inline double vapour_density_kg_m3(const MoistAirState& air) {
  return air.vapour_pressure_Pa / (gas_constant_vapour_J_kgK * air.temperature_K);
}

/// Density of moist air, kg/m3: dry air and vapour together.
[[nodiscard]] inline double moist_air_density_kg_m3(const MoistAirState& air) {
  return dry_air_density_kg_m3(air) + vapour_density_kg_m3(air);
}

/// Enthalpy of moist air, J per kg of dry air, above dry air and liquid water at 0 °C:
/// 1006 (T − 273.15) + W h_v(T).
[[nodiscard]] inline double moist_air_enthalpy_J_kg(const MoistAirState& air) {
  return heat_capacity_dry_air_J_kgK * (air.temperature_K - freezing_K) +
         humidity_ratio(air) * vapour_enthalpy_J_kg(air.temperature_K);
}

/// Enthalpy of saturated air, J per kg of dry air.
[[nodiscard]] inline double saturated_enthalpy_J_kg(const SaturatedAir& air) {
  return moist_air_enthalpy_J_kg(saturated(air));
}

/// Dew point, K: the temperature at which `vapour_pressure_Pa` saturates.
///
/// The inverse of saturation_pressure_Pa by Newton's method on the logarithm. Pressures outside
/// what that function gives (dry air included) return its limits, 200 K or 400 K; NaN stays NaN.
[[nodiscard]] inline double dew_point_K(double vapour_pressure_Pa) {
  const double target = std::log(vapour_pressure_Pa);
  if (target <= log_saturation_pressure(lowest_vapour_temperature_K)) {
    return lowest_vapour_temperature_K;
  }
  if (target >= log_saturation_pressure(highest_vapour_temperature_K)) {
    return highest_vapour_temperature_K;
  }
  // ln p is concave in T and the Magnus form starts near the root: Newton cannot overshoot far, and
  // four steps reach rounding over the whole range.
  constexpr auto c = saturation_fit;
  const double magnus = target - std::log(611.2);
  double temperature_K = freezing_K + 243.12 * magnus / (17.62 - magnus);
  for (int step = 0; step < 4; ++step) {
    const double x = temperature_K / freezing_K;
    const double slope_1_K = (c.x + 2.0 * c.x_squared * x - c.per_x / (x * x)) / freezing_K;
    temperature_K += (target - log_saturation_pressure(temperature_K)) / slope_1_K;
  }
  return temperature_K;
}

/// Dynamic viscosity of air, Pa s: 1.458e-6 T^1.5 / (T + 110.4).
///
/// Sutherland's law with the constants of the US Standard Atmosphere 1976. For dry air; vapour
/// makes saturated air thinner, by about 14 % at 70 °C (Wilke's mixing rule), which is not
/// modelled.
[[nodiscard]] inline double air_viscosity_Pa_s(double temperature_K) {
  return 1.458e-6 * temperature_K * std::sqrt(temperature_K) / (temperature_K + 110.4);
}

/// Air pressure at a height above sea level, Pa: 101.3e3 ((293 − 0.0065 z) / 293)^5.26.
///
/// @param elevation_m −500..6000.
/// FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) eq. 7.
[[nodiscard]] inline double pressure_at_elevation_Pa(double elevation_m) {
  return 101.3e3 * std::pow((293.0 - 0.0065 * elevation_m) / 293.0, 5.26);
}

} // namespace heapcast::models
