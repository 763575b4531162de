// An invented heap of manure and straw, turned once, in invented steady weather of 12 degC: prints
// the temperature of its core by day. Quantities are in SI, as their names say.
#include "models/forecast.hpp"

#include <cstdio>
#include <memory>
#include <vector>

int main() {
  using namespace heapcast::models;
  const auto steady = [](double value) { return std::vector<double>(31 * 24 + 1, value); };
  const Weather weather{.start = "2025-04-01T00:00",
                        .air_temperature_K = steady(285.15),
                        .vapour_pressure_Pa = steady(1000.0),
                        .wind_m_s = steady(2.0),
                        .global_radiation_W_m2 = steady(150.0),
                        .sky_temperature_K = steady(275.0),
                        .rain_kg_m2_h = steady(0.0),
                        .soil_temperature_K = steady(283.15)};
  const Material mix{.name = "manure_and_straw", .group = "manure", .fast_fraction = 0.2};

  PileDescription pile;
  pile.start = weather.start;
  pile.weather = std::make_shared<const Weather>(weather);
  pile.shape.height_m = 1.2;
  pile.ingredients = {{.material = mix, .wet_mass_kg = 900.0}};
  pile.turning = Turning{.schedule = {.on_days = {10.0}}};
  pile.horizon_days = 30.0;
  pile.resolution = Resolution::coarse;

  const ForecastResult result = run_forecast(pile);
  const std::vector<double>& core_degC = result.find_series("core_temperature")->values;
  for (std::size_t hour = 0; hour < core_degC.size(); hour += 24) {
    std::printf("day %2zu  %5.1f degC\n", hour / 24, core_degC[hour]);
  }
}
