#include "models/operations/mix.hpp"

#include "models/operations/build.hpp"
#include "models/properties/acidity.hpp"
#include "models/properties/ammonia.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr double latent_share_of_turn_cooling = 0.7; ///< judgement: steam takes most of it

HeatContent heat_content(const Parcel& p, const Coefficients& k) {
  return {.dry_mass_kg = parcel_dry_mass_kg(p),
          .water_mass_kg = p[F::water],
          .solids_heat_capacity_J_kgK = k.solids_heat_capacity_J_kgK};
}

double volume_of(const Parcel& p) {
  return p[F::loose_volume] - p[F::settling];
}

Parcel sum_of(const std::vector<Parcel>& parcels) {
  Parcel sum;
  for (const Parcel& p : parcels) {
    sum.add(p, 1.0);
  }
  return sum;
}

/// Pours lots, in order, into cells, in order, by volume: each cell takes the next stretch of the
/// row. `volumes` of the lots and `wanted` shares of the cells; everything is poured out.
std::vector<Parcel> pour(const std::vector<Parcel>& lots, const std::vector<double>& wanted) {
  double total = 0.0;
  for (const Parcel& p : lots) {
    total += volume_of(p);
  }
  const double wanted_total = std::accumulate(wanted.begin(), wanted.end(), 0.0);
  std::vector<Parcel> cells(wanted.size());
  std::size_t cell = 0;
  double room = wanted[0] / wanted_total * total;
  for (std::size_t lot = 0; lot < lots.size(); ++lot) {
    const double volume = volume_of(lots[lot]);
    double left = volume;
    double poured_share = 0.0;
    while (cell + 1 < cells.size() && room < left) {
      const double share = room / volume;
      cells[cell].add(lots[lot], share);
      poured_share += share;
      left -= room;
      ++cell;
      room = wanted[cell] / wanted_total * total;
    }
    cells[cell].add(lots[lot], 1.0 - poured_share);
    room -= left;
  }
  return cells;
}

/// Scales a parcel's particle length: its amount is ln(length) times dry mass.
void break_particles(Parcel& p, double share) {
  p[F::log_particle_size] += std::log1p(-share) * parcel_dry_mass_kg(p);
}

} // namespace

double mixing_share(TurnMethod method) {
  switch (method) {
  case TurnMethod::fork:
    return 0.6;
  case TurnMethod::loader:
    return 0.7;
  case TurnMethod::windrow_turner:
  default:
    return 0.9;
  }
}

Exchange turn_pile(const engine::Mesh& mesh, const Coefficients& k, TurnMethod method,
                   const Forcing& air, PileState& state) {
  Exchange exchange;
  std::vector<Parcel> cells = take_apart(state);
  const Parcel all = sum_of(cells);
  const double mesh_volume = mesh.total_volume_m3();
  const double mixed = mixing_share(method);

  if (method == TurnMethod::fork && cells.size() > 1) {
    // What was outside is forked inside: the row of lots by depth is poured in reverse.
    std::vector<std::size_t> by_depth(cells.size());
    std::iota(by_depth.begin(), by_depth.end(), 0U);
    std::stable_sort(by_depth.begin(), by_depth.end(), [&](std::size_t a, std::size_t b) {
      return mesh.depth_m[a] < mesh.depth_m[b];
    });
    std::vector<Parcel> lots;
    std::vector<double> wanted;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      lots.push_back(cells[by_depth[cells.size() - 1 - i]]);
      wanted.push_back(mesh.volume_m3[by_depth[i]]);
    }
    const std::vector<Parcel> poured = pour(lots, wanted);
    for (std::size_t i = 0; i < cells.size(); ++i) {
      cells[by_depth[i]] = poured[i];
    }
  }
  for (std::size_t i = 0; i < cells.size(); ++i) {
    Parcel p;
    p.add(cells[i], 1.0 - mixed);
    p.add(all, mixed * mesh.volume_m3[i] / mesh_volume);
    // Fresh straw springs back, rotted straw does not.
    const double structure = parcel_dry_mass_kg(p) / p[F::start_dry];
    p[F::settling] *= 1.0 - k.turn_rebound * structure * structure;
    break_particles(p, k.turn_breakage);
    for (const CellField lump : {F::lump_fast, F::lump_medium, F::lump_slow}) {
      p[lump] *= 1.0 - mixed;
    }

    // Exposure: heat above ambient, most of it as steam.
    const HeatContent content = heat_content(p, k);
    const double t = temperature_K(content, p[F::enthalpy]);
    if (t > air.air_temperature_K && t > freezing_K) {
      const double lost = k.turn_cooling * heat_capacity_J_K(content, t) *
                          (t - std::max(air.air_temperature_K, freezing_K));
      const double steam =
          std::min(latent_share_of_turn_cooling * lost / latent_heat_J_kg(t), 0.05 * p[F::water]);
      const double steam_heat = steam * vapour_enthalpy_J_kg(t);
      const double dry_heat = (1.0 - latent_share_of_turn_cooling) * lost;
      p[F::water] -= steam;
      p[F::enthalpy] -= steam_heat + dry_heat;
      exchange.water_out_kg += steam;
      exchange.heat_out_J += steam_heat + dry_heat;
    }
    // The puff: scaled with free ammonia, 1 at 60 degC and pH 8 for a free share of 0.3.
    const double dry = parcel_dry_mass_kg(p);
    const double ph = pile_ph({.start_ph = p[F::start_ph] / dry,
                               .fast_left = p[F::fast] / (p[F::start_fast] + 1e-300),
                               .ammonium_dry_basis = p[F::ammonium_nitrogen] / dry});
    const double reference = unionised_share({.ph = 8.0, .temperature_K = freezing_K + 60.0}) /
                             ammonia_henry_ratio(freezing_K + 60.0);
    const double here = unionised_share({.ph = ph, .temperature_K = t}) / ammonia_henry_ratio(t);
    const double free_share = p[F::free_ammonia] / dry * k.free_ammonia_scale / 0.3;
    const double puff = std::min(0.5, k.turn_ammonia_loss * free_share * here / reference) *
                        p[F::ammonium_nitrogen];
    p[F::ammonium_nitrogen] -= puff;
    exchange.ammonia_out_kgN += puff;
    cells[i] = p;
  }
  put_together(cells, state);
  return exchange;
}

