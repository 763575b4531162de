#include "models/operations/build.hpp"

#include "engine/errors.hpp"
#include "models/properties/free_air_space.hpp"
#include "models/properties/heat.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

namespace heapcast::models {

namespace {

using F = CellField;
constexpr double pi = std::numbers::pi;

bool known(double x) {
  return !std::isnan(x);
}

/// Section area over height times base width.
double fullness(const Shape& s) {
  switch (s.profile) {
  case Profile::triangular:
    return 0.5;
  case Profile::trapezoidal:
    return 0.5 *
           (1.0 + (known(s.top_width_m) && known(s.width_m) ? s.top_width_m / s.width_m : 0.5));
  case Profile::parabolic:
  default:
    return 2.0 / 3.0;
  }
}

engine::SectionProfile section_profile(Profile p) {
  switch (p) {
  case Profile::triangular:
    return engine::SectionProfile::triangle;
  case Profile::trapezoidal:
    return engine::SectionProfile::trapezoid;
  case Profile::parabolic:
  default:
    return engine::SectionProfile::parabola;
  }
}

Shape complete_windrow(Shape s, double volume_m3) {
  constexpr double width_over_height = 2.0;
  if (!known(s.length_m)) {
    if (!known(s.height_m) && !known(s.width_m)) {
      // as long as it takes at a height of 1.2 m, but never shorter than wide
      s.height_m = std::min(
          1.2, std::cbrt(volume_m3 / (width_over_height * width_over_height * fullness(s))));
    }
    if (!known(s.height_m)) {
      s.height_m = s.width_m / width_over_height;
    }
    if (!known(s.width_m)) {
      s.width_m = s.height_m * width_over_height;
    }
    s.length_m = volume_m3 / (fullness(s) * s.height_m * s.width_m);
  } else if (!known(s.height_m) && !known(s.width_m)) {
    s.height_m = std::sqrt(volume_m3 / (fullness(s) * width_over_height * s.length_m));
    s.width_m = width_over_height * s.height_m;
  } else if (!known(s.height_m)) {
    s.height_m = volume_m3 / (fullness(s) * s.width_m * s.length_m);
  } else if (!known(s.width_m)) {
    s.width_m = volume_m3 / (fullness(s) * s.height_m * s.length_m);
  }
  if (!known(s.top_width_m)) {
    s.top_width_m = s.profile == Profile::trapezoidal ? 0.5 * s.width_m : 0.0;
  }
  return s;
}

Shape complete_heap(Shape s, double volume_m3) {
  constexpr double width_over_height = 1.5;
  // cone 1/3, paraboloid 1/2 of the cylinder
  const double share = (s.profile == Profile::triangular ? 1.0 / 3.0 : 0.5) * pi / 4.0;
  if (!known(s.height_m) && !known(s.width_m)) {
    s.height_m = std::cbrt(volume_m3 / (share * width_over_height * width_over_height));
    s.width_m = width_over_height * s.height_m;
  } else if (!known(s.height_m)) {
    s.height_m = volume_m3 / (share * s.width_m * s.width_m);
  } else if (!known(s.width_m)) {
    s.width_m = std::sqrt(volume_m3 / (share * s.height_m));
  }
  return s;
}

Shape complete_bin(Shape s, double volume_m3) {
  if (!known(s.width_m)) {
    s.width_m = std::cbrt(volume_m3);
  }
  if (!known(s.length_m)) {
    s.length_m = s.width_m;
  }
  const double plan = s.round ? 0.25 * pi * s.width_m * s.width_m : s.width_m * s.length_m;
  const double fill = volume_m3 / plan;
  if (!known(s.height_m)) {
    s.height_m = fill;
  }
  constexpr double heaped = 1.05; // as near as paced-out dimensions agree
  if (fill > heaped * s.height_m) {
    throw InputError("pile.height",
                     fmt::format("the bin holds {:.2f} m3, the materials are {:.2f} m3",
                                 plan * s.height_m, volume_m3),
                     "make the bin larger or the amounts smaller");
  }
  return s;
}

/// Share of each cell's volume in each of `count` layers of equal order, from the ground up, by
/// sampling; `borders` are heights.
std::vector<std::vector<double>> layer_shares(const engine::Mesh& mesh,
                                              const std::vector<double>& layer_volumes) {
  struct Sample {
    double z, volume;
    std::size_t cell;
  };
  std::vector<Sample> samples;
  constexpr int cuts = 12;
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    const auto& zs = mesh.outline_z_m[i];
    const double low = *std::min_element(zs.begin(), zs.end());
    const double high = *std::max_element(zs.begin(), zs.end());
    for (int c = 0; c < cuts; ++c) {
      samples.push_back({low + (high - low) * (c + 0.5) / cuts, mesh.volume_m3[i] / cuts, i});
    }
  }
  std::stable_sort(samples.begin(), samples.end(),
                   [](const Sample& a, const Sample& b) { return a.z < b.z; });
  double total = 0.0;
  for (const double v : layer_volumes) {
    total += v;
  }
  const double scale = total / mesh.total_volume_m3();
  std::vector<std::vector<double>> shares(mesh.cells(),
                                          std::vector<double>(layer_volumes.size(), 0.0));
  std::size_t layer = 0;
  double room = layer_volumes.empty() ? 0.0 : layer_volumes[0];
  for (const Sample& s : samples) {
    double left = s.volume * scale;
    while (left > 0.0) {
      const bool last = layer + 1 == layer_volumes.size();
      const double part = last ? left : std::min(left, room);
      shares[s.cell][layer] += part;
      left -= part;
      room -= part;
      if (!last && room <= 0.0) {
        ++layer;
        room = layer_volumes[layer];
      }
    }
  }
  return shares;
}

} // namespace

