#include "models/pile_run.hpp"

#include "engine/errors.hpp"
#include "models/operations/build.hpp"
#include "models/processes/decomposition_law.hpp"
#include "models/processes/heat_and_vapour.hpp"
#include "models/properties/growth.hpp"
#include "models/properties/moist_air.hpp"
#include "models/readiness/respiration.hpp"
#include "models/readiness/stability_tests.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numeric>
#include <string_view>
#include <utility>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr double longest_forkable_m = 0.4;  ///< common practice, no source
constexpr double long_share_refused = 0.15; ///< of the dry matter

engine::Mesh mesh_of(const PileDescription& pile) {
  const double volume = ingredients_volume_m3(pile);
  return build_mesh(complete_shape(pile.shape, volume), volume, pile.resolution);
}

double build_temperature(const PileDescription& pile) {
  if (!std::isnan(pile.build_temperature_K)) {
    return pile.build_temperature_K;
  }
  return ForcingSeries(*pile.weather, pile.start_hour_in_weather).at(0.0).air_temperature_K;
}

PileState filled(const PileDescription& pile, const PileSite& site) {
  PileState state(site.mesh.cells());
  fill_pile(pile, site.mesh, site.coefficients, build_temperature(pile), state);
  if (!std::isnan(pile.build_water_to_moisture)) {
    (void)water_to_moisture(pile.build_water_to_moisture,
                            std::max(build_temperature(pile), freezing_K + 4.0), state);
  }
  return state;
}

/// Hour of the day and weekday of the build from "YYYY-MM-DDThh:mm".
struct ClockStart {
  double hour;
  int weekday; ///< 0 Monday
};
ClockStart clock_start(const std::string& start) {
  constexpr std::string_view form = "dddd-dd-ddTdd:dd";
  const auto fits = [](char has, char wanted) {
    return wanted == 'd' ? has >= '0' && has <= '9' : has == wanted;
  };
  if (!std::ranges::equal(start, form, fits)) {
    throw InputError("start", fmt::format("\"{}\" is no time of the build", start),
                     "write it as \"2025-03-01T09:00\"");
  }
  const int year = std::stoi(start.substr(0, 4));
  const int month = std::stoi(start.substr(5, 2));
  const int day = std::stoi(start.substr(8, 2));
  const double hour = std::stod(start.substr(11, 2));
  const std::chrono::sys_days date{std::chrono::year{year} / month / day};
  return {hour, static_cast<int>(std::chrono::weekday{date}.iso_encoding()) - 1};
}

double weighted_mean(const std::vector<double>& value, const std::vector<double>& weight) {
  double sum = 0.0;
  double total = 0.0;
  for (std::size_t i = 0; i < value.size(); ++i) {
    sum += weight[i] * value[i];
    total += weight[i];
  }
  return sum / total;
}

double mean_over(const std::vector<std::size_t>& cells, const std::vector<double>& value,
                 const std::vector<double>& weight) {
  double sum = 0.0;
  double total = 0.0;
  for (const std::size_t i : cells) {
    sum += weight[i] * value[i];
    total += weight[i];
  }
  return sum / total;
}

/// Curves of a run: name, unit, meaning. Filled in `PileRun::record`, in this order.
struct SeriesRow {
  const char* name;
  const char* unit;
  const char* long_name;
};
constexpr SeriesRow series_rows[] = {
    {"core_temperature", "degC", "temperature of the inner third by depth"},
    {"mean_temperature", "degC", "mean temperature of the pile"},
    {"skin_temperature", "degC", "mean temperature of the outermost layer"},
    {"max_temperature", "degC", "temperature of the hottest cell"},
    {"air_temperature", "degC", "air temperature"},
    {"moisture_wet_basis", "%", "water in the wet mass"},
    {"core_oxygen", "%", "oxygen in the pore gas of the inner third, dry volume"},
    {"free_air_space", "%", "air in the pile's volume"},
    {"fast_carbon", "kg", "carbon in the fast and medium pools"},
    {"slow_carbon", "kg", "carbon in the slow pool"},
    {"resistant_carbon", "kg", "carbon in the resistant pool"},
    {"humus_carbon", "kg", "carbon in humus"},
    {"biomass_carbon", "kg", "carbon in living microbes"},
    {"organic_nitrogen", "kg", "organic nitrogen"},
    {"ammonium_nitrogen", "kg", "ammoniacal nitrogen"},
    {"nitrate_nitrogen", "kg", "nitrate nitrogen"},
    {"carbon_nitrogen_ratio", "1", "carbon over nitrogen by mass"},
    {"dry_mass", "kg", "dry mass"},
    {"water_mass", "kg", "water and ice"},
    {"volume", "m3", "volume of the pile"},
    {"height", "m", "height of the pile"},
    {"ph", "1", "mean pH"},
    {"oxygen_uptake_rate", "mmol kg-1 h-1",
     "oxygen uptake of the microbes now alive per organic matter, at 30 degC, unlimited"},
    {"air_flow", "m3 h-1", "air entering the pile"},
    {"frozen_share", "%", "ice in the water"},
    {"rain", "mm h-1", "precipitation"},
    {"snow_cover", "kg", "snow on the pile, as water"},
    {"cumulative_carbon_dioxide_carbon", "kg", "carbon lost as carbon dioxide"},
    {"cumulative_methane_carbon", "kg", "carbon lost as methane"},
    {"cumulative_ammonia_nitrogen", "kg", "nitrogen lost as ammonia"},
    {"cumulative_nitrous_oxide_nitrogen", "kg", "nitrogen lost as nitrous oxide"},
    {"cumulative_dinitrogen_nitrogen", "kg", "nitrogen lost as dinitrogen"},
    {"cumulative_leachate_nitrogen", "kg", "nitrogen lost with leachate"},
    {"cumulative_leachate", "kg", "water lost at the base"},
    {"cumulative_evaporation", "kg", "water lost to the air"},
    {"cumulative_rain", "kg", "rain and snowmelt that soaked in"},
    {"cumulative_water_added", "kg", "water added by hand"},
    {"heated_share", "%",
     "dry matter that has lain at 55 degC or more for 3 days in a row, wherever it lies now"},
};

