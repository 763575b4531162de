// Weather files. The first byte chooses the site, whether one station of several is wanted and
// whether gaps are filled.

#include "engine/errors.hpp"
#include "models/weather/weather_csv.hpp"
#include "tests/fuzz/fuzz.hpp"
#include "tests/fuzz/weather_promises.hpp"

using namespace heapcast::models;
using heapcast::tests::require;

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
  if ((choice & 32U) != 0) {
    chosen.longest_gap_filled = std::chrono::hours{72};
  }
  return chosen;
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) {
    return 0;
  }
  try {
    heapcast::tests::check_promises(
        read_weather_csv(heapcast::tests::text_of(data + 1, size - 1), options(*data)));
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  }
  return 0;
}
