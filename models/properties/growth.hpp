#pragma once

#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

/// Temperatures of no, best and no activity. The optimum lies above the middle of the other two.
struct CardinalTemperatures {
  double min_K;
  double opt_K;
  double max_K;
};

/// The curve of `temperature_response` without its limits; within min..max alone it means
/// something.
[[nodiscard]] inline double cardinal_curve(const CardinalTemperatures& cardinal,
                                           double temperature_K) {
  const double above_min = temperature_K - cardinal.min_K;
  const double span = cardinal.opt_K - cardinal.min_K;
  return (temperature_K - cardinal.max_K) * above_min * above_min /
         (span * (span * (temperature_K - cardinal.opt_K) -
                  (cardinal.opt_K - cardinal.max_K) *
                      (cardinal.opt_K + cardinal.min_K - 2.0 * temperature_K)));
}

/// Activity over that at the optimum, 0..1; 0 outside min..max.
///
/// f = (T − max)(T − min)² / ((opt − min) [(opt − min)(T − opt) − (opt − max)(opt + min − 2T)])
///
/// Cardinal temperature model with inflection, Rosso et al. 1993.
[[nodiscard]] inline double temperature_response(const CardinalTemperatures& cardinal,
                                                 double temperature_K) {
  if (!(temperature_K > cardinal.min_K && temperature_K < cardinal.max_K)) {
    return 0.0;
  }
  return cardinal_curve(cardinal, temperature_K);
}

/// Smooth step from 0 at x <= 0 to 1 at x >= 1: x² (3 − 2 x).
[[nodiscard]] inline double smooth_step(double x) {
  const double inside = std::clamp(x, 0.0, 1.0);
  return inside * inside * (3.0 - 2.0 * inside);
}

/// Activity of the mesophiles over that at 37 °C, 0..1: `temperature_response` from their least
/// temperature to 37 °C, from there 1 − smooth_step to none at 48 °C, so that it has no corner.
[[nodiscard]] inline double mesophile_response(double min_K, double temperature_K) {
  constexpr double best_K = freezing_K + 37.0;
  constexpr double none_K = freezing_K + 48.0;
  const double rise =
      cardinal_curve({min_K, best_K, none_K}, std::clamp(temperature_K, min_K, best_K));
  return rise * (1.0 - smooth_step((temperature_K - best_K) / (none_K - best_K)));
}

/// Activity of both communities over that of the thermophiles at their best, 0..1:
///
///   f = 1 − (1 − f_th)(1 − s f_me)
///
/// @param thermophiles f_th, their `temperature_response`
/// @param mesophiles s f_me: `mesophile_response` with the thermophiles' least temperature, times
/// their best activity over that of the thermophiles
/// Where both live each leaves the other only what it does not take, so their sum stays below 1;
/// above 48 °C it is f_th alone. With s = 0.6 a pile works at 72 % of its best at 30 °C, where one
/// thermophilic community alone gives 42 %, and at a level 80–84 % from 37 to 46 °C.
///
/// Communities that follow each other: Kaiser 1996, Ecol. Modelling 91:25. Full rates from 30 °C:
/// Stombaugh & Nokes 1996, Trans. ASAE 39:239 (level from 30 to 55 °C). Both from memory; limits of
/// mesophiles near 37 and 48 °C are textbook microbiology, no source.
[[nodiscard]] inline double community_response(double thermophiles, double mesophiles) {
  return 1.0 - (1.0 - thermophiles) * (1.0 - mesophiles);
}

struct MoistureActivity {
  double moisture_wet_basis; ///< scaled to the mix's water-holding capacity
  double mid;                ///< moisture at half activity, 0.40
  double slope;              ///< per unit of moisture, 17.7
};

/// Activity over that of a wet pile, 0..1: 1 / (1 + exp(slope (mid − m))).
///
/// Haug 1993: 1 / (1 + exp(7.06 − 17.68 m)). No penalty for wetness: the wet limit comes out of
/// pore space and oxygen.
[[nodiscard]] inline double moisture_response(const MoistureActivity& activity) {
  return 1.0 / (1.0 + std::exp(activity.slope * (activity.mid - activity.moisture_wet_basis)));
}

struct OxygenDemandState {
  double temperature_K;
  double moisture_wet_basis;
};

/// Oxygen at half speed, mol per mol dry gas: max(0.3, 0.79 − 0.041 t + 4.0 m) / 100, t in °C.
///
/// Richard, Walker & Gossett 2006, whose moisture is in per cent (0.040 per %).
[[nodiscard]] inline double oxygen_half_saturation(const OxygenDemandState& state) {
  const double percent =
      0.79 - 0.041 * (state.temperature_K - freezing_K) + 4.0 * state.moisture_wet_basis;
  return 0.01 * std::max(0.3, percent);
}

struct ParticleRate {
  double particle_size_m; ///< characteristic length, above 0
  double exponent;        ///< 0.35 (0.1..0.7)
};

/// Rate over that of 15 mm particles: (0.015 / d)^n, held within 0.4..1.6. Judgement.
///
/// For what is broken down at the surface of the particles, the medium and slow pools. The fast
/// pool is in solution or in soft tissue: sugar crosses 5 mm of wet tissue in half a day (d²/D with
/// 5e-10 m2/s), and no leaf, stem or peel is thicker, however long it is.
[[nodiscard]] inline double particle_size_factor(const ParticleRate& particle) {
  return std::clamp(std::pow(0.015 / particle.particle_size_m, particle.exponent), 0.4, 1.6);
}

struct Acidity {
  double ph;
  double temperature_K;
  double ph_half; ///< pH of half activity when hot, 6.0 (5.5..6.5)
};

/// Activity left by organic acids, 0..1.
///
/// f = 1 − w (1 − s); w = smooth_step from 38 to 44 °C, s = smooth_step from ph_half − 1 to
/// ph_half + 1. So there is no effect below 38 °C or one unit above ph_half, and above 44 °C
/// activity falls from full to none over two units with one half at ph_half. Direction: Sundberg
/// 2005 (acid and above 40 °C together slow the start). Widths: judgement.
[[nodiscard]] inline double acid_inhibition(const Acidity& acidity) {
  const double hot = smooth_step((acidity.temperature_K - (freezing_K + 38.0)) / 6.0);
  const double active = smooth_step(0.5 * (acidity.ph - acidity.ph_half + 1.0));
  return 1.0 - hot * (1.0 - active);
}

struct DecayTemperature {
  double theta; ///< factor per kelvin, 1.05
  double temperature_K;
};

/// Decay of biomass over that at 20 °C: theta^(min(t, 60) − 20), t in °C. Haug 1993.
[[nodiscard]] inline double decay_temperature_factor(const DecayTemperature& decay) {
  return std::pow(decay.theta, std::min(decay.temperature_K - freezing_K, 60.0) - 20.0);
}

} // namespace heapcast::models
