#pragma once

#include "cli/input/section.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/weather/weather.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

namespace heapcast::cli {

/// What the weather must be.
struct WeatherNeed {
  std::optional<models::LocalHours> build; ///< from here; nothing when the date is a fault already
  double days = 0.0;                       ///< for this long
  std::optional<std::uint64_t> seed;       ///< in place of that of the monthly normals
};

/// What came of reading the weather.
struct SiteWeather {
  std::shared_ptr<const models::Weather> weather; ///< null after a fault
  std::optional<std::uint64_t> seed;              ///< of weather made from monthly normals
  /// Another year of such weather for each run, by `seed` and run; empty for a weather file.
  std::function<models::WeatherYear(std::size_t run)> year;
  std::string unreadable; ///< why the file could not be read, else empty
};

/// Reads `[site]` (all but its start) with its weather: a CSV or EPW file, or monthly normals.
/// `folder` is what the weather file's path is relative to. Faults go to the section's context.
[[nodiscard]] SiteWeather read_site_weather(Section& site, const WeatherNeed& need,
                                            const std::string& folder, ReadingContext& context);

} // namespace heapcast::cli
