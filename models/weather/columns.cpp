#include "models/weather/columns.hpp"

#include "models/weather/text.hpp"

#include <algorithm>
#include <array>

namespace heapcast::models {

namespace {

using enum WeatherDimension;

// Limits: what the air has never been beyond, with room for instrument error. 105 % humidity and
// slightly negative night radiation are common readings of sound instruments; 0 is used for them.
constexpr auto columns = std::to_array<WeatherColumn>({
    {"tmin", "temp_min|temperature_min|t_min|min_temp|min_temperature|minimum_temperature",
     &WeatherSeries::tmin_K, temperature, "degC", -90, 60, 1, 0, "lowest temperature of the day"},
    {"tmax", "temp_max|temperature_max|t_max|max_temp|max_temperature|maximum_temperature",
     &WeatherSeries::tmax_K, temperature, "degC", -90, 60, 1, 0, "highest temperature of the day"},
    {"temperature", "temp|air_temperature|air_temp", &WeatherSeries::temperature_K, temperature,
     "degC", 1, 0, -90, 60, "air temperature"},
    {"rain", "rainfall|precipitation|precip|prcp", &WeatherSeries::rain_kg_m2, water, "mm", 0, 2000,
     0, 500, "rain and melted snow"},
    {"wind", "wind_speed|windspeed", &WeatherSeries::wind_m_s, speed, "m/s", 0, 120, 0, 120,
     "mean wind speed"},
    {"humidity", "relative_humidity|rh", &WeatherSeries::humidity, share, "%", 0, 105, 0, 105,
     "relative humidity"},
    {"humidity_min", "min_humidity|rh_min", &WeatherSeries::humidity_min, share, "%", 0, 105, 1, 0,
     "lowest relative humidity of the day"},
    {"humidity_max", "max_humidity|rh_max", &WeatherSeries::humidity_max, share, "%", 0, 105, 1, 0,
     "highest relative humidity of the day"},
    {"dew_point", "dewpoint|dew_point_temperature", &WeatherSeries::dew_point_K, temperature,
     "degC", -100, 60, -100, 60, "dew point"},
    {"wet_bulb", "wetbulb|wet_bulb_temperature", &WeatherSeries::wet_bulb_K, temperature, "degC", 1,
     0, -90, 60, "wet-bulb temperature, ventilated"},
    {"vapour_pressure", "vapor_pressure", &WeatherSeries::vapour_pressure_Pa, pressure, "kPa", 0,
     20, 0, 20, "vapour pressure"},
    {"pressure", "air_pressure", &WeatherSeries::air_pressure_Pa, pressure, "kPa", 30, 110, 30, 110,
     "air pressure at the site"},
    {"radiation", "solar_radiation|global_radiation|solar|ghi", &WeatherSeries::radiation_W_m2,
     radiation, "W/m2", 0, 600, -20, 1600, "global solar radiation on the level"},
    {"sunshine", "sunshine_hours|sunshine_duration", &WeatherSeries::sunshine_h, time, "h", 0, 24,
     1, 0, "hours of bright sunshine"},
    {"sky_cover", "cloud_cover|cloudiness|clouds", &WeatherSeries::sky_cover, share, "%", 0, 100, 0,
     100, "share of the sky under cloud"},
    {"sky_infrared", "infrared_radiation|longwave_radiation", &WeatherSeries::sky_infrared_W_m2,
     radiation, "W/m2", 1, 0, 50, 700, "long-wave radiation from the sky"},
    {"soil_temperature", "soil_temp|ground_temperature", &WeatherSeries::soil_temperature_K,
     temperature, "degC", -60, 60, -60, 60, "soil temperature at about 0.5 m, away from the pile"},
});

// Exact by definition: 1 in = 25.4 mm, 1 mile = 1609.344 m, 1 nautical mile = 1852 m,
// 1 inHg = 3386.389 Pa and 1 mmHg = 133.322 Pa (conventional), 1 ly = 41840 J/m2,
// 1 ft = 0.3048 m and 1 BTU = 1055.05585262 J (International Table).
constexpr auto units = std::to_array<WeatherUnit>({
    {temperature, "degC", "c|celsius", 1, 273.15},
    {temperature, "degF", "f|fahrenheit", 5.0 / 9.0, 273.15 - 32 * 5.0 / 9.0},
    {temperature, "K", "kelvin", 1, 0},
    {water, "mm", "kg/m2", 1, 0},
    {water, "cm", "", 10, 0},
    {water, "in", "inch|inches", 25.4, 0},
    {speed, "m/s", "ms-1|mps", 1, 0},
    {speed, "km/h", "kmh-1|kmh|kph", 1 / 3.6, 0},
    {speed, "mph", "mi/h", 1609.344 / 3600, 0},
    {speed, "ft/s", "fps", 0.3048, 0},
    {speed, "kn", "knot|knots|kt", 1852.0 / 3600, 0},
    {share, "%", "percent|pct", 0.01, 0},
    {share, "fraction", "1", 1, 0},
    {share, "tenths", "tenth", 0.1, 0},
    {share, "eighths", "oktas|okta|octas", 0.125, 0},
    {pressure, "kPa", "", 1000, 0},
    {pressure, "hPa", "mbar|mb", 100, 0},
    {pressure, "Pa", "", 1, 0},
    {pressure, "inHg", "", 3386.389, 0},
    {pressure, "mmHg", "", 133.322, 0},
    {radiation, "W/m2", "wm-2", 1, 0},
    {radiation, "MJ/m2/d", "mjm-2d-1|mj/m2/day", 1e6 / 86400, 0},
    {radiation, "kWh/m2/d", "kwh/m2/day", 1000 / 24.0, 0},
    {radiation, "Wh/m2/d", "wh/m2/day", 1 / 24.0, 0},
    {radiation, "J/cm2/d", "j/cm2/day", 1e4 / 86400, 0},
    {radiation, "ly/d", "cal/cm2/d|langley/d|ly/day|langleys/day", 41840 / 86400.0, 0},
    {radiation, "BTU/ft2/d", "btu/ft2/day", 1055.05585262 / (0.3048 * 0.3048) / 86400, 0},
    {radiation, "MJ/m2/h", "mjm-2h-1|mj/m2/hour", 1e6 / 3600, 0},
    {radiation, "kJ/m2/h", "kj/m2/hour", 1e3 / 3600, 0},
    {radiation, "J/cm2/h", "j/cm2/hour", 1e4 / 3600, 0},
    {radiation, "ly/h", "cal/cm2/h|langley/h|ly/hour|langleys/hour", 41840 / 3600.0, 0},
    {radiation, "Wh/m2/h", "wh/m2/hour", 1, 0},
    {time, "h", "hours|hour|hr|hrs", 1, 0},
    {time, "min", "minutes|minute", 1 / 60.0, 0},
});

bool is_one_of(std::string_view word, std::string_view list) {
  const auto words = pieces(list, '|');
  return !word.empty() && std::find(words.begin(), words.end(), word) != words.end();
}

/// Lower case without blanks and degree signs, superscript two as 2, `_` as `/`; both in UTF-8 and
/// Latin-1.
std::string compact_unit(std::string_view text) {
  std::string compact;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\xB2') {
      compact += '2';
    } else if (c == '_') {
      compact += '/';
    } else if (c != ' ' && c != '^' && c != '\xB0' && c != '\xC2') {
      compact += c;
    }
  }
  return lower_case(compact);
}

} // namespace