constexpr SeriesRow field_rows[] = {
    {"temperature", "degC", "temperature"},
    {"moisture_wet_basis_field", "%", "water in the wet mass"},
    {"oxygen", "%", "oxygen in the pore gas, dry volume"},
    {"free_air_space_field", "%", "air in the volume"},
};

} // namespace

engine::StepControl PileRun::step_control() {
  return {.scheme = engine::Scheme::predictor_corrector,
          .first_step_s = 60.0,
          .largest_step_s = 3600.0,
          .smallest_step_s = 1e-3,
          .growth_after_event = 0.15};
}

PileRun::PileRun(const PileDescription& pile, const engine::StepControl& control)
    : PileRun(pile, mesh_of(pile), control) {}

PileRun::PileRun(const PileDescription& pile, engine::Mesh mesh, const engine::StepControl& control)
    : pile_(pile), site_(pile, std::move(mesh)), state_(filled(pile, site_)),
      system_(site_, state_), integrator_(system_, control), closure_(5, 0.0), labour_(pile.labour),
      hygiene_(pile, site_), heated_(site_.mesh.cells()), readiness_(pile, site_) {
  y_.assign(state_.y.begin(),
            state_.y.begin() + static_cast<std::ptrdiff_t>(state_.layout.integrated_size()));
  system_.after_event(0.0, 1.0, false);
  integrator_.restart(0.0);
  if (pile.turning) {
    turning_.emplace(pile.turning->schedule);
  }
  if (pile.watering) {
    watering_.emplace(pile.watering->schedule);
  }
  for (const Addition& a : pile.additions) {
    additions_.emplace_back(a.schedule);
    times_added_.push_back(0);
  }

  // The inner third by depth, and the cells under the open surface.
  std::vector<std::size_t> by_depth(site_.mesh.cells());
  std::iota(by_depth.begin(), by_depth.end(), 0U);
  std::stable_sort(by_depth.begin(), by_depth.end(), [&](std::size_t a, std::size_t b) {
    return site_.mesh.depth_m[a] > site_.mesh.depth_m[b];
  });
  double taken = 0.0;
  for (const std::size_t i : by_depth) {
    core_cells_.push_back(i);
    taken += site_.mesh.volume_m3[i];
    if (taken >= site_.mesh.total_volume_m3() / 3.0) {
      break;
    }
  }
  for (std::size_t f = 0; f < site_.mesh.faces(); ++f) {
    if (site_.mesh.kind[f] == engine::FaceKind::surface) {
      skin_cells_.push_back(static_cast<std::size_t>(site_.mesh.cell_a[f]));
    }
  }

  system_.evaluate(0.0, y_);
  if (!std::isnan(pile.build_water_to_moisture)) {
    double brought = 0.0;
    for (const Ingredient& i : pile.ingredients) {
      brought += i.wet_mass_kg * i.material.moisture_wet_basis;
    }
    constexpr double least_kg = 1e-6; // what rounding leaves is no watering
    const double added = state_.sum(F::water) - brought;
    if (added > least_kg) {
      water_added_kg_ = added;
      labour_.water(added, false);
      result_.events.push_back({0.0, "water", "wetted at the build", added, 0.0});
    }
  }
  const auto carbon = [&] {
    return state_.sum(F::fast) + state_.sum(F::medium) + state_.sum(F::slow) +
           state_.sum(F::resistant) + state_.sum(F::humus) + state_.sum(F::biomass);
  };
  first_carbon_kgC_ = carbon();
  first_nitrogen_kgN_ = state_.sum(F::organic_nitrogen) + state_.sum(F::ammonium_nitrogen) +
                        state_.sum(F::nitrate_nitrogen);
  first_volume_m3_ = system_.workspace().volume_m3;
  labour_.build(first_volume_m3_);
  water_ = engine::Balance(state_.sum(F::water));
  carbon_ = engine::Balance(first_carbon_kgC_);
  nitrogen_ = engine::Balance(first_nitrogen_kgN_);
  ash_ = engine::Balance(state_.sum(F::ash));
  energy_ = engine::Balance(state_.sum(F::enthalpy));

  for (const SeriesRow& row : series_rows) {
    result_.series.push_back({row.name, row.unit, row.long_name, {}});
  }
  for (const SeriesRow& row : field_rows) {
    result_.fields.push_back({row.name, row.unit, row.long_name, {}});
  }
  result_.cell_x_m = site_.mesh.x_m;
  result_.cell_z_m = site_.mesh.z_m;
  result_.cell_depth_m = site_.mesh.depth_m;
  result_.cell_volume_m3 = site_.mesh.volume_m3;
  for (std::size_t i = 0; i < site_.mesh.cells(); ++i) {
    result_.outlines.push_back({site_.mesh.outline_x_m[i], site_.mesh.outline_z_m[i]});
  }
  record();
  record_field();
  watch_readiness();
}

