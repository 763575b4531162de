#include "models/pile_workspace.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

namespace heapcast::models {

using engine::FaceKind;

PileSite::PileSite(const PileDescription& description, engine::Mesh built)
    : pile(&description), mesh(std::move(built)), coefficients(description.parameters),
      forcing(*description.weather, description.start_hour_in_weather),
      container(description.shape.kind == ShapeKind::bin) {
  // A peaked pile sheds what does not soak in; a flat fill between walls keeps most of it.
  const double sheds = 1.0 - coefficients.rain_infiltration;
  rain_share = container ? 1.0 - 0.2 * sheds : 1.0 - sheds;

  constexpr double blown_air_density_kg_m3 = 1.2;
  fan_kg_s = description.aeration.fan_m3_h / 3600.0 * blown_air_density_kg_m3 *
             description.aeration.on_minutes_h / 60.0;

  const std::size_t cells = mesh.cells();
  face_start.assign(cells + 1, 0);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    ++face_start[static_cast<std::size_t>(mesh.cell_a[f]) + 1];
    if (mesh.cell_b[f] >= 0) {
      ++face_start[static_cast<std::size_t>(mesh.cell_b[f]) + 1];
    }
    (mesh.cell_b[f] >= 0 ? inner : boundary).push_back(f);
  }
  for (std::size_t i = 0; i < cells; ++i) {
    face_start[i + 1] += face_start[i];
  }
  face_list.resize(static_cast<std::size_t>(face_start.back()));
  std::vector<int> next(face_start.begin(), face_start.end() - 1);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const int face = static_cast<int>(f);
    face_list[static_cast<std::size_t>(next[static_cast<std::size_t>(mesh.cell_a[f])]++)] = face;
    if (mesh.cell_b[f] >= 0) {
      face_list[static_cast<std::size_t>(next[static_cast<std::size_t>(mesh.cell_b[f])]++)] = face;
    }
  }

  // Drainage leaves a cell through the faces that look down, by their horizontal projection.
  drain_from.assign(mesh.faces(), -1);
  drain_share.assign(mesh.faces(), 0.0);
  std::vector<double> down(cells, 0.0);
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    const double az = mesh.area_z_m2[f];
    if (mesh.cell_b[f] >= 0) {
      drain_from[f] = az < 0.0 ? mesh.cell_a[f] : az > 0.0 ? mesh.cell_b[f] : -1;
    } else if (mesh.kind[f] == FaceKind::ground) {
      drain_from[f] = mesh.cell_a[f];
    }
    if (drain_from[f] >= 0) {
      drain_share[f] = std::abs(az);
      down[static_cast<std::size_t>(drain_from[f])] += std::abs(az);
    }
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (drain_from[f] >= 0) {
      drain_share[f] /= down[static_cast<std::size_t>(drain_from[f])];
    }
  }
}

namespace {

/// What a run's arrays by cell are.
template <class W> auto cell_arrays(W& w) {
  return std::array{&w.carbon_kgC,
                    &w.degradable_kgC,
                    &w.dry_kg,
                    &w.volume_m3_cell,
                    &w.temperature_K,
                    &w.liquid_kg,
                    &w.moisture,
                    &w.water_ratio,
                    &w.load_factor,
                    &w.free_air_space,
                    &w.permeability_m2,
                    &w.conductivity_W_mK,
                    &w.vapour_density,
                    &w.vapour_slope_J_m3K,
                    &w.air_slope_J_kgK,
                    &w.humidity,
                    &w.dry_air_density,
                    &w.mobility_s,
                    &w.gas_density,
                    &w.viscosity_Pa_s,
                    &w.relative_diffusivity,
                    &w.oxygen,
                    &w.oxygen_before,
                    &w.oxygen_slope_1_s,
                    &w.oxygen_half,
                    &w.oxygen_demand_mol_s,
                    &w.oxygen_factor,
                    &w.pore_air_mol,
                    &w.fast_potential,
                    &w.medium_potential,
                    &w.slow_potential,
                    &w.resistant_potential,
                    &w.decay_kgC_s,
                    &w.growth_yield,
                    &w.nitrification_potential,
                    &w.ph,
                    &w.temperature_factor,
                    &w.moisture_factor,
                    &w.nitrogen_factor,
                    &w.nitrogen_per_carbon,
                    &w.unlimited_factor,
                    &w.ammonia_water_kgN_m3,
                    &w.ammonia_gas_kgN_m3,
                    &w.ammonia_gas_per_kg_1_m3,
                    &w.flow_size_m,
                    &w.particle_factor,
                    &w.flow_source,
                    &w.drained_kg_s,
                    &w.cell_scratch[0],
                    &w.cell_scratch[1],
                    &w.cell_scratch[2],
                    &w.cell_scratch[3]};
}

template <class W> auto face_arrays(W& w) {
  return std::array{&w.transmissibility_m,
                    &w.face_area_m2,
                    &w.flow_conductance,
                    &w.flow_drive,
                    &w.air_flow_kg_s,
                    &w.face_scratch[0],
                    &w.face_scratch[1],
                    &w.face_scratch[2],
                    &w.face_scratch[3],
                    &w.boundary_heat_W,
                    &w.boundary_vapour_kg_s,
                    &w.boundary_slope_W_K,
                    &w.boundary_latent_slope_W_K,
                    &w.boundary_snow_W,
                    &w.ammonia_conductance_m3_s};
}

} // namespace

