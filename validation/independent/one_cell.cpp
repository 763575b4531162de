// Runs piles of one well-mixed cell and prints as JSON what a second implementation needs to repeat
// them (composition after mixing, geometry, weather, parameters, what is done when) and what came
// out, hour by hour. All piles, materials and weather are invented.
//
//   one_cell NAME [DAYS]     one pile
//   one_cell                 the names

#include "models/parameters.hpp"
#include "models/pile_run.hpp"
#include "tests/models/pile_fixture.hpp"

#include <nlohmann/json.hpp>

#include <array>
#include <cstdio>
#include <exception>
#include <functional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace {

using namespace heapcast;
using namespace heapcast::models;
using nlohmann::json;

constexpr std::array cell_names{"fast",          "medium",        "slow",
                                "resistant",     "humus",         "biomass",
                                "water",         "enthalpy",      "organic_n",
                                "tan",           "nitrate",       "settling",
                                "ash",           "loose_volume",  "start_dry",
                                "start_fast",    "grain_volume",  "vs_per_c",
                                "water_holding", "log_flow_size", "log_particle_size",
                                "start_ph",      "free_ammonia",  "settling_limit",
                                "lump_fast",     "lump_medium",   "lump_slow"};
static_assert(cell_names.size() == static_cast<std::size_t>(CellField::log_survivors));

constexpr std::array total_names{
    "co2_c",       "ch4_c", "nh3_n",           "n2o_n",     "n2_n",      "leachate_n", "leachate",
    "evaporation", "rain",  "metabolic_water", "heat_made", "heat_lost", "snow"};
static_assert(total_names.size() == total_count);

struct Case {
  std::string name;
  std::string words;
  std::function<PileDescription(double)> pile;
};

std::vector<Case> cases() {
  using namespace heapcast::tests;
  std::vector<Case> all;
  all.push_back({"plain", "2.5 m3 of grass, horse manure and straw in mild dry weather, untouched",
                 [](double days) { return lumped_heap(days); }});
  all.push_back({"wet_cold", "wet materials, rain, frost and snow", [](double days) {
                   PileDescription p = lumped_heap(
                       days, {.mean_C = 1.0, .slow_swing_K = 8.0, .shower_kg_m2_h = 2.0});
                   p.ingredients = {ingredient(grass(), 500.0), ingredient(horse_manure(), 700.0),
                                    ingredient(straw(), 60.0)};
                   return p;
                 }});
  all.push_back({"turned", "the plain pile in showers, turned with a loader every two weeks",
                 [](double days) {
                   PileDescription p = lumped_heap(days, {.shower_kg_m2_h = 2.0});
                   p.turning = turning(TurnMethod::loader, 14.0, 14.0);
                   return p;
                 }});
  all.push_back({"small_dry", "a fifth of a cubic metre, mostly straw", [](double days) {
                   PileDescription p = lumped_heap(days, {.mean_C = 20.0, .sun_W_m2 = 600.0});
                   p.ingredients = {ingredient(grass(), 16.0), ingredient(straw(), 14.0)};
                   return p;
                 }});
  all.push_back({"frozen", "built in hard frost, thaws by itself", [](double days) {
                   PileDescription p = lumped_heap(
                       days, {.mean_C = -6.0, .slow_swing_K = 6.0, .shower_kg_m2_h = 1.0});
                   p.build_temperature_K = freezing_K - 0.4;
                   p.ingredients = {ingredient(grass(), 500.0), ingredient(horse_manure(), 900.0),
                                    ingredient(straw(), 120.0)};
                   return p;
                 }});
  all.push_back(
      {"hot_pipes", "rich and open, on pipes that let air rise through it", [](double days) {
         PileDescription p = lumped_heap(days);
         p.aeration.pipes = true;
         p.ingredients = {ingredient(grass(), 1400.0), ingredient(horse_manure(), 1500.0),
                          ingredient(straw(), 350.0)};
         return p;
       }});
  all.push_back({"soaked", "a pile in the rain until it drains, forked and watered every ten days",
                 [](double days) {
                   PileDescription p = lumped_heap(days, {.mean_C = 12.0,
                                                          .slow_swing_K = 4.0,
                                                          .shower_kg_m2_h = 8.0,
                                                          .shower_every_h = 72,
                                                          .shower_hours = 10});
                   p.turning = turning(TurnMethod::fork, 10.0, 10.0);
                   p.turning->water_to_moisture = 0.80;
                   return p;
                 }});
  return all;
}

json schedule_of(const PileDescription& pile) {
  if (!pile.turning) {
    return nullptr;
  }
  return {{"method", pile.turning->method == TurnMethod::fork     ? "fork"
                     : pile.turning->method == TurnMethod::loader ? "loader"
                                                                  : "windrow_turner"},
          {"water_to_moisture", pile.turning->water_to_moisture}, // null: none
          {"every_days", pile.turning->schedule.every_days},
          {"from_day", pile.turning->schedule.from_day}};
}

