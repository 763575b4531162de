#pragma once

#include "engine/field_layout.hpp"
#include "models/properties/inactivation.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// Cell fields of the state. Up to `settling` they are integrated; the rest changes at events only,
/// and the survivors after each step.
enum class CellField : std::size_t {
  fast,                ///< kg C
  medium,              ///< kg C
  slow,                ///< kg C
  resistant,           ///< kg C
  humus,               ///< kg C
  biomass,             ///< kg C, alive
  water,               ///< kg, liquid and ice
  enthalpy,            ///< J above solids and liquid water at 0 degC
  organic_nitrogen,    ///< kg N, biomass included
  ammonium_nitrogen,   ///< kg N, total ammoniacal
  nitrate_nitrogen,    ///< kg N
  settling,            ///< share of the volume settled away, 0..1
  ash,                 ///< kg
  loose_volume,        ///< m3 at the build, unsettled
  start_dry,           ///< kg dry matter at the build
  start_fast,          ///< kg C in the fast pool at the build
  grain_volume,        ///< m3 of solids and water together, at the build
  volatile_per_carbon, ///< kg volatile solids per kg C
  water_holding,       ///< kg water per kg dry matter
  log_flow_size,       ///< ln of d_e in m at the build; lots mix by surface, see parcel.hpp
  log_particle_size,   ///< ln of the particle length in m
  start_ph,
  free_ammonia,   ///< share of TAN not sorbed
  settling_limit, ///< share of the volume that settling can take
  lump_fast,     ///< kg C of the fast pool in lumps that air and microbes do not reach, at the last
                 ///< event; they open with time, see lumps_left
  lump_medium,   ///< the same of the medium pool
  lump_slow,     ///< the same of the slow pool
  log_survivors, ///< ln of the surviving share; first of organism_count fields
  heated = log_survivors + organism_count, ///< share of the dry matter, see HeatedMaterial
  count
};

inline constexpr std::size_t integrated_fields = static_cast<std::size_t>(CellField::ash);
inline constexpr std::size_t cell_fields = static_cast<std::size_t>(CellField::count);

/// Totals of the whole pile, integrated with the cells so that balances close to rounding.
enum class Total : std::size_t {
  carbon_dioxide_carbon,  ///< kg C out
  methane_carbon,         ///< kg C out
  ammonia_nitrogen,       ///< kg N out with the air
  nitrous_oxide_nitrogen, ///< kg N out
  dinitrogen_nitrogen,    ///< kg N out
  leachate_nitrogen,      ///< kg N out
  leachate,               ///< kg water out at the base
  evaporation,            ///< kg water out with the air, less what it brought
  rain,                   ///< kg water in
  metabolic_water,        ///< kg water made
  heat_made,              ///< J
  heat_lost,              ///< J through all boundaries, less what they brought
  snow,                   ///< kg water lying on the pile as snow (not part of it)
  count
};

inline constexpr std::size_t total_count = static_cast<std::size_t>(Total::count);

[[nodiscard]] engine::FieldLayout pile_layout(std::size_t cells);

/// One pile's state: a layout and one contiguous array.
struct PileState {
  engine::FieldLayout layout;
  std::vector<double> y;

  explicit PileState(std::size_t cells) : layout(pile_layout(cells)), y(layout.size(), 0.0) {}

  [[nodiscard]] double* field(CellField f) {
    return y.data() + layout.field(static_cast<std::size_t>(f));
  }
  [[nodiscard]] const double* field(CellField f) const {
    return y.data() + layout.field(static_cast<std::size_t>(f));
  }
  [[nodiscard]] double* survivors(std::size_t organism) {
    return y.data() + layout.field(static_cast<std::size_t>(CellField::log_survivors) + organism);
  }
  [[nodiscard]] const double* survivors(std::size_t organism) const {
    return y.data() + layout.field(static_cast<std::size_t>(CellField::log_survivors) + organism);
  }
  [[nodiscard]] std::span<double> of_cells(CellField f) { return {field(f), layout.cells()}; }
  [[nodiscard]] std::span<const double> of_cells(CellField f) const {
    return {field(f), layout.cells()};
  }
  [[nodiscard]] double& total(Total t) { return y[layout.total(static_cast<std::size_t>(t))]; }
  [[nodiscard]] double total(Total t) const { return y[layout.total(static_cast<std::size_t>(t))]; }
  [[nodiscard]] double sum(CellField f) const;
};

} // namespace heapcast::models