Parcel ingredient_parcel(const Ingredient& ingredient, const Coefficients& k, double temperature_K,
                         double settled) {
  const Material& m = ingredient.material;
  const double dry = ingredient.wet_mass_kg * (1.0 - m.moisture_wet_basis);
  const double carbon = dry * m.carbon_dry_basis;
  const double nitrogen = dry * m.nitrogen_dry_basis;
  const double alive = std::min(0.5, k.biomass_start_scale * m.active_biomass_fraction);
  Parcel p;
  p[F::fast] = carbon * m.fast_fraction * (1.0 - alive);
  p[F::medium] = carbon * m.medium_fraction * (1.0 - alive);
  p[F::slow] = carbon * m.slow_fraction * (1.0 - alive);
  p[F::resistant] = carbon * m.resistant_fraction * (1.0 - alive);
  p[F::humus] = carbon * m.humus_fraction * (1.0 - alive);
  p[F::biomass] = carbon * alive;
  p[F::ash] = dry * (1.0 - m.volatile_solids_dry_basis);
  p[F::volatile_per_carbon] = dry * m.volatile_solids_dry_basis; // an amount in a parcel
  p[F::water] = ingredient.wet_mass_kg * m.moisture_wet_basis;
  p[F::enthalpy] = enthalpy_J({.dry_mass_kg = dry,
                               .water_mass_kg = p[F::water],
                               .solids_heat_capacity_J_kgK = k.solids_heat_capacity_J_kgK},
                              temperature_K);
  p[F::ammonium_nitrogen] = nitrogen * m.ammoniacal_fraction;
  p[F::organic_nitrogen] = nitrogen - p[F::ammonium_nitrogen];
  p[F::loose_volume] = ingredient.wet_mass_kg / m.bulk_density_wet_kg_m3;
  p[F::start_dry] = dry;
  p[F::start_fast] = p[F::fast];
  p[F::lump_fast] = k.lump_share * p[F::fast];
  p[F::lump_medium] = k.lump_share * p[F::medium];
  p[F::lump_slow] = k.lump_share * p[F::slow];
  p[F::water_holding] = m.water_holding_kgW_kgDM * dry;
  p[F::grain_volume] =
      solids_fraction(
          {.dry_mass_kg = dry, .ash_mass_kg = p[F::ash], .water_mass_kg = 0.0, .volume_m3 = 1.0}) +
      p[F::water] / water_density_kg_m3;
  p[F::log_flow_size] = p[F::grain_volume] / m.flow_size_m; // an amount in a parcel: see parcel.hpp
  p[F::log_particle_size] = std::log(m.chop_size_m) * dry;
  p[F::start_ph] = m.ph * dry;
  p[F::free_ammonia] = m.free_ammonia_share * dry;
  p[F::settling_limit] = m.settling_fraction * p[F::loose_volume];
  p[F::settling] = settled * p[F::loose_volume];
  for (std::size_t organism = 0; organism < organism_count; ++organism) {
    p.amount[static_cast<std::size_t>(F::log_survivors) + organism] = dry; // all alive
  }
  return p;
}

Shape complete_shape(const Shape& wanted, double volume_m3) {
  switch (wanted.kind) {
  case ShapeKind::windrow:
    return complete_windrow(wanted, volume_m3);
  case ShapeKind::heap:
  case ShapeKind::one_cell:
    return complete_heap(wanted, volume_m3);
  case ShapeKind::bin:
  default:
    return complete_bin(wanted, volume_m3);
  }
}

