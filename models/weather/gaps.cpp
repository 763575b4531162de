#include "models/weather/gaps.hpp"

#include "models/weather/columns.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <string>
#include <utility>

namespace heapcast::models {

namespace {

/// A known value and how many rows it is away.
struct Neighbour {
  double value = 0.0;
  std::size_t distance = 0;
};

/// The nearest known value in steps of `stride` rows from `row`; those filled now are not known.
std::optional<Neighbour> known_before(std::span<const double> values, std::size_t row,
                                      std::size_t stride) {
  for (std::size_t away = stride; away <= row; away += stride) {
    if (!std::isnan(values[row - away])) {
      return Neighbour{values[row - away], away};
    }
  }
  return std::nullopt;
}

std::optional<Neighbour> known_after(std::span<const double> values, std::size_t row,
                                     std::size_t stride) {
  for (std::size_t away = stride; row + away < values.size(); away += stride) {
    if (!std::isnan(values[row + away])) {
      return Neighbour{values[row + away], away};
    }
  }
  return std::nullopt;
}

std::optional<double> between(std::span<const double> values, std::size_t row, std::size_t stride) {
  const auto before = known_before(values, row, stride);
  const auto after = known_after(values, row, stride);
  if (before && after) {
    const double share = static_cast<double>(before->distance) /
                         static_cast<double>(before->distance + after->distance);
    return std::lerp(before->value, after->value, share);
  }
  if (before || after) {
    return before ? before->value : after->value;
  }
  return std::nullopt;
}

std::string span_name(const WeatherSeries& series, const Gap& gap) {
  const bool daily = series.step == SeriesStep::day;
  const auto name = [&](std::size_t row) {
    const LocalHours time = series.first + std::chrono::hours{(daily ? 24 : 1) * row};
    return daily ? format_date(std::chrono::floor<std::chrono::days>(time)) : format_time(time);
  };
  const char* unit = daily ? "day" : "hour";
  if (gap.count == 1) {
    return fmt::format("{} (1 {})", name(gap.first), unit);
  }
  return fmt::format("{} to {} ({} {}s)", name(gap.first), name(gap.first + gap.count - 1),
                     gap.count, unit);
}

} // namespace

std::vector<Gap> gaps_of(std::span<const double> values) {
  std::vector<Gap> gaps;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isnan(values[i])) {
      continue;
    }
    if (!gaps.empty() && gaps.back().first + gaps.back().count == i) {
      ++gaps.back().count;
    } else {
      gaps.push_back({i, 1});
    }
  }
  return gaps;
}

std::optional<WeatherEstimate> fill_gaps(WeatherSeries& series) {
  constexpr std::size_t hours_taken_linear = 3;
  std::map<std::pair<std::size_t, std::size_t>, std::string> filled;
  for (const auto& column : weather_columns()) {
    auto& values = series.*(column.values);
    const std::vector<double> known = values;
    for (const Gap& gap : gaps_of(known)) {
      const bool hourly = series.step == SeriesStep::hour && gap.count > hours_taken_linear;
      for (std::size_t row = gap.first; row < gap.first + gap.count; ++row) {
        if (column.values == &WeatherSeries::rain_kg_m2) {
          values[row] = 0.0;
          continue;
        }
        auto value = hourly ? between(known, row, 24) : std::nullopt;
        value = value ? value : between(known, row, 1);
        values[row] = value.value();
      }
      auto& names = filled[{gap.first, gap.count}];
      names += (names.empty() ? "" : ", ") + std::string(column.name);
    }
  }
  if (filled.empty()) {
    return std::nullopt;
  }
  std::string list;
  for (const auto& [place, names] : filled) {
    list += fmt::format("{}{}: {}", list.empty() ? "" : "; ",
                        span_name(series, {place.first, place.second}), names);
  }
  return WeatherEstimate{
      "gaps", list + ". Between the days before and after, hour by hour; no rain in a gap"};
}

} // namespace heapcast::models
