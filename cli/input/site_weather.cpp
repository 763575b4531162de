#include "cli/input/site_weather.hpp"

#include "cli/input/read_file.hpp"
#include "engine/counter_random.hpp"
#include "models/weather/epw.hpp"
#include "models/weather/normals.hpp"
#include "models/weather/text.hpp"
#include "models/weather/weather_csv.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <sstream>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr double degree_rad = std::numbers::pi / 180.0;

models::Site read_place(Section& site) {
  models::Site place;
  place.latitude_deg = site.quantity("latitude") / degree_rad;
  const double longitude_deg = site.quantity("longitude") / degree_rad;
  if (!std::isnan(longitude_deg)) {
    place.longitude_deg = longitude_deg;
  }
  const double utc_offset_s = site.quantity("utc_offset");
  if (!std::isnan(utc_offset_s)) {
    place.utc_offset_h = utc_offset_s / models::seconds_per_hour;
  }
  place.elevation_m = site.quantity("elevation");
  place.wind_height_m = site.quantity("wind_height");
  place.coastal = site.flag("coastal");
  return place;
}

/// "T_MIN [degC]" is the header T_MIN with the unit degC.
models::ColumnChoice column_choice(const std::string& quantity, const std::string& text) {
  const auto open = text.rfind('[');
  if (open == std::string::npos || !text.ends_with(']')) {
    return {quantity, text, ""};
  }
  const auto end = text.find_last_not_of(' ', open == 0 ? 0 : open - 1);
  return {quantity, text.substr(0, end + 1), text.substr(open + 1, text.size() - open - 2)};
}

models::Months months(const std::vector<double>& values) {
  models::Months result{};
  std::ranges::copy(values, result.begin());
  return result;
}

struct ReadNormals {
  models::MonthlyNormals normals;
  std::uint64_t seed = 1;
  bool complete = false; ///< what is required is there
};

ReadNormals read_normals(Section& section) {
  ReadNormals read;
  const auto tmin = section.monthly("tmin");
  const auto tmax = section.monthly("tmax");
  auto rain = section.monthly("rain");
  const auto wet_days = section.monthly("wet_days");
  const auto wind = section.monthly("wind");
  const auto humidity = section.monthly("humidity");
  models::MonthlyNormals& normals = read.normals;
  normals.rain_persistence = section.number("rain_persistence");
  normals.rain_shape = section.number("rain_shape");
  normals.temperature_persistence = section.number("temperature_persistence");
  normals.temperature_sd_K = section.quantity("temperature_sd");
  read.seed = static_cast<std::uint64_t>(section.whole("seed"));
  section.finish();
  read.complete = !tmin.empty() && !tmax.empty() && !rain.empty() && !wet_days.empty();
  // 1 m of water on 1 m2 weighs 1000 kg.
  std::ranges::for_each(rain, [](double& value) { value *= 1000.0; });
  normals.tmin_K = months(tmin);
  normals.tmax_K = months(tmax);
  normals.rain_kg_m2 = months(rain);
  normals.wet_days = months(wet_days);
  if (!wind.empty()) {
    normals.wind_m_s = months(wind);
  }
  if (!humidity.empty()) {
    normals.humidity = months(humidity);
  }
  return read;
}

models::GeneratedDays days_needed(const WeatherNeed& need, std::uint64_t seed) {
  const auto first = std::chrono::floor<std::chrono::days>(*need.build);
  const double last_h = static_cast<double>((*need.build - first).count()) + 24.0 * need.days;
  return {.first = first, .count = static_cast<int>(std::ceil(last_h / 24.0)) + 1, .seed = seed};
}

SiteWeather generate(const ReadNormals& read, const models::Site& place, const WeatherNeed& need,
                     const std::string& where) {
  models::check_normals(read.normals, place, where);
  SiteWeather made;
  made.seed = read.seed;
  made.weather = std::make_shared<const models::Weather>(
      models::weather_from_normals(read.normals, place, days_needed(need, read.seed)));
  made.year = [normals = read.normals, seed = read.seed, place, need](std::size_t run) {
    const std::uint64_t run_seed = engine::random_bits({.seed = seed, .stream = run});
    auto weather = std::make_shared<const models::Weather>(
        models::weather_from_normals(normals, place, days_needed(need, run_seed)));
    const std::string start = models::format_time(*need.build);
    const double start_hour = models::hours_from_start(*weather, start);
    return models::WeatherYear{std::move(weather), start_hour, start};
  };
  return made;
}

