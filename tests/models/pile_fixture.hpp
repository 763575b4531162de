#pragma once

// Invented materials, weather and piles for tests. None of them was measured.

#include "models/forecast.hpp"
#include "models/pile.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <string>
#include <utility>

namespace heapcast::tests {

using namespace heapcast::models;

inline Material grass() {
  Material m;
  m.name = "grass";
  m.moisture_wet_basis = 0.78;
  m.volatile_solids_dry_basis = 0.88;
  m.carbon_dry_basis = 0.44;
  m.nitrogen_dry_basis = 0.034;
  m.fast_fraction = 0.30;
  m.medium_fraction = 0.42;
  m.slow_fraction = 0.18;
  m.resistant_fraction = 0.10;
  m.bulk_density_wet_kg_m3 = 300.0;
  m.water_holding_kgW_kgDM = 3.5;
  m.flow_size_m = 0.5e-3;
  m.chop_size_m = 0.03;
  m.ph = 6.5;
  m.active_biomass_fraction = 0.01;
  m.ammoniacal_fraction = 0.05;
  return m;
}

inline Material horse_manure() {
  Material m;
  m.name = "horse_manure";
  m.moisture_wet_basis = 0.65;
  m.volatile_solids_dry_basis = 0.85;
  m.carbon_dry_basis = 0.44;
  m.nitrogen_dry_basis = 0.014;
  m.fast_fraction = 0.10;
  m.medium_fraction = 0.35;
  m.slow_fraction = 0.33;
  m.resistant_fraction = 0.22;
  m.bulk_density_wet_kg_m3 = 400.0;
  m.water_holding_kgW_kgDM = 3.0;
  m.flow_size_m = 1.0e-3;
  m.chop_size_m = 0.05;
  m.ph = 8.0;
  m.active_biomass_fraction = 0.02;
  m.ammoniacal_fraction = 0.15;
  return m;
}

inline Material straw() {
  Material m;
  m.name = "straw";
  m.moisture_wet_basis = 0.11;
  m.volatile_solids_dry_basis = 0.93;
  m.carbon_dry_basis = 0.45;
  m.nitrogen_dry_basis = 0.006;
  m.fast_fraction = 0.08;
  m.medium_fraction = 0.35;
  m.slow_fraction = 0.37;
  m.resistant_fraction = 0.20;
  m.bulk_density_wet_kg_m3 = 60.0;
  m.water_holding_kgW_kgDM = 3.8;
  m.flow_size_m = 3.0e-3;
  m.chop_size_m = 0.05;
  m.ph = 7.0;
  m.active_biomass_fraction = 0.002;
  m.ammoniacal_fraction = 0.02;
  return m;
}

inline Ingredient ingredient(Material material, double wet_mass_kg, int layer = 0) {
  return {std::move(material), wet_mass_kg, layer};
}

/// Weather that repeats: a wave of temperature and sun every day, and showers.
struct Climate {
  double mean_C = 15.0;
  double daily_swing_K = 5.0;
  double slow_swing_K = 0.0; ///< over 12 days
  double sun_W_m2 = 400.0;   ///< at noon
  double wind_m_s = 2.0;
  double shower_kg_m2_h = 0.0; ///< during `shower_hours` of every `shower_every_h`
  int shower_every_h = 96;
  int shower_hours = 5;
};

/// Sample 0 is 9 o'clock, as in `start_of_work`.
inline std::shared_ptr<const Weather> weather(double days, const Climate& c) {
  auto w = std::make_shared<Weather>();
  w->source = "invented";
  w->start = "2021-04-05T09:00";
  const int samples = static_cast<int>(std::ceil(days * 24.0)) + 2;
  const double vapour_Pa = 0.7 * saturation_pressure_Pa(freezing_K + c.mean_C);
  for (int i = 0; i < samples; ++i) {
    const double hour = std::fmod(i + 9.0, 24.0);
    const double day_wave = std::cos((hour - 15.0) / 24.0 * 2.0 * std::numbers::pi);
    const double noon_wave = std::cos((hour - 12.0) / 24.0 * 2.0 * std::numbers::pi);
    const double slow_wave = std::sin(i / 288.0 * 2.0 * std::numbers::pi);
    const double t =
        freezing_K + c.mean_C + c.daily_swing_K * day_wave + c.slow_swing_K * slow_wave;
    w->air_temperature_K.push_back(t);
    w->vapour_pressure_Pa.push_back(std::min(vapour_Pa, saturation_pressure_Pa(t)));
    w->wind_m_s.push_back(c.wind_m_s * (1.0 + 0.5 * day_wave));
    w->global_radiation_W_m2.push_back(std::max(0.0, c.sun_W_m2 * noon_wave));
    w->sky_temperature_K.push_back(t - 12.0);
    w->rain_kg_m2_h.push_back(i % c.shower_every_h < c.shower_hours ? c.shower_kg_m2_h : 0.0);
    w->soil_temperature_K.push_back(freezing_K + c.mean_C);
  }
  return w;
}

inline PileDescription bare_pile(ShapeKind kind, double days, const Climate& climate) {
  PileDescription p;
  p.title = "invented pile";
  p.start = "2021-04-05T09:00";
  p.work_hour = 9.0;
  p.weather = weather(days, climate);
  p.horizon_days = days;
  p.shape.kind = kind;
  p.build_temperature_K = freezing_K + climate.mean_C;
  p.resolution = Resolution::coarse;
  return p;
}

inline Turning turning(TurnMethod method, double every_days, double from_day) {
  Turning t;
  t.method = method;
  t.schedule.every_days = every_days;
  t.schedule.from_day = from_day;
  return t;
}

/// About 2.5 m3 of grass, horse manure and straw in mild dry weather, never touched.
inline PileDescription mild_heap(double days, const Climate& climate = {}) {
  PileDescription p = bare_pile(ShapeKind::heap, days, climate);
  p.ingredients = {ingredient(grass(), 350.0), ingredient(horse_manure(), 500.0),
                   ingredient(straw(), 60.0)};
  return p;
}

/// The mild heap as one well-mixed cell.
inline PileDescription lumped_heap(double days, const Climate& climate = {}) {
  PileDescription p = mild_heap(days, climate);
  p.shape.kind = ShapeKind::one_cell;
  return p;
}

/// The mild heap with straw below, then manure, then grass.
inline PileDescription layered_heap(double days, const Climate& climate = {}) {
  PileDescription p = mild_heap(days, climate);
  p.layered = true;
  p.ingredients = {ingredient(straw(), 60.0, 0), ingredient(horse_manure(), 500.0, 1),
                   ingredient(grass(), 350.0, 2)};
  return p;
}

/// A windrow of about 13 m3, 1.2 m high.
inline PileDescription windrow(double days, const Climate& climate = {}) {
  PileDescription p = bare_pile(ShapeKind::windrow, days, climate);
  p.ingredients = {ingredient(grass(), 1750.0), ingredient(horse_manure(), 2500.0),
                   ingredient(straw(), 300.0)};
  return p;
}

/// A bin of a cubic metre with slatted walls, two thirds full.
inline PileDescription slatted_bin(double days, const Climate& climate = {}) {
  PileDescription p = bare_pile(ShapeKind::bin, days, climate);
  p.shape.width_m = 1.0;
  p.shape.length_m = 1.0;
  p.shape.height_m = 1.0;
  p.walls.open_fraction = 0.3;
  p.ingredients = {ingredient(grass(), 90.0), ingredient(horse_manure(), 120.0),
                   ingredient(straw(), 18.0)};
  return p;
}

/// What goes into the bin each week.
inline Addition weekly_addition() {
  Addition a;
  a.schedule.every_days = 7.0;
  a.schedule.from_day = 2.0;
  a.ingredients = {ingredient(grass(), 15.0), ingredient(straw(), 2.0)};
  return a;
}

inline double scalar(const ForecastResult& result, const char* name) {
  return result.find_scalar(name)->value;
}

} // namespace heapcast::tests
