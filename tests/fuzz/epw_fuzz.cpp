// EPW weather files. The first byte chooses the site, the time needed and whether gaps are filled.

#include "engine/errors.hpp"
#include "models/weather/epw.hpp"
#include "tests/fuzz/fuzz.hpp"
#include "tests/fuzz/weather_promises.hpp"

using namespace heapcast::models;

namespace {

EpwOptions options(unsigned choice) {
  EpwOptions chosen;
  chosen.source = "weather.epw";
  constexpr double latitudes_deg[] = {47.5, -33.0, 0.0, 89.0};
  chosen.site.latitude_deg = latitudes_deg[choice % 4U];
  chosen.elevation_known = (choice & 4U) != 0;
  if ((choice & 8U) != 0) {
    chosen.site.longitude_deg = 12.0;
    chosen.site.utc_offset_h = 1.0;
  }
  if ((choice & 16U) != 0) {
    chosen.first_needed = parse_time("2023-12-31T07:00");
    chosen.last_needed = parse_time("2024-03-01");
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
    const auto text = heapcast::tests::text_of(data + 1, size - 1);
    static_cast<void>(is_epw(text));
    heapcast::tests::check_promises(read_epw(text, options(*data)));
  } catch (const heapcast::InputError& error) {
    heapcast::tests::require(!error.faults().empty(), "an error has a fault");
  }
  return 0;
}
