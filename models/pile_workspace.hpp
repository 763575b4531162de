#pragma once

#include "engine/lanes.hpp"
#include "engine/mesh.hpp"
#include "models/coefficients.hpp"
#include "models/pile.hpp"
#include "models/pile_state.hpp"
#include "models/surface/forcing.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <type_traits>
#include <vector>

namespace heapcast::models {

/// How one kind of boundary lets things pass; from the cover, the walls and the lid.
struct Shield {
  double resistance_m2K_W = 0.0; ///< beside the film
  double open_share = 1.0;       ///< share of the area without `closed_resistance`
  double closed_resistance_m2K_W = 0.0;
  double rain_share = 1.0;
  double sun_share = 1.0;
  double sky_share = 1.0; ///< sees the sky, else air temperature
  double vapour_share = 1.0;
  double gas_share = 1.0; ///< of the open surface's conductance for air
};

/// What a run reads and never writes: geometry, parameters, weather.
struct PileSite {
  const PileDescription* pile = nullptr;
  engine::Mesh mesh;
  Coefficients coefficients;
  ForcingSeries forcing;
  bool container = false;
  double rain_share = 0.6; ///< of the rain on the plan area that soaks in, by shape
  double fan_kg_s = 0.0;   ///< dry air through the base while the fan is on

  // from the mesh, computed once
  std::vector<int> face_start, face_list; ///< faces of cell i: face_list[face_start[i]..[i+1])
  std::vector<double> drain_share;        ///< per face: share of the upper cell's drainage
  std::vector<int> drain_from;            ///< per face: the upper cell, -1 if none
  std::vector<std::size_t> boundary;      ///< faces without a second cell
  std::vector<std::size_t> inner;         ///< faces with one

  PileSite(const PileDescription& description, engine::Mesh built);
};

/// Runs that advance side by side in an ensemble.
inline constexpr int run_lanes = 8;

/// One value a lane; with one lane the value itself.
template <class T, int lanes>
using PerLane = std::conditional_t<lanes == 1, T, std::array<T, static_cast<std::size_t>(lanes)>>;

template <class T> HEAPCAST_INLINE inline T& in_lane(T& value, int /*lane*/) {
  return value;
}
template <class T, std::size_t n> HEAPCAST_INLINE inline T& in_lane(std::array<T, n>& a, int lane) {
  return a[static_cast<std::size_t>(lane)];
}
template <class T, std::size_t n>
HEAPCAST_INLINE inline const T& in_lane(const std::array<T, n>& a, int lane) {
  return a[static_cast<std::size_t>(lane)];
}

/// The sites of the runs that lie side by side: one topology, each lane its own geometry and
/// coefficients. Arrays are [cell][lane] and [face][lane].
template <int lanes> struct LaneSite {
  /// All lanes filled from one site.
  explicit LaneSite(const PileSite& site);
  /// Whether a pile's mesh has the same topology.
  [[nodiscard]] bool fits(const PileSite& other) const;
  /// Puts another pile into a lane. Throws std::logic_error when it does not fit.
  void put(int lane, const PileSite& site);

  [[nodiscard]] std::size_t cells() const { return cell_count; }
  [[nodiscard]] std::size_t faces() const { return cell_a.size(); }

  std::size_t cell_count = 0;
  std::vector<int> cell_a, cell_b; ///< per face, once for all lanes
  std::vector<engine::FaceKind> kind;
  std::vector<int> inner, boundary;       ///< faces with and without a second cell
  std::vector<int> inner_a, inner_b;      ///< cells of the inner faces
  std::vector<int> ground, wall, surface; ///< faces of the boundary by kind
  std::vector<int> drain_from;
  bool round = false;

  std::vector<double> depth_m;
  std::vector<double> area_x_m2, area_z_m2, distance_x_m, rise_m, plan_area_m2, drain_share;

  LaneCoefficients<lanes> coefficients;
  PerLane<const PileSite*, lanes> site; ///< what does not fit an array
  PerLane<double, lanes> pressure_Pa, total_volume_m3, plan_area_total_m2, ground_scale;
};

/// body(face, a, b, lane) for the entries of every inner face and of its two cells. The calls must
/// not depend on each other: what they write is the face's own.
template <int lanes, class Body>
HEAPCAST_INLINE inline void each_inner_face(const LaneSite<lanes>& site, const Body& body) {
  const std::size_t inner = site.inner.size();
  HEAPCAST_INDEPENDENT
  for (std::size_t j = 0; j < inner; ++j) {
    engine::each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      body(static_cast<std::size_t>(site.inner[j]) * lanes + l,
           static_cast<std::size_t>(site.inner_a[j]) * lanes + l,
           static_cast<std::size_t>(site.inner_b[j]) * lanes + l, l);
    });
  }
}

/// The same one after the other, for what is added to cells.
template <int lanes, class Body>
HEAPCAST_INLINE inline void inner_faces_in_turn(const LaneSite<lanes>& site, const Body& body) {
  const std::size_t inner = site.inner.size();
  for (std::size_t j = 0; j < inner; ++j) {
    engine::each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      body(static_cast<std::size_t>(site.inner[j]) * lanes + l,
           static_cast<std::size_t>(site.inner_a[j]) * lanes + l,
           static_cast<std::size_t>(site.inner_b[j]) * lanes + l, l);
    });
  }
}

