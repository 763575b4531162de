#pragma once

#include "cli/input/section.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/weather/weather.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
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

/// Weather that was read or made before, for reading many variants of one pile: what is asked for
/// again in the same words is not made again. May be shared by threads.
class SiteWeatherCache {
public:
  [[nodiscard]] std::optional<SiteWeather> find(const std::string& words) const;
  void keep(const std::string& words, const SiteWeather& weather);

private:
  mutable std::mutex mutex_;
  std::map<std::string, SiteWeather> kept_;
};

/// Reads `[site]` (all but its start) with its weather: a CSV or EPW file, or monthly normals.
/// `folder` is what the weather file's path is relative to. Faults go to the section's context.
[[nodiscard]] SiteWeather read_site_weather(Section& site, const WeatherNeed& need,
                                            const std::string& folder, ReadingContext& context,
                                            SiteWeatherCache* cache = nullptr);

} // namespace heapcast::cli
