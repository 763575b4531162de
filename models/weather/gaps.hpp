#pragma once

#include "models/weather/series.hpp"
#include "models/weather/weather.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace heapcast::models {

/// A stretch of missing values in a column.
struct Gap {
  std::size_t first = 0; ///< row
  std::size_t count = 0; ///< rows, at least one
};

/// The stretches of NaN in a column.
[[nodiscard]] std::vector<Gap> gaps_of(std::span<const double> values);

/// Fills all stretches of NaN in the series' columns; each column must hold a number somewhere.
/// Returns what was filled, for the output; nothing when there was none.
///
/// Of rain: none falls. Of days, and of hours up to three in a row: linear between the values
/// before and after. Of more hours: at each hour of the day, between the last day before that has
/// the hour and the first day after, by distance, so that the course of the day stays. At either
/// end: the nearest value (of that hour of the day). A judgement, no source.
std::optional<WeatherEstimate> fill_gaps(WeatherSeries& series);

} // namespace heapcast::models