Readings PileRun::readings() const {
  const Workspace& w = system_.workspace();
  const std::vector<double>& volume = w.volume_m3_cell;
  double water = 0.0;
  double dry = 0.0;
  for (std::size_t i = 0; i < volume.size(); ++i) {
    water += y_[state_.layout.field(static_cast<std::size_t>(F::water)) + i];
    dry += w.dry_kg[i];
  }
  return {.core_temperature_K = mean_over(core_cells_, w.temperature_K, volume),
          .mean_temperature_K = weighted_mean(w.temperature_K, volume),
          .skin_temperature_K = mean_over(skin_cells_, w.temperature_K, volume),
          .max_temperature_K = *std::max_element(w.temperature_K.begin(), w.temperature_K.end()),
          .air_temperature_K = w.forcing.air_temperature_K,
          .moisture = water / (water + dry),
          .core_oxygen = mean_over(core_cells_, w.oxygen, volume)};
}

double PileRun::uptake_at_30() const {
  const Workspace& w = system_.workspace();
  const Coefficients& k = site_.coefficients;
  constexpr double temperature = freezing_K + 30.0;
  const double f_t = temperature_factor(k, temperature);
  const double sieved = particle_size_factor(
      {.particle_size_m = test_particle_size_m, .exponent = k.particle_exponent});
  const auto value = [&](F f, std::size_t i) {
    return y_[state_.layout.field(static_cast<std::size_t>(f)) + i];
  };
  double kgC_s = 0.0;
  double organic_kg = 0.0;
  for (std::size_t i = 0; i < w.carbon_kgC.size(); ++i) {
    const CarbonPools carbon{value(F::fast, i),      value(F::medium, i), value(F::slow, i),
                             value(F::resistant, i), value(F::humus, i),  value(F::biomass, i)};
    const double g = f_t * contois_factor(k, carbon);
    const double f_p = std::max(w.particle_factor[i], sieved);
    const CarbonFlows flow =
        carbon_flows(k, {.fast = k.fast_rate_1_s * g * carbon.fast,
                         .medium = k.medium_rate_1_s * g * f_p * carbon.medium,
                         .slow = k.slow_rate_1_s * g * f_p * carbon.slow,
                         .resistant = k.resistant_rate_1_s * f_t * carbon.resistant,
                         .decay = biomass_decay_kgC_s(k, carbon, temperature),
                         .growth_yield = k.biomass_yield,
                         .nitrogen_per_carbon = 0.0});
    kgC_s += flow.respired + flow.respired_decay;
    organic_kg += state_.field(F::volatile_per_carbon)[i] * w.carbon_kgC[i];
  }
  return Respiration::from_mol_kg_s(kgC_s / molar_mass_carbon_kg_mol / organic_kg).mmolO2_kg_h();
}

