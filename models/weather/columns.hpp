#pragma once

#include "models/weather/series.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

enum class WeatherDimension { temperature, water, speed, share, pressure, radiation, time };

/// One column a weather file can have: everything there is to know about it.
struct WeatherColumn {
  std::string_view name;    ///< as shown and in column choices
  std::string_view aliases; ///< other header words, separated by '|'
  std::vector<double> WeatherSeries::*values;
  WeatherDimension dimension;
  std::string_view unit;          ///< the limits' and the one offered in messages
  double daily_low, daily_high;   ///< possible values of daily rows, in `unit`
  double hourly_low, hourly_high; ///< and of hourly rows; low > high: no such column
  std::string_view meaning;
  [[nodiscard]] bool has(SeriesStep step) const;
  [[nodiscard]] double low(SeriesStep step) const;
  [[nodiscard]] double high(SeriesStep step) const;
};

[[nodiscard]] std::span<const WeatherColumn> weather_columns();

/// A unit of a weather column: SI value = number * factor + offset.
struct WeatherUnit {
  WeatherDimension dimension;
  std::string_view name;
  std::string_view aliases; ///< separated by '|', compact
  double factor;
  double offset;
};

/// The unit of this dimension that `text` names, whatever its case, spaces, degree signs and
/// superscripts, with `_` for `/`; null when there is none.
[[nodiscard]] const WeatherUnit* find_weather_unit(WeatherDimension dimension,
                                                   std::string_view text);

/// Names of all units of a dimension, for messages: "m/s, km/h, mph, kn".
[[nodiscard]] std::string weather_unit_names(WeatherDimension dimension);

/// A header cell: `name [unit]`, `name (unit)`, `name_unit` or a bare name.
struct HeaderCell {
  std::string text;                      ///< the whole cell, trimmed
  std::string name;                      ///< lower case, `_` for spaces, without the unit
  std::string unit;                      ///< as written; empty when there is none
  const WeatherColumn* column = nullptr; ///< null when the name is not known
};

/// Reads a header cell.
[[nodiscard]] HeaderCell read_header_cell(std::string_view text);

/// The known column with this name or alias, or null.
[[nodiscard]] const WeatherColumn* find_weather_column(std::string_view name);

} // namespace heapcast::models