json geometry_of(const engine::Mesh& mesh) {
  json faces = json::array();
  constexpr std::array kinds{"inner", "surface", "wall", "ground"};
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    faces.push_back({{"kind", kinds.at(static_cast<std::size_t>(mesh.kind[f]))},
                     {"area_m2", mesh.area_m2(f, {})},
                     {"area_x_m2", mesh.area_x_m2[f]},
                     {"area_z_m2", mesh.area_z_m2[f]},
                     {"distance_x_m", mesh.distance_x_m[f]},
                     {"rise_m", mesh.rise_m[f]},
                     {"transmissibility_m", mesh.transmissibility_m(f, {})},
                     {"plan_area_m2", mesh.plan_area_m2[f]}});
  }
  return {{"volume_m3", mesh.volume_m3[0]},
          {"height_m", mesh.height_m},
          {"z_m", mesh.z_m[0]},
          {"depth_m", mesh.depth_m[0]},
          {"round", mesh.round},
          {"plan_area_m2", mesh.plan_area_total_m2},
          {"faces", faces}};
}

json weather_of(const Weather& w) {
  return {{"air_temperature_K", w.air_temperature_K},
          {"vapour_pressure_Pa", w.vapour_pressure_Pa},
          {"wind_m_s", w.wind_m_s},
          {"global_radiation_W_m2", w.global_radiation_W_m2},
          {"sky_temperature_K", w.sky_temperature_K},
          {"rain_kg_m2_h", w.rain_kg_m2_h},
          {"soil_temperature_K", w.soil_temperature_K},
          {"elevation_m", w.elevation_m}};
}

json parameters_of(const ParameterSet& set) {
  json all;
  for (std::size_t i = 0; i < parameter_count; ++i) {
    all[std::string(parameter_table()[i].name)] = set.si(static_cast<Parameter>(i));
  }
  return all;
}

json ingredients_of(const PileDescription& pile) {
  json all = json::array();
  for (const Ingredient& i : pile.ingredients) {
    const Material& m = i.material;
    all.push_back({{"name", m.name},
                   {"wet_mass_kg", i.wet_mass_kg},
                   {"moisture", m.moisture_wet_basis},
                   {"vs", m.volatile_solids_dry_basis},
                   {"carbon", m.carbon_dry_basis},
                   {"nitrogen", m.nitrogen_dry_basis},
                   {"fast", m.fast_fraction},
                   {"medium", m.medium_fraction},
                   {"slow", m.slow_fraction},
                   {"resistant", m.resistant_fraction},
                   {"humus", m.humus_fraction},
                   {"bulk_density_wet_kg_m3", m.bulk_density_wet_kg_m3},
                   {"water_holding", m.water_holding_kgW_kgDM},
                   {"flow_size_m", m.flow_size_m},
                   {"chop_size_m", m.chop_size_m},
                   {"ph", m.ph},
                   {"active_biomass", m.active_biomass_fraction},
                   {"ammoniacal", m.ammoniacal_fraction},
                   {"free_ammonia", m.free_ammonia_share},
                   {"settling", m.settling_fraction}});
  }
  return all;
}

/// The state by name, with what follows from it.
json snapshot(PileRun& run) {
  const PileState& s = run.state();
  const Workspace& w = run.system().workspace();
  json row;
  for (std::size_t i = 0; i < cell_names.size(); ++i) {
    row[cell_names.at(i)] = s.field(static_cast<CellField>(i))[0];
  }
  for (std::size_t i = 0; i < total_names.size(); ++i) {
    row[std::string("total_") + total_names.at(i)] = s.total(static_cast<Total>(i));
  }
  row["temperature_K"] = w.temperature_K[0];
  row["oxygen"] = w.oxygen_before[0];
  row["volume_m3"] = w.volume_m3;
  row["free_air_space"] = w.free_air_space[0];
  row["ph"] = w.ph[0];
  row["air_flow_kg_s"] = w.air_flow_kg_s;
  return row;
}

json run_case(const Case& wanted, double days) {
  const PileDescription pile = wanted.pile(days);
  PileRun run(pile);
  json out{{"name", wanted.name},
           {"words", wanted.words},
           {"days", days},
           {"turning", schedule_of(pile)},
           {"pipes", pile.aeration.pipes},
           {"build_temperature_K", pile.build_temperature_K},
           {"ingredients", ingredients_of(pile)},
           {"geometry", geometry_of(run.site().mesh)},
           {"weather", weather_of(*pile.weather)},
           {"start_hour_in_weather", pile.start_hour_in_weather},
           {"rain_share", run.site().rain_share},
           {"parameters_si", parameters_of(pile.parameters)},
           {"start", snapshot(run)}};
  json hours = json::array();
  const int count = static_cast<int>(24.0 * days);
  for (int hour = 1; hour <= count; ++hour) {
    run.do_events();
    run.advance_hour();
    hours.push_back(snapshot(run));
  }
  out["hours"] = std::move(hours);
  json events = json::array();
  for (const EventRecord& e : run.finish().events) {
    events.push_back({{"day", e.day}, {"kind", e.kind}, {"reason", e.reason}});
  }
  out["events"] = std::move(events);
  return out;
}

int print(int count, char** words) {
  const std::vector<std::string> given(words + 1, words + count);
  for (const Case& c : cases()) {
    if (given.empty()) {
      std::puts(c.name.c_str());
    } else if (c.name == given[0]) {
      const double days = given.size() > 1 ? std::stod(given[1]) : 60.0;
      std::puts(run_case(c, days).dump().c_str());
      return 0;
    }
  }
  if (!given.empty()) {
    throw std::invalid_argument("no pile of the name " + given[0]);
  }
  return 0;
}

} // namespace

int main(int count, char** words) {
  try {
    return print(count, words);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "one_cell: %s\n", e.what());
    return 1;
  }
}
