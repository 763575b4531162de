#pragma once

#include "models/coefficients.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

// The laws of decomposition for one lot of matter, whatever holds it: a cell of the pile or a
// vessel in the laboratory. Any unit of amount will do as long as it is one; rates are per second.

namespace heapcast::models {

/// Carbon of one lot by pool, kg C.
struct CarbonPools {
  double fast;
  double medium;
  double slow;
  double resistant;
  double humus;
  double biomass;
  [[nodiscard]] double degradable() const { return fast + medium + slow; }
};

/// Nitrogen of the same lot, kg N.
struct NitrogenPools {
  double organic; ///< biomass included
  double mineral; ///< ammoniacal and nitrate
};

/// What the nitrogen there is allows.
struct NitrogenSupply {
  double per_carbon; ///< kg N that comes with each kg C decomposed; half of it with lignin
  double factor;     ///< f_N, 0..1
};

inline constexpr double lignin_nitrogen = 0.5; ///< N content of the resistant pool over the others'

/// f_N = phi + (1 - phi) x/(x + K_N): x mineral N per degradable carbon; phi the share of the
/// growth's nitrogen that the decomposed matter itself brings.
[[nodiscard]] inline NitrogenSupply nitrogen_supply(const Coefficients& k, const CarbonPools& c,
                                                    const NitrogenPools& n) {
  const double b = std::max(c.biomass, 0.0);
  const double d = c.degradable();
  const double substrate_n = std::max(n.organic - b / k.biomass_cn, 0.0);
  const double per_carbon = substrate_n / (d + c.humus + lignin_nitrogen * c.resistant + 1e-300);
  const double self_sufficient =
      std::min(1.0, per_carbon * (1.0 - k.humus_yield) * k.biomass_cn / k.biomass_yield);
  const double mineral = std::max(n.mineral, 0.0);
  return {per_carbon, self_sufficient + (1.0 - self_sufficient) * mineral /
                                            (mineral + k.nitrogen_half * d + 1e-300)};
}

/// f_T of both communities of microbes, 0..1.
[[nodiscard]] inline double temperature_factor(const Coefficients& k, double temperature_K) {
  return community_response(
      temperature_response({k.temperature_min_K, k.temperature_opt_K, k.temperature_max_K},
                           temperature_K),
      k.mesophile_share * mesophile_response(k.temperature_min_K, temperature_K));
}

/// Share of the lumps that is still closed after a time without a turn: exp(-t/tau_L).
[[nodiscard]] inline double lumps_left(const Coefficients& k, double time_s) {
  return std::exp(-time_s / k.lump_time_s);
}

/// B/(B + K_X D), 0..1 (Contois).
[[nodiscard]] inline double contois_factor(const Coefficients& k, const CarbonPools& c) {
  const double b = std::max(c.biomass, 0.0);
  return b / (b + k.contois * c.degradable() + 1e-300);
}

/// Death of biomass, kg C/s: b (B - B_floor), b = b_20 theta^(T-20) + kill above 66 degC, B_floor =
/// 0.25 K_X slow.
[[nodiscard]] inline double biomass_decay_kgC_s(const Coefficients& k, const CarbonPools& c,
                                                double temperature_K) {
  constexpr double kill_start_K = 273.15 + 66.0;
  constexpr double kill_reference_K = 273.15 + 72.0;
  constexpr double kill_slope_1_K = 0.35;
  constexpr double spore_share = 0.25; // floor of biomass over K_X times the slow pool
  const double celsius = std::min(temperature_K - freezing_K, 60.0);
  const double at_start = std::exp(kill_slope_1_K * (kill_start_K - kill_reference_K));
  const double killed =
      std::max(std::exp(kill_slope_1_K * (temperature_K - kill_reference_K)) - at_start, 0.0);
  const double rate_1_s =
      k.decay_rate_1_s * std::exp(k.log_decay_theta * (celsius - 20.0)) + k.heat_kill_1_s * killed;
  return rate_1_s * std::max(std::max(c.biomass, 0.0) - spore_share * k.contois * c.slow, 0.0);
}

/// What decomposes and dies, kg C/s.
struct Decomposed {
  double fast;
  double medium;
  double slow;
  double resistant;
  double decay;
  double growth_yield; ///< Y f_N: the same f_N caps the yield, what cannot be built is respired
  double nitrogen_per_carbon;
};

inline constexpr double respired_decay = 0.1; ///< of dead biomass; the rest returns to the pools

/// Rates of change of the pools, kg C/s; nitrogen, kg N/s.
struct CarbonFlows {
  double fast;
  double medium;
  double slow;
  double resistant;
  double humus;
  double biomass;
  double respired;       ///< of what decomposed
  double respired_decay; ///< of what died
  double mineralised;    ///< organic to mineral nitrogen; below 0 it is immobilised
};

/// Growth takes Y f_N of the fast, medium and slow carbon, humus h of all; the rest is respired.
/// The dead return 0.4 to fast, 0.2 to medium, 0.2 to slow, 0.1 to humus. What decomposes brings
/// its nitrogen, growth takes its share. Carbon and nitrogen close.
[[nodiscard]] inline CarbonFlows carbon_flows(const Coefficients& k, const Decomposed& d) {
  constexpr double decay_to_fast = 0.4;
  constexpr double decay_to_medium = 0.2;
  constexpr double decay_to_slow = 0.2;
  constexpr double decay_to_humus = 0.1;
  const double sum = d.fast + d.medium + d.slow;
  const double growth = d.growth_yield * sum;
  const double humified = k.humus_yield * (sum + d.resistant);
  return {.fast = decay_to_fast * d.decay - d.fast,
          .medium = decay_to_medium * d.decay - d.medium,
          .slow = decay_to_slow * d.decay - d.slow,
          .resistant = -d.resistant,
          .humus = decay_to_humus * d.decay + humified,
          .biomass = growth - d.decay,
          .respired = (sum - growth) - humified + d.resistant,
          .respired_decay = respired_decay * d.decay,
          .mineralised = (1.0 - k.humus_yield) * d.nitrogen_per_carbon *
                             (sum + lignin_nitrogen * d.resistant) +
                         respired_decay * d.decay / k.biomass_cn - growth / k.biomass_cn};
}

} // namespace heapcast::models
