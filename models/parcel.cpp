#include "models/parcel.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr std::array carbon_pools = {F::fast,      F::medium, F::slow,
                                     F::resistant, F::humus,  F::biomass};

/// Intensive fields and what they are weighted by when lots mix.
enum class Weight { dry_mass, loose_volume, carbon };
struct Intensive {
  CellField field;
  Weight weight;
};
constexpr std::array intensive = {
    Intensive{F::volatile_per_carbon, Weight::carbon},
    Intensive{F::water_holding, Weight::dry_mass},
    Intensive{F::log_particle_size, Weight::dry_mass},
    Intensive{F::start_ph, Weight::dry_mass},
    Intensive{F::free_ammonia, Weight::dry_mass},
    Intensive{F::settling_limit, Weight::loose_volume},
    Intensive{F::settling, Weight::loose_volume},
    Intensive{F::heated, Weight::dry_mass},
};

struct Weights {
  double dry_mass, loose_volume, carbon;
  [[nodiscard]] double of(Weight w) const {
    return w == Weight::dry_mass ? dry_mass : w == Weight::carbon ? carbon : loose_volume;
  }
};

Weights weights(const Parcel& p) {
  return {parcel_dry_mass_kg(p), p[F::loose_volume], parcel_carbon_kgC(p)};
}

} // namespace

void Parcel::add(const Parcel& other, double share) {
  for (std::size_t i = 0; i < cell_fields; ++i) {
    amount[i] += share * other.amount[i];
  }
}

double parcel_carbon_kgC(const Parcel& p) {
  double sum = 0.0;
  for (const CellField f : carbon_pools) {
    sum += p[f];
  }
  return sum;
}

/// In a parcel `volatile_per_carbon` holds the volatile solids themselves.
double parcel_dry_mass_kg(const Parcel& p) {
  return p[F::ash] + p[F::volatile_per_carbon];
}

std::vector<Parcel> take_apart(const PileState& state) {
  std::vector<Parcel> parcels(state.layout.cells());
  for (std::size_t i = 0; i < parcels.size(); ++i) {
    Parcel& p = parcels[i];
    for (std::size_t f = 0; f < cell_fields; ++f) {
      p.amount[f] = state.y[state.layout.field(f) + i];
    }
    p[F::volatile_per_carbon] *= parcel_carbon_kgC(p);
    const Weights w = weights(p);
    for (const Intensive& field : intensive) {
      if (field.weight != Weight::carbon) {
        p[field.field] *= w.of(field.weight);
      }
    }
    p[F::log_flow_size] = std::exp(-p[F::log_flow_size]) * p[F::grain_volume];
    for (std::size_t k = 0; k < organism_count; ++k) {
      double& s = p.amount[static_cast<std::size_t>(F::log_survivors) + k];
      s = std::exp(s) * w.dry_mass;
    }
  }
  return parcels;
}

void put_together(const std::vector<Parcel>& parcels, PileState& state) {
  for (std::size_t i = 0; i < parcels.size(); ++i) {
    Parcel p = parcels[i];
    const Weights w = weights(p);
    p[F::log_flow_size] = std::log(p[F::grain_volume] / p[F::log_flow_size]);
    for (std::size_t k = 0; k < organism_count; ++k) {
      double& s = p.amount[static_cast<std::size_t>(F::log_survivors) + k];
      s = std::log(std::max(s / w.dry_mass, 1e-300));
    }
    for (const Intensive& field : intensive) {
      p[field.field] /= w.of(field.weight);
    }
    for (std::size_t f = 0; f < cell_fields; ++f) {
      state.y[state.layout.field(f) + i] = p.amount[f];
    }
  }
}

} // namespace heapcast::models
