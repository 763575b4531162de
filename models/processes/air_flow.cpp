#include "models/processes/air_flow.hpp"

#include "models/properties/flow_resistance.hpp"

#include <algorithm>

namespace heapcast::models {

using engine::FaceKind;

namespace {

template <int lanes>
HEAPCAST_INLINE inline void flow_terms(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w) {
  each_inner_face<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b,
                                   int l) HEAPCAST_INLINE {
    const double ma = w.mobility_s[a];
    const double mb = w.mobility_s[b];
    w.flow_conductance[f] = w.transmissibility_m[f] * 2.0 * ma * mb / (ma + mb);
    const double lighter =
        in_lane(w.forcing, l).air_density_kg_m3 - 0.5 * (w.gas_density[a] + w.gas_density[b]);
    w.flow_drive[f] = lighter * standard_gravity_m_s2 * site.rise_m[f] * in_lane(w.scale, l).height;
  });
  for (const int face : site.boundary) {
    const FaceKind kind = site.kind[static_cast<std::size_t>(face)];
    for (int l = 0; l < lanes; ++l) {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + l;
      const std::size_t a =
          static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]) * lanes + l;
      const PileSite& own = *in_lane(site.site, l);
      const double outside = in_lane(w.forcing, l).air_density_kg_m3;
      const double height = in_lane(w.scale, l).height;
      const double open = kind == FaceKind::surface  ? in_lane(w.surface, l).gas_share
                          : kind == FaceKind::wall   ? in_lane(w.wall, l).gas_share
                          : own.pile->aeration.pipes ? 1.0
                                                     : 0.0;
      w.flow_conductance[f] = open * w.transmissibility_m[f] * w.mobility_s[a];
      w.flow_drive[f] =
          (outside - w.gas_density[a]) * standard_gravity_m_s2 * site.rise_m[f] * height;
      // Wind from the left: pressure on faces that look left, suction on those that look right.
      if (own.pile->shape.wind_exposed && kind == FaceKind::surface) {
        const double wind_m_s = in_lane(w.forcing, l).wind_m_s;
        const double wind_Pa = own.coefficients.wind_pressure * 0.5 * outside * wind_m_s * wind_m_s;
        w.flow_drive[f] += wind_Pa * site.area_x_m2[f] * height / w.face_area_m2[f];
      }
    }
  }
}

HEAPCAST_VECTORISED void terms(const LaneSite<1>& site, LaneWorkspace<1>& w) {
  flow_terms<1>(site, w);
}
HEAPCAST_VECTORISED void terms(const LaneSite<run_lanes>& site, LaneWorkspace<run_lanes>& w) {
  flow_terms<run_lanes>(site, w);
}

/// add(cell entry, face entry, air kg/s) for every ground face of a lane whose fan is on.
template <int lanes, class Add>
void blow(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w, const Add& add) {
  for (int l = 0; l < lanes; ++l) {
    if (!in_lane(w.fan_on, l)) {
      continue;
    }
    double ground_m2 = 0.0;
    const auto each_ground_face = [&](const auto& body) {
      for (const int face : site.boundary) {
        if (site.kind[static_cast<std::size_t>(face)] == FaceKind::ground) {
          body(static_cast<std::size_t>(face) * lanes + l,
               static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]) * lanes + l);
        }
      }
    };
    each_ground_face([&](std::size_t f, std::size_t /*a*/) { ground_m2 += w.face_area_m2[f]; });
    each_ground_face([&](std::size_t f, std::size_t a) {
      add(a, f, in_lane(site.site, l)->fan_kg_s * w.face_area_m2[f] / ground_m2);
    });
  }
}

template <int lanes, class Solver>
void flow(const LaneSite<lanes>& site, Solver& solver, LaneWorkspace<lanes>& w) {
  terms(site, w);
  std::fill(w.flow_source.begin(), w.flow_source.end(), 0.0);
  blow(site, w, [&](std::size_t a, std::size_t /*f*/, double kg_s) { w.flow_source[a] += kg_s; });
  solver.solve(w.flow_conductance, w.flow_drive, w.flow_source, w.air_flow_kg_s);
  // What the fan blows in comes through the base: book it on the ground faces as inflow.
  blow(site, w, [&](std::size_t /*a*/, std::size_t f, double kg_s) { w.air_flow_kg_s[f] -= kg_s; });
}

} // namespace

void air_flow(const LaneSite<1>& site, engine::PotentialFlow<1>& solver, LaneWorkspace<1>& w) {
  flow(site, solver, w);
}
void air_flow(const LaneSite<run_lanes>& site, engine::PotentialFlow<run_lanes>& solver,
              LaneWorkspace<run_lanes>& w) {
  flow(site, solver, w);
}

} // namespace heapcast::models