std::string PileRun::limiting() {
  const Workspace& w = system_.workspace();
  const Coefficients& k = site_.coefficients;
  const auto value = [&](F f, std::size_t i) {
    return y_[state_.layout.field(static_cast<std::size_t>(f)) + i];
  };
  const double closed = lumps_left(k, time_s_ - w.lumps_since_s);
  double food = 0.0;
  double cold = 0.0, hot = 0.0, dry = 0.0, air = 0.0, nitrogen = 0.0;
  for (std::size_t i = 0; i < w.carbon_kgC.size(); ++i) {
    const auto open = [&](F pool, F lump) {
      return std::max(value(pool, i) - closed * state_.field(lump)[i], 0.0);
    };
    const double pools = k.fast_rate_1_s * open(F::fast, F::lump_fast) +
                         k.medium_rate_1_s * open(F::medium, F::lump_medium) +
                         k.slow_rate_1_s * open(F::slow, F::lump_slow);
    food += pools;
    const double missing = 1.0 - w.temperature_factor[i];
    (w.temperature_K[i] < k.temperature_opt_K ? cold : hot) += pools * missing;
    dry += pools * (1.0 - w.moisture_factor[i]);
    air += pools * (1.0 - w.oxygen_factor[i]);
    nitrogen += pools * (1.0 - w.nitrogen_factor[i]);
  }
  best_food_kgC_s_ = std::max(best_food_kgC_s_, food);
  if (food < 0.1 * best_food_kgC_s_) {
    return "food";
  }
  const std::pair<double, const char*> losses[] = {
      {cold, "cold"}, {hot, "hot"}, {dry, "dry"}, {air, "airless"}, {nitrogen, "nitrogen"}};
  const auto worst =
      std::max_element(std::begin(losses), std::end(losses),
                       [](const auto& a, const auto& b) { return a.first < b.first; });
  return worst->first > 0.3 * food ? worst->second : "none";
}

void PileRun::record() {
  const long hour = std::lround(time_s_ / seconds_per_hour);
  if (std::fmod(static_cast<double>(hour), pile_.output_hours) != 0.0) {
    return;
  }
  const Workspace& w = system_.workspace();
  const Readings now = readings();
  const auto sum = [&](F f) {
    const auto first =
        y_.begin() + static_cast<std::ptrdiff_t>(state_.layout.field(static_cast<std::size_t>(f)));
    return std::accumulate(first, first + static_cast<std::ptrdiff_t>(state_.layout.cells()), 0.0);
  };
  const auto total = [&](Total t) { return y_[state_.layout.total(static_cast<std::size_t>(t))]; };
  const double carbon = std::accumulate(w.carbon_kgC.begin(), w.carbon_kgC.end(), 0.0);
  const double nitrogen =
      sum(F::organic_nitrogen) + sum(F::ammonium_nitrogen) + sum(F::nitrate_nitrogen);
  const double water = sum(F::water);
  const double liquid = std::accumulate(w.liquid_kg.begin(), w.liquid_kg.end(), 0.0);
  double inflow_m3_s = 0.0;
  for (const std::size_t f : site_.boundary) {
    inflow_m3_s += std::max(-w.air_flow_kg_s[f], 0.0) / w.forcing.air_density_kg_m3;
  }
  const double values[] = {
      now.core_temperature_K - freezing_K,
      now.mean_temperature_K - freezing_K,
      now.skin_temperature_K - freezing_K,
      now.max_temperature_K - freezing_K,
      now.air_temperature_K - freezing_K,
      100.0 * now.moisture,
      100.0 * now.core_oxygen,
      100.0 * weighted_mean(w.free_air_space, w.volume_m3_cell),
      sum(F::fast) + sum(F::medium),
      sum(F::slow),
      sum(F::resistant),
      sum(F::humus),
      sum(F::biomass),
      sum(F::organic_nitrogen),
      sum(F::ammonium_nitrogen),
      sum(F::nitrate_nitrogen),
      carbon / nitrogen,
      std::accumulate(w.dry_kg.begin(), w.dry_kg.end(), 0.0),
      water,
      w.volume_m3,
      site_.mesh.height_m * w.scale.height,
      weighted_mean(w.ph, w.dry_kg),
      uptake_at_30(),
      inflow_m3_s * seconds_per_hour,
      water > 0.0 ? 100.0 * (1.0 - liquid / water) : 0.0,
      (w.forcing.rain_kg_m2_s + w.forcing.snow_kg_m2_s) * seconds_per_hour,
      total(Total::snow),
      total(Total::carbon_dioxide_carbon),
      total(Total::methane_carbon),
      total(Total::ammonia_nitrogen) + turn_ammonia_kgN_,
      total(Total::nitrous_oxide_nitrogen),
      total(Total::dinitrogen_nitrogen),
      total(Total::leachate_nitrogen),
      total(Total::leachate),
      total(Total::evaporation) + turn_steam_kg_,
      total(Total::rain),
      water_added_kg_,
      100.0 * heated_fraction(),
  };
  static_assert(std::size(values) == std::size(series_rows));
  for (std::size_t i = 0; i < std::size(values); ++i) {
    result_.series[i].values.push_back(values[i]);
  }
  result_.time_h.push_back(static_cast<double>(hour));
  result_.limit.push_back(limiting());
  hygiene_.record(w);
}

