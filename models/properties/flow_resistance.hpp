#pragma once

#include <algorithm>

namespace heapcast::models {

inline constexpr double standard_gravity_m_s2 = 9.80665;

/// Pore space as air flow sees it.
struct PoreSpace {
  double flow_size_m;    ///< effective flow size d_e, 0.3e-3..10e-3
  double free_air_space; ///< m3 air per m3 pile, 0..1
};

/// Permeability, m2: d² ε³ / (150 (1 − ε)²); 0 for ε <= 0, held at its value for ε >= 0.999.
///
/// Kozeny–Carman, the linear term of Ergun 1952. Fits compost with R² > 0.95 (Das & Keener 1997).
[[nodiscard]] inline double permeability_m2(const PoreSpace& pores) {
  const double e = std::clamp(pores.free_air_space, 0.0, 0.999);
  const double solid = 1.0 - e;
  return pores.flow_size_m * pores.flow_size_m * e * e * e / (150.0 * solid * solid);
}

/// Air driven through pores.
struct PoreFlow {
  PoreSpace pores;     ///< free air space above 0
  double velocity_m_s; ///< superficial (Darcy) velocity, 0 or more
  double viscosity_Pa_s;
  double density_kg_m3;
};

/// Pressure gradient of the flow, Pa/m: μ v / K + 1.75 ρ v² (1 − ε) / (d ε³).
///
/// Ergun 1952. The second term over the first is 1.75 ρ v d / (150 μ (1 − ε)): below 1 % up to
/// 5e-4 m/s even with d = 10 mm and ε = 0.6, so natural draught needs the first alone.
[[nodiscard]] inline double ergun_gradient_Pa_m(const PoreFlow& flow) {
  const double e = flow.pores.free_air_space;
  const double inertial = 1.75 * flow.density_kg_m3 * flow.velocity_m_s * flow.velocity_m_s *
                          (1.0 - e) / (flow.pores.flow_size_m * e * e * e);
  return flow.viscosity_Pa_s * flow.velocity_m_s / permeability_m2(flow.pores) + inertial;
}

} // namespace heapcast::models
