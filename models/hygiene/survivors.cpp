#include "models/hygiene/survivors.hpp"

#include "engine/lanes.hpp"
#include "models/pile.hpp"

#include <algorithm>

namespace heapcast::models {

namespace {

HEAPCAST_VECTORISED void fill(const KillRate& law, std::size_t cells, const double* temperature_K,
                              double* rate_1_s) {
  engine::each_entry<1>(cells, [&](std::size_t i, int /*l*/)
                                   HEAPCAST_INLINE { rate_1_s[i] = law(temperature_K[i]); });
}

void fill_all(std::span<const double> temperature_K,
              std::array<std::vector<double>, organism_count>& rates) {
  for (std::size_t organism = 0; organism < organism_count; ++organism) {
    rates[organism].resize(temperature_K.size());
    fill(KillRate(inactivation_table[organism]), temperature_K.size(), temperature_K.data(),
         rates[organism].data());
  }
}

} // namespace

void Survivors::begin_hour(std::span<const double> temperature_K) {
  if (!std::ranges::equal(temperature_K, known_at_K_)) {
    fill_all(temperature_K, rates_);
  }
}

void Survivors::end_hour(std::span<const double> temperature_K, double scale, PileState& state) {
  fill_all(temperature_K, rates_after_);
  const double half_s = 0.5 * seconds_per_hour / scale;
  for (std::size_t organism = 0; organism < organism_count; ++organism) {
    double* survivors = state.survivors(organism);
    const double* before = rates_[organism].data();
    const double* after = rates_after_[organism].data();
    for (std::size_t i = 0; i < temperature_K.size(); ++i) {
      survivors[i] -= half_s * (before[i] + after[i]);
    }
  }
  std::swap(rates_, rates_after_);
  known_at_K_.assign(temperature_K.begin(), temperature_K.end());
}

} // namespace heapcast::models