double PileRun::heated_fraction() const {
  const std::span<const double> heated = state_.of_cells(F::heated);
  return weighted_mean({heated.begin(), heated.end()}, system_.workspace().dry_kg);
}

void PileRun::record_field() {
  const long hour = std::lround(time_s_ / seconds_per_hour);
  if (std::fmod(static_cast<double>(hour), pile_.field_output_hours) != 0.0) {
    return;
  }
  const Workspace& w = system_.workspace();
  result_.field_time_h.push_back(static_cast<double>(hour));
  for (std::size_t i = 0; i < w.temperature_K.size(); ++i) {
    const double values[] = {w.temperature_K[i] - freezing_K, 100.0 * w.moisture[i],
                             100.0 * w.oxygen[i], 100.0 * w.free_air_space[i]};
    static_assert(std::size(values) == std::size(field_rows));
    for (std::size_t f = 0; f < std::size(values); ++f) {
      result_.fields[f].values.push_back(values[f]);
    }
  }
}

void PileRun::check_balances() {
  std::copy(y_.begin(), y_.end(), state_.y.begin());
  const PileState& s = state_;
  const double residuals[] = {
      water_.residual(s.sum(F::water), s.total(Total::rain) + s.total(Total::metabolic_water),
                      s.total(Total::evaporation) + s.total(Total::leachate)),
      carbon_.residual(s.sum(F::fast) + s.sum(F::medium) + s.sum(F::slow) + s.sum(F::resistant) +
                           s.sum(F::humus) + s.sum(F::biomass),
                       0.0, s.total(Total::carbon_dioxide_carbon) + s.total(Total::methane_carbon)),
      nitrogen_.residual(
          s.sum(F::organic_nitrogen) + s.sum(F::ammonium_nitrogen) + s.sum(F::nitrate_nitrogen),
          0.0,
          s.total(Total::ammonia_nitrogen) + s.total(Total::nitrous_oxide_nitrogen) +
              s.total(Total::dinitrogen_nitrogen) + s.total(Total::leachate_nitrogen)),
      ash_.residual(s.sum(F::ash)),
      energy_.residual(s.sum(F::enthalpy), s.total(Total::heat_made), s.total(Total::heat_lost)),
  };
  for (std::size_t i = 0; i < closure_.size(); ++i) {
    closure_[i] = std::max(closure_[i], residuals[i]);
  }
}

void PileRun::advance_hour() {
  advance_hour([this](PileSystem& /*system*/, std::vector<double>& y, double t_s, double t_end_s) {
    integrator_.advance(y, t_s, t_end_s);
  });
}

void PileRun::advance_hour(const Advance& advance) {
  begin_hour();
  advance(system_, y_, time_s_, time_s_ + seconds_per_hour);
  end_hour();
}

void PileRun::begin_hour() {
  hour_before_K_ = system_.workspace().temperature_K;
  survivors_.begin_hour(hour_before_K_);
}

void PileRun::end_hour() {
  system_.read(time_s_ + seconds_per_hour, y_);
  survivors_.end_hour(system_.workspace().temperature_K, site_.coefficients.inactivation_scale,
                      state_);
  heated_.hour(hour_before_K_, system_.workspace().temperature_K, state_.of_cells(F::heated));
  time_s_ += seconds_per_hour;
  check_balances();
  watch_hour();
  record();
  record_field();
}

void PileRun::restart() {
  integrator_.restart(time_s_);
  jumped_ = true;
}

bool PileRun::take_jump() {
  return std::exchange(jumped_, false);
}

void PileRun::count_steps(long steps, long rejected) {
  other_steps_ = steps;
  other_rejected_ = rejected;
}

void PileRun::watch_hour() {
  hygiene_.hour(time_s_ / seconds_per_hour, hour_before_K_, system_.workspace());
  watch_readiness();
}

void PileRun::watch_readiness() {
  const Workspace& w = system_.workspace();
  readiness_.hour(time_s_ / seconds_per_hour,
                  mean_over(core_cells_, w.temperature_K, w.volume_m3_cell),
                  w.forcing.air_temperature_K, state_, w);
}

