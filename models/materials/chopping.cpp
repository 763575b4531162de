#include "models/materials/chopping.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

Material chopped(const Material& material, double cut_m) {
  Material m = material;
  const double shorter = std::max(1.0, material.chop_size_m / cut_m);
  m.bulk_density_wet_kg_m3 *= std::pow(shorter, 0.12);
  m.flow_size_m /= std::sqrt(shorter);
  m.chop_size_m = cut_m;
  return m;
}

} // namespace heapcast::models
