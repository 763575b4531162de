#include "models/processes/air_flow.hpp"

#include "models/properties/flow_resistance.hpp"

namespace heapcast::models {

using engine::FaceKind;

void air_flow(const PileSite& site, engine::PotentialFlow& solver, Workspace& w) {
  const engine::Mesh& mesh = site.mesh;
  const auto mobility = [&](std::size_t i) {
    return w.dry_air_density[i] * w.permeability_m2[i] / w.viscosity_Pa_s[i];
  };
  const double outside = w.forcing.air_density_kg_m3;
  for (const std::size_t f : site.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double ma = mobility(a);
    const double mb = mobility(b);
    w.flow_conductance[f] = w.transmissibility_m[f] * 2.0 * ma * mb / (ma + mb);
    const double lighter = outside - 0.5 * (w.gas_density[a] + w.gas_density[b]);
    w.flow_drive[f] = lighter * standard_gravity_m_s2 * mesh.rise_m[f] * w.scale.height;
  }
  // Wind from the left: pressure on faces that look left, suction on those that look right.
  const double wind_Pa = site.pile->shape.wind_exposed
                             ? site.coefficients.wind_pressure * 0.5 * outside *
                                   w.forcing.wind_m_s * w.forcing.wind_m_s
                             : 0.0;
  double ground_area = 0.0;
  for (const std::size_t f : site.boundary) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    double open = 0.0;
    switch (mesh.kind[f]) {
    case FaceKind::surface:
      open = w.surface.gas_share;
      break;
    case FaceKind::wall:
      open = w.wall.gas_share;
      break;
    case FaceKind::ground:
      open = site.pile->aeration.pipes ? 1.0 : 0.0;
      ground_area += mesh.area_m2(f, w.scale);
      break;
    case FaceKind::inner:
      break;
    }
    w.flow_conductance[f] = open * w.transmissibility_m[f] * mobility(a);
    w.flow_drive[f] =
        (outside - w.gas_density[a]) * standard_gravity_m_s2 * mesh.rise_m[f] * w.scale.height;
    if (wind_Pa > 0.0 && mesh.kind[f] == FaceKind::surface) {
      w.flow_drive[f] += wind_Pa * mesh.area_x_m2[f] * w.scale.height / mesh.area_m2(f, w.scale);
    }
  }
  for (double& s : w.flow_source) {
    s = 0.0;
  }
  if (w.fan_on && ground_area > 0.0) {
    for (const std::size_t f : site.boundary) {
      if (mesh.kind[f] == FaceKind::ground) {
        w.flow_source[static_cast<std::size_t>(mesh.cell_a[f])] +=
            site.fan_kg_s * mesh.area_m2(f, w.scale) / ground_area;
      }
    }
  }
  solver.solve(w.flow_conductance, w.flow_drive, w.flow_source, w.air_flow_kg_s);
  if (w.fan_on && ground_area > 0.0) {
    // What the fan blows in comes through the base: book it on the ground faces as inflow.
    for (const std::size_t f : site.boundary) {
      if (mesh.kind[f] == FaceKind::ground) {
        w.air_flow_kg_s[f] -= site.fan_kg_s * mesh.area_m2(f, w.scale) / ground_area;
      }
    }
  }
}

} // namespace heapcast::models