void PileRun::book(const Exchange& e) {
  water_.in(e.water_in_kg);
  water_.out(e.water_out_kg + e.leachate_kg);
  carbon_.in(e.carbon_in_kgC);
  nitrogen_.in(e.nitrogen_in_kgN);
  nitrogen_.out(e.ammonia_out_kgN);
  ash_.in(e.ash_in_kg);
  energy_.in(e.heat_in_J);
  energy_.out(e.heat_out_J);
  turn_steam_kg_ += e.water_out_kg;
  turn_ammonia_kgN_ += e.ammonia_out_kgN;
  carbon_in_kgC_ += e.carbon_in_kgC;
  nitrogen_in_kgN_ += e.nitrogen_in_kgN;
}

void PileRun::after_event(double aired_share, bool reformed) {
  std::copy(state_.y.begin(), state_.y.begin() + static_cast<std::ptrdiff_t>(y_.size()),
            y_.begin());
  system_.after_event(time_s_, aired_share, reformed);
  restart();
  system_.evaluate(time_s_, y_);
}

void PileRun::settle_lumps() {
  Workspace& w = system_.workspace();
  const double left = lumps_left(site_.coefficients, time_s_ - w.lumps_since_s);
  for (const CellField lump : {F::lump_fast, F::lump_medium, F::lump_slow}) {
    double* carbon = state_.field(lump);
    for (std::size_t i = 0; i < site_.mesh.cells(); ++i) {
      carbon[i] *= left;
    }
  }
  w.lumps_since_s = time_s_;
}

std::string PileRun::too_long_to_fork() const {
  double longest = 0.0;
  double dry_long = 0.0;
  double dry = 0.0;
  std::string name;
  const auto look = [&](const std::vector<Ingredient>& ingredients, int times) {
    for (const Ingredient& i : ingredients) {
      const double mass = times * i.wet_mass_kg * (1.0 - i.material.moisture_wet_basis);
      dry += mass;
      if (i.material.chop_size_m > longest_forkable_m) {
        dry_long += mass;
        if (i.material.chop_size_m > longest) {
          longest = i.material.chop_size_m;
          name = i.material.title.empty() ? i.material.name : i.material.title;
        }
      }
    }
  };
  look(pile_.ingredients, 1);
  for (std::size_t i = 0; i < additions_.size(); ++i) {
    look(pile_.additions[i].ingredients, times_added_[i]);
  }
  if (dry_long > long_share_refused * dry) {
    return fmt::format(
        "{} lies in lengths of {:.0f} cm: a fork cannot turn it. Chop it to 30 cm or "
        "less first, or turn with a loader",
        name, 100.0 * longest);
  }
  return {};
}

void PileRun::turn(const std::string& reason) {
  const Turning& turning = *pile_.turning;
  if (turning.method == TurnMethod::fork) {
    const std::string refusal = too_long_to_fork();
    if (!refusal.empty()) {
      result_.events.push_back({day(), "refused", refusal, 0.0, 0.0});
      if (std::find(result_.warnings.begin(), result_.warnings.end(), refusal) ==
          result_.warnings.end()) {
        result_.warnings.push_back(refusal);
      }
      return;
    }
  }
  hygiene_.turning(time_s_ / seconds_per_hour, system_.workspace());
  labour_.turn(turning.method, system_.workspace().volume_m3);
  settle_lumps();
  const Forcing air = system_.workspace().forcing;
  book(turn_pile(site_.mesh, site_.coefficients, turning.method, air, state_));
  double litres = 0.0;
  if (!std::isnan(turning.water_to_moisture)) {
    const Exchange e = water_to_moisture(turning.water_to_moisture,
                                         std::max(air.air_temperature_K, freezing_K + 4.0), state_);
    book(e);
    litres = e.water_in_kg;
    water_added_kg_ += litres;
    labour_.water(litres, false);
  }
  ++turns_;
  result_.events.push_back({day(), "turn", reason, litres, 0.0});
  after_event(mixing_share(turning.method), true);
  heated_.moved();
  readiness_.turned(time_s_ / seconds_per_hour, readings().core_temperature_K);
}

void PileRun::water(const std::string& reason) {
  const Watering& watering = *pile_.watering;
  double litres = std::isnan(watering.litres) ? 0.0 : watering.litres;
  if (!std::isnan(watering.to_moisture)) {
    litres = litres_to_moisture(watering.to_moisture, state_);
  }
  if (!(litres > 0.0)) {
    return;
  }
  const double temperature =
      std::max(system_.workspace().forcing.air_temperature_K, freezing_K + 4.0);
  book(water_from_above(litres, site_.mesh, temperature, state_));
  water_added_kg_ += litres;
  labour_.water(litres, true);
  result_.events.push_back({day(), "water", reason, litres, 0.0});
  after_event(0.0, false);
}

