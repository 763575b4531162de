#pragma once

#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <string_view>

namespace heapcast::models {

enum class Organism : std::size_t {
  e_coli,
  salmonella,
  listeria,
  ascaris,
  enteric_virus,
  weed_seeds,
  clubroot
};

inline constexpr std::size_t organism_count = 7;

/// How one organism dies.
struct Inactivation {
  std::string_view key; ///< in names of results
  std::string_view name;
  double decimal_time_55_h;     ///< D55: time for a tenth to survive at 55 °C
  double z_K;                   ///< warming that shortens the decimal time tenfold
  double threshold_C;           ///< heat kills from here up
  double ambient_decay_per_day; ///< slow death when cool, of ln of the survivors
};

/// Every organism followed, in the order of Organism. Values: memory and judgement, chosen slower
/// than laboratory death in moist compost to allow for heat-adapted cells and dryness; within a
/// factor 2–3 at best. Claim no more than 4–5 log from them: real death curves have tails.
inline constexpr std::array<Inactivation, organism_count> inactivation_table{{
    {"e_coli", "E. coli O157 / generic", 1.5, 8.0, 40.0, 0.05},
    {"salmonella", "Salmonella", 2.0, 8.0, 40.0, 0.04},
    {"listeria", "Listeria", 2.5, 8.0, 42.0, 0.03},
    {"ascaris", "Ascaris eggs", 6.0, 6.0, 45.0, 0.003},
    {"enteric_virus", "enteric virus", 8.0, 9.0, 42.0, 0.02},
    {"weed_seeds", "weed seeds (mesic)", 12.0, 7.0, 42.0, 0.002},
    {"clubroot", "Plasmodiophora/clubroot", 24.0, 6.0, 50.0, 0.001},
}};

/// Decimal reduction time, s: D55 · 10^((55 − t)/z), t in °C.
[[nodiscard]] inline double decimal_time_s(const Inactivation& organism, double temperature_K) {
  const double t = temperature_K - freezing_K;
  return 3600.0 * organism.decimal_time_55_h *
         std::exp(std::numbers::ln10 * (55.0 - t) / organism.z_K);
}

inline constexpr double inactivation_blend_K = 5.0; ///< width below the threshold; judgement
inline constexpr double inactivation_cap_C = 75.0;  ///< no faster above

/// Rate at which ln of the survivors falls.
///
/// From the threshold to 75 °C ln10 / D(T); above 75 °C as at 75 °C, which is faster than any pile
/// can show. More than 5 K below the threshold the ambient decay; between, ln of the rate is linear
/// in temperature, so that the rate is continuous and never falls with warming. Regrowth in cool,
/// moist, immature compost is not in it.
class KillRate {
public:
  explicit KillRate(const Inactivation& organism)
      : threshold_K_(freezing_K + organism.threshold_C),
        log_ambient_(std::log(organism.ambient_decay_per_day / 86400.0)),
        log_at_threshold_(std::log(std::numbers::ln10 / decimal_time_s(organism, threshold_K_))),
        hot_slope_1_K_(std::numbers::ln10 / organism.z_K),
        cool_slope_1_K_((log_at_threshold_ - log_ambient_) / inactivation_blend_K) {}

  /// The rate [1/s] at a temperature [K].
  [[nodiscard]] double operator()(double temperature_K) const {
    const double above_K = std::min(temperature_K, freezing_K + inactivation_cap_C) - threshold_K_;
    const double log_rate =
        log_at_threshold_ + (above_K > 0.0 ? hot_slope_1_K_ : cool_slope_1_K_) * above_K;
    return std::exp(std::max(log_rate, log_ambient_));
  }

private:
  double threshold_K_;
  double log_ambient_, log_at_threshold_; ///< of the rate in 1/s
  double hot_slope_1_K_, cool_slope_1_K_;
};

} // namespace heapcast::models
