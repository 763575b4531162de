// Weather files. The first byte chooses the site and whether one station of several is wanted.

#include "engine/errors.hpp"
#include "models/weather/weather_csv.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace heapcast::models;
using heapcast::tests::require;
using heapcast::tests::require_finite;

namespace {

WeatherCsvOptions options(unsigned choice) {
  WeatherCsvOptions chosen;
  chosen.source = "weather.csv";
  constexpr double latitudes_deg[] = {47.5, -33.0, 0.0, 89.0};
  chosen.site.latitude_deg = latitudes_deg[choice % 4U];
  if ((choice & 4U) != 0) {
    chosen.site.longitude_deg = 12.0;
    chosen.site.utc_offset_h = 1.0;
  }
  if ((choice & 8U) != 0) {
    chosen.station = StationFilter{"station", "hill"};
  }
  if ((choice & 16U) != 0) {
    chosen.columns = {{"tmin", "low", "degC"}, {"date", "day", ""}};
  }
  return chosen;
}

void check(const Weather& weather) {
  const std::size_t n = weather.size();
  require(n > 0, "weather has samples");
  for (const std::vector<double>* column :
       {&weather.air_temperature_K, &weather.vapour_pressure_Pa, &weather.wind_m_s,
        &weather.global_radiation_W_m2, &weather.sky_temperature_K, &weather.rain_kg_m2_h,
        &weather.soil_temperature_K}) {
    require(column->size() == n, "every column has all samples");
    require_finite(*column, "weather is finite");
  }
  for (std::size_t i = 0; i < n; ++i) {
    require(weather.air_temperature_K[i] > 150.0 && weather.air_temperature_K[i] < 350.0,
            "air temperature is possible");
    require(weather.vapour_pressure_Pa[i] >= 0.0 && weather.wind_m_s[i] >= 0.0 &&
                weather.global_radiation_W_m2[i] >= 0.0 && weather.rain_kg_m2_h[i] >= 0.0 &&
                weather.sky_temperature_K[i] > 0.0,
            "no weather below zero");
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) {
    return 0;
  }
  try {
    check(read_weather_csv(heapcast::tests::text_of(data + 1, size - 1), options(*data)));
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  }
  return 0;
}
