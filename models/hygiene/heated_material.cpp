#include "models/hygiene/heated_material.hpp"

#include "models/properties/moist_air.hpp"

#include <algorithm>

namespace heapcast::models {

void HeatedMaterial::hour(std::span<const double> before_K, std::span<const double> after_K,
                          std::span<double> heated) {
  for (std::size_t i = 0; i < hours_.size(); ++i) {
    const bool hot = std::min(before_K[i], after_K[i]) >= freezing_K + heated_degC;
    hours_[i] = hot ? hours_[i] + 1.0 : 0.0;
    if (hours_[i] >= heated_hours) {
      heated[i] = 1.0;
    }
  }
}

void HeatedMaterial::moved() {
  std::ranges::fill(hours_, 0.0);
}

} // namespace heapcast::models