void PileRun::do_events() {
  const ClockStart start = clock_start(pile_.start);
  const double clock = start.hour + time_s_ / seconds_per_hour;
  const double hour_of_day = std::fmod(clock, 24.0);
  const int weekday = (start.weekday + static_cast<int>(clock / 24.0)) % 7;

  while (next_cover_ < pile_.cover_changes.size() &&
         day() >= pile_.cover_changes[next_cover_].day - 1e-9) {
    system_.workspace().surface = surface_shield(pile_, pile_.cover_changes[next_cover_].cover);
    result_.events.push_back({day(), "cover", "cover changed", 0.0, 0.0});
    ++next_cover_;
    restart();
  }
  if (site_.fan_kg_s > 0.0) {
    const bool on = std::isnan(pile_.aeration.on_above_K) ||
                    readings().core_temperature_K > pile_.aeration.on_above_K;
    if (on != system_.workspace().fan_on) {
      system_.workspace().fan_on = on;
      restart();
    }
  }
  if (std::abs(hour_of_day - pile_.work_hour) > 1e-6) {
    return;
  }
  const Readings now = readings();
  for (std::size_t i = 0; i < additions_.size(); ++i) {
    const std::string reason = additions_[i].due(day(), weekday, now);
    if (reason.empty()) {
      continue;
    }
    double kg = 0.0;
    double volume = 0.0;
    for (const Ingredient& part : pile_.additions[i].ingredients) {
      kg += part.wet_mass_kg;
      volume += part.wet_mass_kg / part.material.bulk_density_wet_kg_m3;
    }
    const Shape& shape = pile_.shape;
    if (shape.kind == ShapeKind::bin && !std::isnan(shape.height_m)) {
      const double room_m3 =
          site_.mesh.plan_area_total_m2 * shape.height_m - system_.workspace().volume_m3;
      if (volume > room_m3) {
        const std::string full = "the bin is full: what was to be added did not go in";
        result_.events.push_back({day(), "refused", full, 0.0, kg});
        if (std::find(result_.warnings.begin(), result_.warnings.end(), full) ==
            result_.warnings.end()) {
          result_.warnings.push_back(full);
        }
        continue;
      }
    }
    ++times_added_[i];
    settle_lumps();
    book(add_material(pile_.additions[i].ingredients, site_.mesh, site_.coefficients,
                      now.air_temperature_K, state_));
    volume_in_m3_ += volume;
    labour_.add(volume);
    result_.events.push_back({day(), "add", reason, 0.0, kg});
    after_event(0.1, true);
    hygiene_.added(time_s_ / seconds_per_hour);
    heated_.moved();
    readiness_.added(time_s_ / seconds_per_hour);
  }
  if (turning_) {
    const std::string reason = turning_->due(day(), weekday, now);
    if (!reason.empty()) {
      turn(reason);
    }
  }
  if (watering_) {
    const std::string reason = watering_->due(day(), weekday, now);
    if (!reason.empty()) {
      water(reason);
    }
  }
}

void PileRun::add_scalar(std::string name, std::string unit, std::string long_name, double value,
                         std::string reason) {
  result_.scalars.push_back(
      {std::move(name), std::move(unit), std::move(long_name), value, std::move(reason)});
}

