#include "models/pile_workspace.hpp"

#include <algorithm>
#include <cmath>

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

Workspace::Workspace(const engine::Mesh& mesh) {
  const std::size_t n = mesh.cells();
  for (auto* v : {&carbon_kgC,
                  &degradable_kgC,
                  &dry_kg,
                  &volume_m3_cell,
                  &temperature_K,
                  &liquid_kg,
                  &moisture,
                  &water_ratio,
                  &load_factor,
                  &free_air_space,
                  &permeability_m2,
                  &conductivity_W_mK,
                  &vapour_density,
                  &vapour_slope_J_m3K,
                  &air_slope_J_kgK,
                  &humidity,
                  &dry_air_density,
                  &gas_density,
                  &viscosity_Pa_s,
                  &relative_diffusivity,
                  &oxygen,
                  &oxygen_before,
                  &oxygen_slope_1_s,
                  &oxygen_half,
                  &oxygen_demand_mol_s,
                  &oxygen_factor,
                  &pore_air_mol,
                  &fast_potential,
                  &medium_potential,
                  &slow_potential,
                  &resistant_potential,
                  &decay_kgC_s,
                  &growth_yield,
                  &nitrification_potential,
                  &ph,
                  &temperature_factor,
                  &moisture_factor,
                  &nitrogen_factor,
                  &nitrogen_per_carbon,
                  &unlimited_factor,
                  &ammonia_gas_kgN_m3,
                  &flow_size_m,
                  &particle_factor,
                  &flow_source,
                  &drained_kg_s}) {
    v->assign(n, 0.0);
  }
  for (auto* v : {&transmissibility_m, &flow_conductance, &flow_drive, &air_flow_kg_s}) {
    v->assign(mesh.faces(), 0.0);
  }
}

} // namespace heapcast::models