engine::Mesh build_mesh(const Shape& s, double volume_m3, Resolution resolution) {
  const int level = resolution == Resolution::coarse     ? 0
                    : resolution == Resolution::standard ? 1
                                                         : 2;
  constexpr int shells[] = {5, 10, 17};
  constexpr int sectors[] = {6, 11, 25};
  const engine::SectionResolution section{shells[level], sectors[level]};
  switch (s.kind) {
  case ShapeKind::windrow:
    return engine::make_prism({.height_m = s.height_m,
                               .base_width_m = s.width_m,
                               .top_width_m = s.top_width_m,
                               .length_m = s.length_m,
                               .profile = section_profile(s.profile),
                               .full_section = s.wind_exposed},
                              section);
  case ShapeKind::heap:
    return engine::make_mound({.height_m = s.height_m,
                               .base_diameter_m = s.width_m,
                               .profile = section_profile(s.profile)},
                              section);
  case ShapeKind::one_cell: {
    const double plan = 0.25 * pi * s.width_m * s.width_m;
    const double share = s.profile == Profile::triangular ? 1.0 / 3.0 : 0.5;
    return engine::make_lump(
        {.volume_m3 = share * plan * s.height_m,
         .height_m = s.height_m,
         .surface_area_m2 = plan * std::sqrt(1.0 + std::pow(2.0 * s.height_m / s.width_m, 2)),
         .ground_area_m2 = plan});
  }
  case ShapeKind::bin:
  default: {
    constexpr int rings[] = {4, 8, 16};
    constexpr int layers[] = {6, 12, 25};
    const double plan = s.round ? 0.25 * pi * s.width_m * s.width_m : s.width_m * s.length_m;
    const double perimeter = s.round ? pi * s.width_m : 2.0 * (s.width_m + s.length_m);
    return engine::make_container({volume_m3 / plan, plan, perimeter}, rings[level], layers[level]);
  }
  }
}

double mixed_volume_m3(const std::vector<Ingredient>& ingredients, double nesting) {
  double sum = 0.0;
  double largest = 0.0;
  for (const Ingredient& i : ingredients) {
    const double volume = i.wet_mass_kg / i.material.bulk_density_wet_kg_m3;
    sum += volume;
    largest = std::max(largest, volume);
  }
  return sum - nesting * (sum - largest);
}

Parcel mixed_parcel(const std::vector<Ingredient>& ingredients, const Coefficients& k,
                    double temperature_K, double settled) {
  Parcel lot;
  for (const Ingredient& i : ingredients) {
    lot.add(ingredient_parcel(i, k, temperature_K, settled), 1.0);
  }
  const double nested = mixed_volume_m3(ingredients, k.nesting) / lot[F::loose_volume];
  for (const CellField f : {F::loose_volume, F::settling_limit, F::settling}) {
    lot[f] *= nested; // the latter two are shares of the volume
  }
  return lot;
}

namespace {

/// Ingredients by layer, bottom first; one layer unless the pile is layered.
std::map<int, std::vector<Ingredient>> layers_of(const PileDescription& pile) {
  std::map<int, std::vector<Ingredient>> layers;
  for (const Ingredient& i : pile.ingredients) {
    layers[pile.layered ? i.layer : 0].push_back(i);
  }
  return layers;
}

} // namespace

double ingredients_volume_m3(const PileDescription& pile) {
  double volume = 0.0;
  for (const auto& [order, ingredients] : layers_of(pile)) {
    volume += mixed_volume_m3(ingredients, pile.parameters[Parameter::nesting]);
  }
  return volume * (1.0 - pile.compaction);
}

void fill_pile(const PileDescription& pile, const engine::Mesh& mesh, const Coefficients& k,
               double temperature_K, PileState& state) {
  std::vector<Parcel> layers;
  for (const auto& [order, ingredients] : layers_of(pile)) {
    layers.push_back(mixed_parcel(ingredients, k, temperature_K, pile.compaction));
  }
  std::vector<double> volumes;
  volumes.reserve(layers.size());
  for (const Parcel& parcel : layers) {
    volumes.push_back(parcel[F::loose_volume]);
  }
  const auto shares = layer_shares(mesh, volumes);
  std::vector<Parcel> cells(mesh.cells());
  for (std::size_t k_layer = 0; k_layer < layers.size(); ++k_layer) {
    // Shares of one layer add up to its volume to rounding; the last digit goes by the sum.
    double sum = 0.0;
    for (const auto& share : shares) {
      sum += share[k_layer];
    }
    for (std::size_t i = 0; i < cells.size(); ++i) {
      cells[i].add(layers[k_layer], shares[i][k_layer] / sum);
    }
  }
  put_together(cells, state);
}

} // namespace heapcast::models