/// body(face, a, lane) for the entries of every one of these faces of the boundary and of its cell.
/// The calls must not depend on each other: what they write is the face's own.
template <int lanes, class Body>
HEAPCAST_INLINE inline void each_outer_face(const LaneSite<lanes>& site,
                                            const std::vector<int>& faces, const Body& body) {
  const std::size_t count = faces.size();
  HEAPCAST_INDEPENDENT
  for (std::size_t j = 0; j < count; ++j) {
    const auto face = static_cast<std::size_t>(faces[j]);
    const auto cell = static_cast<std::size_t>(site.cell_a[face]);
    engine::each_lane<lanes>([&](int l)
                                 HEAPCAST_INLINE { body(face * lanes + l, cell * lanes + l, l); });
  }
}

/// Everything a rate evaluation computes on the way, one array per quantity.
template <int lanes> struct LaneWorkspace {
  explicit LaneWorkspace(const engine::Mesh& mesh);

  PerLane<double, lanes> t_s{};
  PerLane<double, lanes> lumps_since_s{}; ///< time for which the state holds the lumps
  PerLane<Forcing, lanes> forcing{};
  PerLane<engine::MeshScale, lanes>
      scale; ///< `plan` changes at events, `height` follows the volume
  PerLane<double, lanes> volume_m3{}, wet_mass_kg{};
  PerLane<double, lanes> load_Pa_m{}; ///< overburden per metre of depth at unit scale
  PerLane<bool, lanes> fan_on{};
  PerLane<Shield, lanes> surface, wall; ///< as covered now
  PerLane<double, lanes> snow_kg_m2{};

  // per cell: matter and structure
  std::vector<double> carbon_kgC, degradable_kgC, dry_kg, volume_m3_cell, temperature_K, liquid_kg,
      moisture, water_ratio, load_factor, free_air_space, permeability_m2, conductivity_W_mK;
  // per cell: pore air
  std::vector<double> vapour_slope_J_m3K; ///< latent heat of pore vapour per kelvin
  std::vector<double> air_slope_J_kgK;    ///< enthalpy of the pore air per kelvin and kg dry air
  std::vector<double> vapour_density, humidity, dry_air_density, gas_density, viscosity_Pa_s,
      relative_diffusivity;       ///< of a gas with D0 = 1 m2/s at 0 degC
  std::vector<double> mobility_s; ///< dry air density times permeability over viscosity
  std::vector<double> oxygen, oxygen_before, oxygen_half, oxygen_demand_mol_s, oxygen_factor,
      pore_air_mol;
  std::vector<double> oxygen_slope_1_s;   ///< over the last step
  PerLane<double, lanes> oxygen_step_s{}; ///< length of that step; 0 after an event
  // per cell: biology
  std::vector<double> fast_potential, medium_potential, slow_potential, resistant_potential,
      decay_kgC_s, growth_yield, nitrification_potential, ph, temperature_factor, moisture_factor,
      nitrogen_factor, nitrogen_per_carbon, unlimited_factor;
  std::vector<double> ammonia_water_kgN_m3, ammonia_gas_kgN_m3; ///< NH3 dissolved and in the gas
  std::vector<double> ammonia_gas_per_kg_1_m3;                  ///< of the cell's ammonium
  // per cell, set at events
  std::vector<double> flow_size_m, particle_factor;
  // per face
  std::vector<double> transmissibility_m, face_area_m2, flow_conductance, flow_drive, air_flow_kg_s;
  std::vector<double> flow_source;
  std::vector<double> ammonia_conductance_m3_s; ///< by face; at the boundary with the flow out
  std::vector<double> drained_kg_s;
  /// By face, at the boundary: what flows out, and d heat out / d temperature of the cell.
  std::vector<double> boundary_heat_W, boundary_vapour_kg_s, boundary_slope_W_K;
  std::vector<double> boundary_latent_slope_W_K; ///< of that the heat of vapour
  std::vector<double> boundary_snow_W;           ///< heat that reaches snow on the face
  // scratch: what a cell gives to a sum, what crosses a face
  std::vector<double> cell_scratch[4], face_scratch[4];
};

using Workspace = LaneWorkspace<1>;

/// Where a process adds its rates: per cell field, and totals.
template <int lanes> struct LaneRates {
  const engine::FieldLayout& layout;
  std::span<double> dydt;
  [[nodiscard]] double* field(CellField f) const {
    return dydt.data() + lanes * layout.field(static_cast<std::size_t>(f));
  }
  /// One entry a lane.
  [[nodiscard]] double* totals(Total t) const {
    return dydt.data() + lanes * layout.total(static_cast<std::size_t>(t));
  }
  [[nodiscard]] double& total(Total t) const { return *totals(t); }
};
using Rates = LaneRates<1>;

/// Adds what every cell gives to the sum of its lane.
template <int lanes>
HEAPCAST_INLINE inline void add_cells(std::size_t cells, const std::vector<double>& value,
                                      double* sum) {
  for (std::size_t c = 0; c < cells; ++c) {
    engine::each_lane<lanes>(
        [&](int l) HEAPCAST_INLINE { sum[l] += value[c * lanes + static_cast<std::size_t>(l)]; });
  }
}

/// Read access to the integrated part of a state and the held fields beside it.
template <int lanes> struct LaneStateView {
  const engine::FieldLayout& layout;
  const double* integrated; ///< integrated fields and totals
  const double* whole;      ///< the state the held fields are read from
  [[nodiscard]] const double* field(CellField f) const {
    const auto i = static_cast<std::size_t>(f);
    return (i < integrated_fields ? integrated : whole) + lanes * layout.field(i);
  }
  [[nodiscard]] const double* totals(Total t) const {
    return integrated + lanes * layout.total(static_cast<std::size_t>(t));
  }
};
using StateView = LaneStateView<1>;

} // namespace heapcast::models
