#include "models/pile_state.hpp"

#include <numeric>

namespace heapcast::models {

namespace {

constexpr std::array<std::string_view, integrated_fields> integrated_names = {"fast",
                                                                              "medium",
                                                                              "slow",
                                                                              "resistant",
                                                                              "humus",
                                                                              "biomass",
                                                                              "water",
                                                                              "enthalpy",
                                                                              "organic_nitrogen",
                                                                              "ammonium_nitrogen",
                                                                              "nitrate_nitrogen",
                                                                              "settling"};

constexpr std::array<std::string_view, total_count> total_names = {"carbon_dioxide_carbon",
                                                                   "methane_carbon",
                                                                   "ammonia_nitrogen",
                                                                   "nitrous_oxide_nitrogen",
                                                                   "dinitrogen_nitrogen",
                                                                   "leachate_nitrogen",
                                                                   "leachate",
                                                                   "evaporation",
                                                                   "rain",
                                                                   "metabolic_water",
                                                                   "heat_made",
                                                                   "heat_lost",
                                                                   "snow"};

constexpr std::array<std::string_view, cell_fields - integrated_fields> held_names = {
    "ash",
    "loose_volume",
    "start_dry",
    "start_fast",
    "grain_volume",
    "volatile_per_carbon",
    "water_holding",
    "log_flow_size",
    "log_particle_size",
    "start_ph",
    "free_ammonia",
    "settling_limit",
    "lump_fast",
    "lump_medium",
    "lump_slow",
    "log_survivors_0",
    "log_survivors_1",
    "log_survivors_2",
    "log_survivors_3",
    "log_survivors_4",
    "log_survivors_5",
    "log_survivors_6",
    "heated"};

} // namespace

engine::FieldLayout pile_layout(std::size_t cells) {
  return {integrated_names, total_names, held_names, cells};
}

double PileState::sum(CellField f) const {
  const double* p = field(f);
  return std::accumulate(p, p + layout.cells(), 0.0);
}

} // namespace heapcast::models