template <int lanes> LaneWorkspace<lanes>::LaneWorkspace(const engine::Mesh& mesh) {
  for (auto* v : cell_arrays(*this)) {
    v->assign(lanes * mesh.cells(), 0.0);
  }
  for (auto* v : face_arrays(*this)) {
    v->assign(lanes * mesh.faces(), 0.0);
  }
}

template <int lanes>
LaneSite<lanes>::LaneSite(const PileSite& first)
    : cell_count(first.mesh.cells()), cell_a(first.mesh.cell_a), cell_b(first.mesh.cell_b),
      kind(first.mesh.kind), drain_from(first.drain_from), round(first.mesh.round) {
  for (const std::size_t f : first.inner) {
    inner.push_back(static_cast<int>(f));
    inner_a.push_back(cell_a[f]);
    inner_b.push_back(cell_b[f]);
  }
  for (const std::size_t f : first.boundary) {
    boundary.push_back(static_cast<int>(f));
    auto& of_kind = kind[f] == FaceKind::ground ? ground
                    : kind[f] == FaceKind::wall ? wall
                                                : surface;
    of_kind.push_back(static_cast<int>(f));
  }
  depth_m.assign(lanes * cells(), 0.0);
  for (auto* v : {&area_x_m2, &area_z_m2, &distance_x_m, &rise_m, &plan_area_m2, &drain_share}) {
    v->assign(lanes * faces(), 0.0);
  }
  for (int lane = 0; lane < lanes; ++lane) {
    put(lane, first);
  }
}

template <int lanes> bool LaneSite<lanes>::fits(const PileSite& other) const {
  const engine::Mesh& mesh = other.mesh;
  return mesh.cells() == cells() && mesh.cell_a == cell_a && mesh.cell_b == cell_b &&
         mesh.kind == kind && other.drain_from == drain_from && mesh.round == round;
}

template <int lanes> void LaneSite<lanes>::put(int lane, const PileSite& other) {
  const engine::Mesh& mesh = other.mesh;
  if (!fits(other)) {
    throw std::logic_error("piles of different topology cannot lie side by side");
  }
  const auto copy = [&](const std::vector<double>& from, std::vector<double>& to) {
    for (std::size_t i = 0; i < from.size(); ++i) {
      to[i * lanes + static_cast<std::size_t>(lane)] = from[i];
    }
  };
  copy(mesh.depth_m, depth_m);
  copy(mesh.area_x_m2, area_x_m2);
  copy(mesh.area_z_m2, area_z_m2);
  copy(mesh.distance_x_m, distance_x_m);
  copy(mesh.rise_m, rise_m);
  copy(mesh.plan_area_m2, plan_area_m2);
  copy(other.drain_share, drain_share);
  coefficients.put(lane, other.coefficients);
  in_lane(site, lane) = &other;
  in_lane(pressure_Pa, lane) = other.forcing.pressure_Pa();
  in_lane(total_volume_m3, lane) = mesh.total_volume_m3();
  in_lane(plan_area_total_m2, lane) = mesh.plan_area_total_m2;
  in_lane(ground_scale, lane) = other.pile->ground_conductance_scale;
}

template struct LaneWorkspace<1>;
template struct LaneWorkspace<run_lanes>;
template struct LaneSite<1>;
template struct LaneSite<run_lanes>;

} // namespace heapcast::models