double litres_to_moisture(double to_moisture, const PileState& state) {
  const Parcel all = sum_of(take_apart(state));
  const double wanted = parcel_dry_mass_kg(all) * to_moisture / (1.0 - to_moisture);
  return std::max(0.0, wanted - all[F::water]);
}

Exchange water_to_moisture(double to_moisture, double water_temperature_K, PileState& state) {
  Exchange exchange;
  const double heat_J_kg = heat_capacity_water_J_kgK * (water_temperature_K - freezing_K);
  const std::vector<Parcel> cells = take_apart(state);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const double wanted = parcel_dry_mass_kg(cells[i]) * to_moisture / (1.0 - to_moisture);
    const double added = std::max(0.0, wanted - cells[i][F::water]);
    state.field(F::water)[i] += added;
    state.field(F::enthalpy)[i] += added * heat_J_kg;
    exchange.water_in_kg += added;
    exchange.heat_in_J += added * heat_J_kg;
  }
  return exchange;
}

Exchange water_from_above(double litres, const engine::Mesh& mesh, double water_temperature_K,
                          PileState& state) {
  Exchange exchange;
  const double heat_J_kg = heat_capacity_water_J_kgK * (water_temperature_K - freezing_K);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.plan_area_m2[f] > 0.0) {
      const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
      const double added = litres * mesh.plan_area_m2[f] / mesh.plan_area_total_m2;
      state.field(F::water)[a] += added;
      state.field(F::enthalpy)[a] += added * heat_J_kg;
      exchange.water_in_kg += added;
      exchange.heat_in_J += added * heat_J_kg;
    }
  }
  return exchange;
}

Exchange add_material(const std::vector<Ingredient>& ingredients, const engine::Mesh& mesh,
                      const Coefficients& k, double temperature_K, PileState& state) {
  Exchange exchange;
  const Parcel fresh = mixed_parcel(ingredients, k, temperature_K, 0.0);
  std::vector<Parcel> cells = take_apart(state);
  double plan_total = 0.0;
  std::vector<double> stack_volume;
  for (const auto& stack : mesh.stacks) {
    double volume = 0.0;
    for (const int i : stack) {
      volume += mesh.volume_m3[static_cast<std::size_t>(i)];
    }
    stack_volume.push_back(volume);
    plan_total += volume;
  }
  for (std::size_t s = 0; s < mesh.stacks.size(); ++s) {
    std::vector<Parcel> lots;
    std::vector<double> wanted;
    for (const int i : mesh.stacks[s]) {
      lots.push_back(cells[static_cast<std::size_t>(i)]);
      wanted.push_back(mesh.volume_m3[static_cast<std::size_t>(i)]);
    }
    Parcel part;
    part.add(fresh, stack_volume[s] / plan_total);
    lots.push_back(part);
    const std::vector<Parcel> poured = pour(lots, wanted);
    for (std::size_t i = 0; i < poured.size(); ++i) {
      cells[static_cast<std::size_t>(mesh.stacks[s][i])] = poured[i];
    }
  }
  put_together(cells, state);
  exchange.water_in_kg = fresh[F::water];
  exchange.carbon_in_kgC = parcel_carbon_kgC(fresh);
  exchange.nitrogen_in_kgN = fresh[F::organic_nitrogen] + fresh[F::ammonium_nitrogen];
  exchange.ash_in_kg = fresh[F::ash];
  exchange.heat_in_J = fresh[F::enthalpy];
  return exchange;
}

} // namespace heapcast::models