void PileRun::fill_scalars() {
  const auto& core = result_.find_series("core_temperature")->values;
  const auto& carbon_dioxide = result_.find_series("cumulative_carbon_dioxide_carbon")->values;
  const auto& methane = result_.find_series("cumulative_methane_carbon")->values;
  const auto last = [&](const char* name) { return result_.find_series(name)->values.back(); };
  const auto peak = std::max_element(core.begin(), core.end());
  const double output_days = pile_.output_hours / 24.0;
  double above = 0.0;
  double first_hot = unset;
  for (std::size_t i = 0; i < core.size(); ++i) {
    if (core[i] >= 55.0) {
      above += output_days;
      if (std::isnan(first_hot)) {
        first_hot = result_.time_h[i] / 24.0;
      }
    }
  }
  readiness_.report(hygiene_.met_day(readiness_.use().hygiene_rule), result_);
  add_scalar("peak_temperature", "degC", "highest core temperature", *peak);
  add_scalar("peak_day", "day", "day of the highest core temperature",
             result_.time_h[static_cast<std::size_t>(peak - core.begin())] / 24.0);
  add_scalar("hot_day", "day", "first day with the core at 55 degC or more", first_hot,
             std::isnan(first_hot) ? "the core stayed below 55 degC" : "");
  add_scalar("days_above_55", "day", "time with the core at 55 degC or more", above);
  add_scalar("heated_fraction", "1",
             "dry matter that has lain at 55 degC or more for 3 days in a row; a model estimate: "
             "measure, and follow local rules",
             heated_fraction());
  const double carbon_in = first_carbon_kgC_ + carbon_in_kgC_;
  const double nitrogen_in = first_nitrogen_kgN_ + nitrogen_in_kgN_;
  const double nitrogen_left =
      last("organic_nitrogen") + last("ammonium_nitrogen") + last("nitrate_nitrogen");
  add_scalar("carbon_lost_fraction", "1", "carbon lost of all that went in",
             (carbon_dioxide.back() + methane.back()) / carbon_in);
  add_scalar("nitrogen_lost_fraction", "1", "nitrogen lost of all that went in",
             1.0 - nitrogen_left / nitrogen_in);
  add_scalar("volume_fraction", "1", "volume left of all that went in",
             last("volume") / (first_volume_m3_ + volume_in_m3_));
  add_costs_and_yield();
  add_scalar("turns", "1", "times turned", turns_);
  hygiene_.report(result_);
  for (std::size_t organism = 0; organism < organism_count; ++organism) {
    double survivors = 0.0;
    double dry = 0.0;
    for (std::size_t i = 0; i < state_.layout.cells(); ++i) {
      const double mass = system_.workspace().dry_kg[i];
      survivors += mass * std::exp(state_.survivors(organism)[i]);
      dry += mass;
    }
    add_scalar(fmt::format("log10_survivors_{}", inactivation_table[organism].key), "1",
               fmt::format("log10 of the share of {} that survives in the whole pile, a model "
                           "estimate; claim no more than 4 to 5 log: death curves have tails",
                           inactivation_table[organism].name),
               std::log10(std::max(survivors / dry, 1e-300)));
  }
  const char* closure_names[] = {"closure_water", "closure_carbon", "closure_nitrogen",
                                 "closure_ash", "closure_energy"};
  for (std::size_t i = 0; i < closure_.size(); ++i) {
    add_scalar(closure_names[i], "1", "largest residual of the balance over its throughput",
               closure_[i]);
  }
}

void PileRun::add_costs_and_yield() {
  const auto last = [&](const char* name) { return result_.find_series(name)->values.back(); };
  add_scalar("water_added", "L", "water added by hand", water_added_kg_);
  add_scalar("rain_caught", "L", "rain and snowmelt that soaked in", last("cumulative_rain"));
  add_scalar("water_evaporated", "L", "water lost to the air", last("cumulative_evaporation"));
  add_scalar("leachate", "L", "water lost at the base", last("cumulative_leachate"));
  const double nitrogen_in = first_nitrogen_kgN_ + nitrogen_in_kgN_;
  const double nitrogen_left =
      last("organic_nitrogen") + last("ammonium_nitrogen") + last("nitrate_nitrogen");
  add_scalar("nitrogen_in", "kg", "nitrogen in all that went in", nitrogen_in);
  add_scalar("nitrogen_kept", "kg", "nitrogen left in the compost", nitrogen_left);
  add_scalar("nitrogen_lost_ammonia", "kg", "nitrogen lost as ammonia",
             last("cumulative_ammonia_nitrogen"));
  add_scalar("nitrogen_lost_nitrous_oxide", "kg", "nitrogen lost as nitrous oxide",
             last("cumulative_nitrous_oxide_nitrogen"));
  add_scalar("nitrogen_lost_dinitrogen", "kg", "nitrogen lost as dinitrogen",
             last("cumulative_dinitrogen_nitrogen"));
  add_scalar("nitrogen_lost_leachate", "kg", "nitrogen lost with leachate",
             last("cumulative_leachate_nitrogen"));
  add_scalar("labour_hours", "h", "work, at the stated rates", labour_.total_h());
  add_scalar("labour_hours_building", "h", "work of building", labour_.building_h());
  add_scalar("labour_hours_turning", "h", "work of turning", labour_.turning_h());
  add_scalar("labour_hours_watering", "h", "work of watering", labour_.watering_h());
  add_scalar("labour_hours_adding", "h", "work of adding material", labour_.adding_h());
  add_scalar("compost_volume", "m3", "volume of the compost", last("volume"));
  add_scalar("compost_mass", "kg", "wet mass of the compost",
             last("dry_mass") + last("water_mass"));
  add_scalar("compost_dry_mass", "kg", "dry mass of the compost", last("dry_mass"));
  add_scalar("compost_carbon_nitrogen_ratio", "1", "carbon over nitrogen of the compost, by mass",
             last("carbon_nitrogen_ratio"));
}

ForecastResult PileRun::finish() {
  fill_scalars();
  result_.steps = integrator_.steps() + other_steps_;
  result_.rejected_steps = integrator_.rejected() + other_rejected_;
  result_.rate_calls = integrator_.rate_calls();
  return std::move(result_);
}

} // namespace heapcast::models