bool WeatherColumn::has(SeriesStep step) const {
  return low(step) <= high(step);
}

double WeatherColumn::low(SeriesStep step) const {
  return step == SeriesStep::day ? daily_low : hourly_low;
}

double WeatherColumn::high(SeriesStep step) const {
  return step == SeriesStep::day ? daily_high : hourly_high;
}

std::span<const WeatherColumn> weather_columns() {
  return columns;
}

const WeatherColumn* find_weather_column(std::string_view name) {
  const auto* found = std::find_if(columns.begin(), columns.end(), [&](const WeatherColumn& c) {
    return c.name == name || is_one_of(name, c.aliases);
  });
  return found == columns.end() ? nullptr : found;
}

const WeatherUnit* find_weather_unit(WeatherDimension dimension, std::string_view text) {
  const std::string compact = compact_unit(text);
  const auto* found = std::find_if(units.begin(), units.end(), [&](const WeatherUnit& unit) {
    return unit.dimension == dimension &&
           (lower_case(unit.name) == compact || is_one_of(compact, unit.aliases));
  });
  return found == units.end() ? nullptr : found;
}

std::string weather_unit_names(WeatherDimension dimension) {
  std::string names;
  for (const auto& unit : units) {
    if (unit.dimension == dimension) {
      names += (names.empty() ? "" : ", ") + std::string(unit.name);
    }
  }
  return names;
}

HeaderCell read_header_cell(std::string_view text) {
  constexpr std::size_t longest_name = 64;
  HeaderCell cell;
  cell.text = trimmed(text);
  std::string_view name = cell.text;
  if (!name.empty() && (name.back() == ']' || name.back() == ')')) {
    const auto open = name.rfind(name.back() == ']' ? '[' : '(');
    if (open != std::string_view::npos) {
      cell.unit = trimmed(name.substr(open + 1, name.size() - open - 2));
      name = trimmed(name.substr(0, open));
    }
  }
  cell.name = lower_case(name);
  std::replace(cell.name.begin(), cell.name.end(), ' ', '_');
  cell.column = find_weather_column(cell.name);
  if (cell.column != nullptr || !cell.unit.empty() || cell.name.size() > longest_name) {
    return cell;
  }
  for (auto end = cell.name.rfind('_'); end != std::string::npos && end > 0;
       end = cell.name.rfind('_', end - 1)) {
    const auto* column = find_weather_column(std::string_view(cell.name).substr(0, end));
    const std::string unit = cell.name.substr(end + 1);
    if (column != nullptr && find_weather_unit(column->dimension, unit) != nullptr) {
      cell.column = column;
      cell.unit = unit;
      cell.name.resize(end);
      return cell;
    }
  }
  return cell;
}

} // namespace heapcast::models
