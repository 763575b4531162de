#pragma once

#include "models/parameters.hpp"

namespace heapcast::models {

/// The parameters of one run in SI, resolved once. Names as in `parameters.def`.
struct Coefficients {
  explicit Coefficients(const ParameterSet& p);

  double fast_rate_1_s, medium_rate_1_s, slow_rate_1_s, resistant_rate_1_s;
  double temperature_min_K, temperature_opt_K, temperature_max_K;
  double moisture_mid, moisture_slope;
  double oxygen_half_scale;
  double anaerobic_share, anaerobic_heat, methane_share;
  double biomass_yield, humus_yield, contois;
  double decay_rate_1_s, log_decay_theta, heat_kill_1_s;
  double ph_half, particle_exponent;
  double lump_share, lump_time_s;
  double heat_per_oxygen_J_kg;
  double solids_heat_capacity_J_kgK, conductivity_scale, vapour_enhancement;
  double surface_film_scale, emissivity, solar_absorptance, ground_conductance_W_m2K;
  double flow_size_scale, wind_pressure;
  double shrink, settling_scale, fines_exponent, settling_time_s, settling_stress_Pa,
      load_compression, turn_rebound, nesting;
  double free_ammonia_scale, biomass_cn, nitrogen_half;
  double nitrification_rate_1_s, denitrification_rate_1_s, nitrous_share, turn_ammonia_loss;
  double metabolic_water, water_holding_scale, drainage_time_s, rain_infiltration;
  double surface_vapour_m_s, turn_cooling, turn_breakage;
  double biomass_start_scale, inactivation_scale;
};

} // namespace heapcast::models
