#pragma once

#include "models/parameters.hpp"

namespace heapcast::models {

// Every coefficient of a run, in SI; names as in `parameters.def`.
// clang-format off
#define HEAPCAST_COEFFICIENTS(X) \
  X(fast_rate_1_s) X(medium_rate_1_s) X(slow_rate_1_s) X(resistant_rate_1_s) \
  X(temperature_min_K) X(temperature_opt_K) X(temperature_max_K) X(mesophile_share) X(moisture_mid) \
  X(moisture_slope) X(oxygen_half_scale) X(anaerobic_share) X(anaerobic_heat) X(methane_share) \
  X(biomass_yield) X(humus_yield) X(contois) X(decay_rate_1_s) X(log_decay_theta) \
  X(heat_kill_1_s) X(ph_half) X(particle_exponent) X(lump_share) X(lump_time_s) \
  X(heat_per_oxygen_J_kg) X(solids_heat_capacity_J_kgK) X(conductivity_scale) \
  X(vapour_enhancement) X(surface_film_scale) X(emissivity) X(solar_absorptance) \
  X(ground_conductance_W_m2K) X(flow_size_scale) X(wind_pressure) X(shrink) X(settling_scale) \
  X(fines_exponent) X(settling_time_s) X(settling_stress_Pa) X(load_compression) \
  X(turn_rebound) X(nesting) X(free_ammonia_scale) X(biomass_cn) X(nitrogen_half) \
  X(nitrification_rate_1_s) X(denitrification_rate_1_s) X(nitrous_share) X(turn_ammonia_loss) \
  X(metabolic_water) X(water_holding_scale) X(drainage_time_s) X(rain_infiltration) \
  X(surface_vapour_m_s) X(turn_cooling) X(turn_breakage) X(biomass_start_scale) \
  X(inactivation_scale)
// clang-format on

/// The parameters of one run in SI, resolved once.
struct Coefficients {
  Coefficients() = default;
  explicit Coefficients(const ParameterSet& p);

#define HEAPCAST_DECLARE(name) double name;
  HEAPCAST_COEFFICIENTS(HEAPCAST_DECLARE)
#undef HEAPCAST_DECLARE
};

/// The coefficients of several runs side by side.
template <int lanes> struct LaneCoefficients {
#define HEAPCAST_DECLARE(name) double name[lanes];
  HEAPCAST_COEFFICIENTS(HEAPCAST_DECLARE)
#undef HEAPCAST_DECLARE

  void put(int lane, const Coefficients& k) {
#define HEAPCAST_COPY(name) name[lane] = k.name;
    HEAPCAST_COEFFICIENTS(HEAPCAST_COPY)
#undef HEAPCAST_COPY
  }
  /// Those of one lane. What the caller does not use is not read.
  [[nodiscard]] __attribute__((always_inline)) Coefficients at(int lane) const {
    Coefficients k;
#define HEAPCAST_COPY(name) k.name = name[lane]; // NOLINT(bugprone-macro-parentheses): a member
    HEAPCAST_COEFFICIENTS(HEAPCAST_COPY)
#undef HEAPCAST_COPY
    return k;
  }
};

} // namespace heapcast::models
