// Piles of the library's materials in smooth, invented weather: a daily swing of 5 K, rain every
// fourth day.
#pragma once

#include "cli/input/material_file.hpp"
#include "models/forecast.hpp"
#include "models/materials/chopping.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <memory>
#include <numbers>
#include <utility>
#include <vector>

namespace heapcast::tests {

inline std::shared_ptr<const models::Weather> smooth_weather(double mean_C, double days,
                                                             bool rain) {
  auto w = std::make_shared<models::Weather>();
  w->start = "2025-04-01T09:00";
  w->latitude_deg = 45.0;
  const auto hours = static_cast<std::size_t>(days * 24.0) + 2;
  for (std::size_t i = 0; i < hours; ++i) {
    const double clock = std::fmod(static_cast<double>(i) + 9.0, 24.0);
    const double t = 273.15 + mean_C + 5.0 * std::cos((clock - 15.0) / 12.0 * std::numbers::pi);
    w->air_temperature_K.push_back(t);
    w->vapour_pressure_Pa.push_back(0.7 * models::saturation_pressure_Pa(273.15 + mean_C));
    w->wind_m_s.push_back(2.0);
    w->global_radiation_W_m2.push_back(
        std::max(0.0, 400.0 * std::cos((clock - 12.0) / 12.0 * std::numbers::pi)));
    w->sky_temperature_K.push_back(t - 12.0);
    w->rain_kg_m2_h.push_back(rain && i % 96 < 5 ? 1.0 : 0.0);
    w->soil_temperature_K.push_back(273.15 + mean_C);
  }
  return w;
}

/// One ingredient; chop in metres, 0 as supplied.
struct Part {
  const char* name;
  double kg;
  double chop_m = 0.0;
};

/// Mixed ingredients, wetted together to `moisture` when they are drier.
inline std::vector<models::Ingredient> mix(const std::vector<Part>& parts, double moisture = 0.0) {
  static const models::MaterialLibrary library = cli::load_builtin_library();
  std::vector<models::Ingredient> ingredients;
  double water = 0.0;
  double dry = 0.0;
  for (const Part& part : parts) {
    models::Ingredient i;
    i.material = library.find(part.name)->material;
    if (part.chop_m > 0.0) {
      i.material = models::chopped(i.material, part.chop_m);
    }
    i.wet_mass_kg = part.kg;
    water += part.kg * i.material.moisture_wet_basis;
    dry += part.kg * (1.0 - i.material.moisture_wet_basis);
    ingredients.push_back(i);
  }
  const double missing = dry * moisture / (1.0 - moisture) - water;
  for (models::Ingredient& i : ingredients) {
    if (missing > 0.0) {
      models::Material& m = i.material;
      const double solid = i.wet_mass_kg * (1.0 - m.moisture_wet_basis);
      const double volume = i.wet_mass_kg / m.bulk_density_wet_kg_m3;
      i.wet_mass_kg += missing * solid / dry;
      m.moisture_wet_basis = 1.0 - solid / i.wet_mass_kg;
      m.bulk_density_wet_kg_m3 = i.wet_mass_kg / volume;
    }
  }
  return ingredients;
}

inline models::PileDescription heap(std::vector<models::Ingredient> ingredients, double mean_C,
                                    double days, bool rain = true) {
  models::PileDescription p;
  p.start = "2025-04-01T09:00";
  p.weather = smooth_weather(mean_C, days, rain);
  p.horizon_days = days;
  p.resolution = models::Resolution::coarse;
  p.ingredients = std::move(ingredients);
  return p;
}

inline models::Turning every(double days, double from,
                             models::TurnMethod method = models::TurnMethod::fork) {
  models::Turning t;
  t.method = method;
  t.schedule.every_days = days;
  t.schedule.from_day = from;
  return t;
}

inline const std::vector<double>& curve(const models::ForecastResult& r, const char* name) {
  return r.find_series(name)->values;
}

inline double scalar(const models::ForecastResult& r, const char* name) {
  return r.find_scalar(name)->value;
}

inline double at_day(const models::ForecastResult& r, const char* name, double day) {
  return curve(r, name).at(static_cast<std::size_t>(std::lround(day * 24.0)));
}

/// About 2.5 m3 of chopped greens, stable manure and straw.
inline std::vector<models::Ingredient> good_mix() {
  return mix({{"grass_clippings", 350.0, 0.02},
              {"horse_manure_bedding", 450.0},
              {"wheat_straw", 50.0, 0.03}},
             0.60);
}

} // namespace heapcast::tests