/// All that the weather follows from.
std::string words_of(Section& site, const WeatherNeed& need, const std::string& folder) {
  std::ostringstream words;
  words << toml::toml_formatter(*site.for_properties()) << '\n'
        << folder << '\n'
        << models::format_time(*need.build) << ' ' << need.days << ' '
        << (need.seed ? std::to_string(*need.seed) : "");
  return words.str();
}

/// An EPW file, by its ending or its first lines, or a CSV file.
models::Weather read_weather_file(Section& site, const std::string& text,
                                  const models::WeatherCsvOptions& options) {
  const std::string ending = std::filesystem::path(options.source).extension().string();
  if (models::lower_case(ending) != ".epw" && !models::is_epw(text)) {
    return models::read_weather_csv(text, options);
  }
  for (const std::string_view key : {"weather_columns", "station"}) {
    if (site.has(key)) {
      site.fault(key, fmt::format("{} belongs to a CSV file, but the weather is an EPW file", key),
                 "leave it out");
    }
  }
  return models::read_epw(text, {.source = options.source,
                                 .site = options.site,
                                 .elevation_known = site.has("elevation"),
                                 .first_needed = options.first_needed,
                                 .last_needed = options.last_needed,
                                 .longest_gap_filled = options.longest_gap_filled});
}

} // namespace

std::optional<SiteWeather> SiteWeatherCache::find(const std::string& words) const {
  const std::scoped_lock lock(mutex_);
  const auto found = kept_.find(words);
  return found == kept_.end() ? std::nullopt : std::optional(found->second);
}

void SiteWeatherCache::keep(const std::string& words, const SiteWeather& weather) {
  constexpr std::size_t most = 16; // some megabytes each
  const std::scoped_lock lock(mutex_);
  if (kept_.size() >= most) {
    kept_.clear();
  }
  kept_.emplace(words, weather);
}

SiteWeather read_site_weather(Section& site, const WeatherNeed& need, const std::string& folder,
                              ReadingContext& context, SiteWeatherCache* cache) {
  const models::Site place = read_place(site);
  const double longest_gap_h = site.quantity("fill_gaps") / models::seconds_per_hour;
  const std::string file = site.text("weather");
  Section columns = site.table("weather_columns");
  models::WeatherCsvOptions options;
  options.site = place;
  for (const auto& [quantity, header] : columns.free_texts()) {
    options.columns.push_back(column_choice(quantity, header));
  }
  Section station = site.table("station");
  if (station.present()) {
    options.station = models::StationFilter{station.text("column"), station.text("value")};
    station.finish();
  }
  Section normals_section = site.table("normals");
  std::optional<ReadNormals> normals;
  if (normals_section.present()) {
    normals = read_normals(normals_section);
    normals->seed = need.seed.value_or(normals->seed);
  }

  // A fault by the table of keys.
  if (site.has("weather") == normals.has_value()) {
    return {};
  }
  if (!site.present() || !need.build || std::isnan(place.latitude_deg) ||
      (normals ? !normals->complete : file.empty())) {
    return {};
  }
  const std::string words = cache == nullptr ? "" : words_of(site, need, folder);
  if (cache != nullptr) {
    if (auto known = cache->find(words)) {
      return *std::move(known);
    }
  }
  SiteWeather read;
  try {
    if (normals) {
      read = generate(*normals, place, need, site.where("normals"));
      if (cache != nullptr) {
        cache->keep(words, read);
      }
      return read;
    }
    const std::string path = (std::filesystem::path(folder) / file).lexically_normal().string();
    options.source = path;
    options.first_needed = need.build;
    options.last_needed =
        *need.build + std::chrono::hours(static_cast<int>(std::ceil(24.0 * need.days)));
    if (!std::isnan(longest_gap_h)) {
      options.longest_gap_filled =
          std::chrono::hours(static_cast<int>(std::floor(longest_gap_h + 1e-6)));
    }
    read.weather =
        std::make_shared<const models::Weather>(read_weather_file(site, read_file(path), options));
    if (cache != nullptr) {
      cache->keep(words, read);
    }
  } catch (const InputError& error) {
    for (const Fault& fault : error.faults()) {
      context.faults.add(fault);
    }
  } catch (const FileError& error) {
    read.unreadable = fmt::format("{}: weather file {}", site.where("weather"), error.what());
  }
  return read;
}

} // namespace heapcast::cli
