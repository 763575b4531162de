#pragma once

#include "engine/mesh.hpp"
#include "models/coefficients.hpp"
#include "models/pile.hpp"
#include "models/pile_state.hpp"
#include "models/surface/forcing.hpp"

#include <cstddef>
#include <span>
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

/// Everything a rate evaluation computes on the way, one array per quantity.
struct Workspace {
  explicit Workspace(const engine::Mesh& mesh);

  double t_s = 0.0;
  double lumps_since_s = 0.0; ///< time for which the state holds the lumps
  Forcing forcing{};
  engine::MeshScale scale; ///< `plan` changes at events, `height` follows the volume
  double volume_m3 = 0.0, wet_mass_kg = 0.0;
  double load_Pa_m = 0.0; ///< overburden per metre of depth at unit scale
  bool fan_on = false;
  Shield surface, wall; ///< as covered now
  double snow_kg_m2 = 0.0;

  // per cell: matter and structure
  std::vector<double> carbon_kgC, degradable_kgC, dry_kg, volume_m3_cell, temperature_K, liquid_kg,
      moisture, water_ratio, load_factor, free_air_space, permeability_m2, conductivity_W_mK;
  // per cell: pore air
  std::vector<double> vapour_slope_J_m3K; ///< latent heat of pore vapour per kelvin
  std::vector<double> air_slope_J_kgK;    ///< enthalpy of the pore air per kelvin and kg dry air
  std::vector<double> vapour_density, humidity, dry_air_density, gas_density, viscosity_Pa_s,
      relative_diffusivity; ///< of a gas with D0 = 1 m2/s at 0 degC
  std::vector<double> oxygen, oxygen_before, oxygen_half, oxygen_demand_mol_s, oxygen_factor,
      pore_air_mol;
  std::vector<double> oxygen_slope_1_s; ///< over the last step
  double oxygen_step_s = 0.0;           ///< length of that step; 0 after an event
  // per cell: biology
  std::vector<double> fast_potential, medium_potential, slow_potential, resistant_potential,
      decay_kgC_s, growth_yield, nitrification_potential, ph, temperature_factor, moisture_factor,
      nitrogen_factor, nitrogen_per_carbon, unlimited_factor;
  std::vector<double> ammonia_gas_kgN_m3;
  // per cell, set at events
  std::vector<double> flow_size_m, particle_factor;
  // per face
  std::vector<double> transmissibility_m, flow_conductance, flow_drive, air_flow_kg_s;
  std::vector<double> flow_source;
  std::vector<double> drained_kg_s;
};

/// Where a process adds its rates: per cell field, and totals.
struct Rates {
  const engine::FieldLayout& layout;
  std::span<double> dydt;
  [[nodiscard]] double* field(CellField f) const {
    return dydt.data() + layout.field(static_cast<std::size_t>(f));
  }
  [[nodiscard]] double& total(Total t) const {
    return dydt[layout.total(static_cast<std::size_t>(t))];
  }
};

/// Read access to the integrated part of a state and the held fields beside it.
struct StateView {
  const engine::FieldLayout& layout;
  const double* integrated; ///< integrated fields and totals
  const double* whole;      ///< the state the held fields are read from
  [[nodiscard]] const double* field(CellField f) const {
    const auto i = static_cast<std::size_t>(f);
    return (i < integrated_fields ? integrated : whole) + layout.field(i);
  }
  [[nodiscard]] double total(Total t) const {
    return integrated[layout.total(static_cast<std::size_t>(t))];
  }
};

} // namespace heapcast::models
