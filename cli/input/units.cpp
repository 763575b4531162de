#include "cli/input/units.hpp"

#include "engine/nearest.hpp"
#include "models/readiness/respiration.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numbers>
#include <optional>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using enum Dimension;
using models::Respiration;

constexpr std::array<DimensionInfo, static_cast<std::size_t>(Dimension::count)> dimensions = {{
    {"a mass", "kg", "420 kg"},
    {"a volume", "m3", "1.5 m3"},
    {"a length", "m", "1.2 m"},
    {"an area", "m2", "12 m2"},
    {"a temperature", "K", "55 degC"},
    {"a temperature difference", "K", "8 K"},
    {"a time", "s", "3 days"},
    {"an air or water flow", "m3/s", "20 m3/h"},
    {"a speed", "m/s", "2 m/s"},
    {"a share", "1", "60 %"},
    {"a density", "kg/m3", "400 kg/m3"},
    {"a heat conductance", "W/m2/K", "4 W/m2/K"},
    {"a heat conductivity", "W/m/K", "0.1 W/m/K"},
    {"an angle", "rad", "12.5 deg"},
    {"a depth of water", "m", "8 mm"},
    {"a rate", "1/s", "2 %/day"},
    {"a share of the wet matter", "kg/kg", "60 % wet"},
    {"a share of the dry matter", "kg/kg", "2.1 % dry"},
    {"a share of the volatile solids", "kg/kg", "12 % of VS"},
    {"a share of the carbon", "kg/kg", "30 % of carbon"},
    {"a share of the nitrogen", "kg/kg", "10 % of nitrogen"},
    {"a water-holding capacity", "kg/kg", "2.6 kg/kg"},
    {"a respiration rate", "mol/kg/s", "25 mmol O2/kg/h"},
    {"a pH", "pH", "7.5 pH"},
    {"a ratio", "1", "25"},
}};

/// One unit: SI value = number * factor + offset. Aliases are separated by '|' and, like the text
/// they are compared with, hold no spaces (see `compact()`); the name itself is one of them.
struct Unit {
  Dimension dimension;
  std::string_view name;
  std::string_view aliases;
  double factor;
  double offset = 0.0;
};

// Exact by definition: 1 lb = 0.45359237 kg, 1 in = 0.0254 m, 1 US gallon = 231 in3,
// 1 US bushel = 2150.42 in3, 1 Btu (international table) = 1055.05585262 J.
constexpr double pound_kg = 0.45359237;
constexpr double inch_m = 0.0254;
constexpr double foot_m = 12 * inch_m;
constexpr double yard_m = 3 * foot_m;
constexpr double foot3_m3 = foot_m * foot_m * foot_m;
constexpr double yard3_m3 = yard_m * yard_m * yard_m;
constexpr double gallon_m3 = 231 * inch_m * inch_m * inch_m;
constexpr double bushel_m3 = 2150.42 * inch_m * inch_m * inch_m;
constexpr double minute_s = 60;
constexpr double hour_s = 3600;
constexpr double day_s = 86400;
constexpr double btu_J = 1055.05585262;
constexpr double fahrenheit_K = 5.0 / 9.0;
constexpr double freezing_K = 273.15;
constexpr double degree_rad = std::numbers::pi / 180.0;

constexpr auto units = std::to_array<Unit>({
    {mass, "kg", "kilo|kilos|kilogram|kilograms", 1},
    {mass, "g", "gram|grams", 1e-3},
    {mass, "mg", "milligram|milligrams", 1e-6},
    {mass, "t", "tonne|tonnes|metricton|metrictons", 1000},
    {mass, "Mg", "megagram|megagrams", 1000},
    {mass, "lb", "lbs|pound|pounds", pound_kg},
    {mass, "oz", "ounce|ounces", pound_kg / 16},
    {mass, "short ton", "shortton|shorttons|short_ton|short_tons|uston|ustons", 2000 * pound_kg},
    {mass, "long ton", "longton|longtons|long_ton|long_tons", 2240 * pound_kg},

    {volume, "m3", "cubicmetre|cubicmetres|cubicmeter|cubicmeters|cum|cbm", 1},
    {volume, "L", "l|litre|litres|liter|liters|dm3", 1e-3},
    {volume, "mL", "ml|millilitre|millilitres|milliliter|milliliters|cm3", 1e-6},
    {volume, "yd3", "cuyd|cubicyard|cubicyards|yards3", yard3_m3},
    {volume, "ft3", "cuft|cubicfoot|cubicfeet|feet3", foot3_m3},
    {volume, "gal", "gallon|gallons|usgal|usgallon|usgallons", gallon_m3},
    {volume, "qt", "quart|quarts", gallon_m3 / 4},
    {volume, "pt", "pint|pints", gallon_m3 / 8},
    {volume, "bu", "bushel|bushels", bushel_m3},

    {length, "m", "metre|metres|meter|meters", 1},
    {length, "cm", "centimetre|centimetres|centimeter|centimeters", 1e-2},
    {length, "mm", "millimetre|millimetres|millimeter|millimeters", 1e-3},
    {length, "km", "kilometre|kilometres|kilometer|kilometers", 1000},
    {length, "ft", "foot|feet|'", foot_m},
    {length, "in", "inch|inches|\"", inch_m},
    {length, "yd", "yard|yards", yard_m},

    {area, "m2", "squaremetre|squaremetres|squaremeter|squaremeters|sqm", 1},
    {area, "ft2", "sqft|squarefoot|squarefeet", foot_m* foot_m},
    {area, "yd2", "sqyd|squareyard|squareyards", yard_m* yard_m},
    {area, "ha", "hectare|hectares", 1e4},
    {area, "acre", "acres", 4840 * yard_m* yard_m},

    {temperature, "degC", "C|celsius|degcelsius|degreescelsius", 1, freezing_K},
    {temperature, "degF", "F|fahrenheit|degfahrenheit|degreesfahrenheit", fahrenheit_K,
     freezing_K - 32 * fahrenheit_K},
    {temperature, "K", "kelvin|kelvins", 1},

    {temperature_difference, "K", "kelvin|kelvins", 1},
    {temperature_difference, "degC", "C|celsius|degcelsius|degreescelsius", 1},
    {temperature_difference, "degF", "F|fahrenheit|degfahrenheit|degreesfahrenheit", fahrenheit_K},

    {time, "days", "d|day", day_s},
    {time, "h", "hr|hrs|hour|hours", hour_s},
    {time, "min", "mins|minute|minutes", minute_s},
    {time, "s", "sec|secs|second|seconds", 1},
    {time, "weeks", "week|wk|wks", 7 * day_s},
    {time, "months", "month", 365.25 / 12 * day_s},
    {time, "years", "year|yr|yrs", 365.25 * day_s},

    {volume_flow, "m3/h", "m3/hr|m3/hour|m3perhour", 1 / hour_s},
    {volume_flow, "m3/min", "m3/minute|m3perminute", 1 / minute_s},
    {volume_flow, "m3/s", "m3/second|m3persecond", 1},
    {volume_flow, "m3/day", "m3/d|m3perday", 1 / day_s},
    {volume_flow, "L/s", "l/s|l/second", 1e-3},
    {volume_flow, "L/min", "l/min|l/minute|lpm", 1e-3 / minute_s},
    {volume_flow, "L/h", "l/h|l/hr|l/hour", 1e-3 / hour_s},
    {volume_flow, "yd3/h", "yd3/hr|yd3/hour|cuyd/h|cuyd/hr|cubicyards/hour", yard3_m3 / hour_s},
    {volume_flow, "gal/h", "gph|gal/hr|gal/hour|gallons/hour", gallon_m3 / hour_s},
    {volume_flow, "cfm", "ft3/min|ft3/minute|cuft/min", foot3_m3 / minute_s},
    {volume_flow, "gal/min", "gpm|gal/minute|gallons/minute", gallon_m3 / minute_s},

    {speed, "m/s", "m/second|metrespersecond|meterspersecond", 1},
    {speed, "km/h", "kmh|kph|km/hr|km/hour", 1000 / hour_s},
    {speed, "mph", "mi/h|miles/h|milesperhour", 1760 * yard_m / hour_s},
    {speed, "ft/s", "ft/sec|ft/second", foot_m},
    {speed, "kn", "kt|knot|knots", 1852 / hour_s},

    {fraction, "%", "percent|pct", 1e-2},
    {fraction, "kg/kg", "m3/m3|lb/lb", 1},

    {mass_density, "kg/m3", "kgperm3|kg/cum", 1},
    {mass_density, "kg/L", "kg/l|g/mL|g/ml|g/cm3|t/m3", 1000},
    {mass_density, "g/L", "g/l", 1},
    {mass_density, "lb/yd3", "lbs/yd3|lb/cuyd|lbs/cuyd|poundspercubicyard", pound_kg / yard3_m3},
    {mass_density, "lb/ft3", "lbs/ft3|lb/cuft|lbs/cuft|poundspercubicfoot", pound_kg / foot3_m3},
    {mass_density, "lb/gal", "lbs/gal|poundspergallon", pound_kg / gallon_m3},

    {heat_conductance, "W/m2/K", "W/(m2K)|W/m2K|W/(m2.K)|Wm-2K-1|W/m2/degC", 1},
    {heat_conductance, "Btu/h/ft2/degF", "Btu/(hft2degF)|Btu/h/ft2/F|Btu/(hft2F)",
     btu_J / hour_s / (foot_m * foot_m) / fahrenheit_K},

    {conductivity, "W/m/K", "W/(mK)|W/mK|W/(m.K)|Wm-1K-1|W/m/degC", 1},
    {conductivity, "Btu/h/ft/degF", "Btu/(hftdegF)|Btu/h/ft/F|Btu/(hftF)",
     btu_J / hour_s / foot_m / fahrenheit_K},

    {angle, "deg", "degree|degrees", degree_rad},
    {angle, "rad", "radian|radians", 1},

    // A kilogram of water on a square metre is taken as a depth of 1 mm.
    {depth_of_water, "mm", "millimetre|millimetres|millimeter|millimeters", 1e-3},
    {depth_of_water, "cm", "centimetre|centimetres|centimeter|centimeters", 1e-2},
    {depth_of_water, "in", "inch|inches|\"", inch_m},
    {depth_of_water, "L/m2", "l/m2|kg/m2", 1e-3},

    {rate_per_day, "%/day", "%/d|%perday|percent/day|percentperday", 1e-2 / day_s},
    {rate_per_day, "1/d", "1/day|/day|/d|perday|d-1", 1 / day_s},

    {fraction_wet, "% wet", "%|percent|%wet|%asreceived|%wb|%wetbasis|%ofwet|%ofwetmatter", 1e-2},
    {fraction_wet, "kg/kg wet", "kg/kgwet", 1},
    {fraction_dry, "% dry", "%dry|%db|%drybasis|%ofdry|%ofdrymatter|%dm", 1e-2},
    {fraction_dry, "g/kg dry", "g/kgdry|g/kgdm", 1e-3},
    {fraction_dry, "mg/kg dry", "mg/kgdry|mg/kgdm|ppmdry", 1e-6},
    {fraction_dry, "kg/kg dry", "kg/kgdry|kg/kgdm", 1},
    {fraction_of_solids, "% of VS", "%ofvs|%vs|%ofvolatilesolids", 1e-2},
    {fraction_of_carbon, "% of carbon", "%ofcarbon|%ofc|%c|%carbon", 1e-2},
    {fraction_of_nitrogen, "% of nitrogen", "%ofnitrogen|%ofn|%n|%nitrogen", 1e-2},

    {water_ratio, "kg/kg", "kg/kgdry|kgwater/kgdry|kg/kgdm|L/kg|l/kg", 1},
    {water_ratio, "lb/lb", "lb/lbdry|lbs/lb", 1},

    // Per organic matter; oxygen and carbon dioxide mole for mole.
    {respiration, "mmol O2/kg/h", "mmol/kg/h|mmolO2/kgOM/h|mmolO2/kgVS/h",
     Respiration::from_mmolO2_kg_h(1).mol_kg_s()},
    {respiration, "mg O2/g/h", "mgO2/gOM/h|mgO2/gVS/h", Respiration::from_mgO2_g_h(1).mol_kg_s()},
    {respiration, "mg O2/kg/h", "mgO2/kgOM/h|mgO2/kgVS/h",
     Respiration::from_mgO2_kg_h(1).mol_kg_s()},
    {respiration, "mg CO2-C/g/d", "mgCO2-C/gOM/d|mgCO2-C/g/day|mgC/g/d|mgCO2-C/gOM/day",
     Respiration::from_mgC_g_d(1).mol_kg_s()},
    {respiration, "mg CO2/g/d", "mgCO2/gOM/d|mgCO2/g/day|mgCO2/gOM/day",
     Respiration::from_mgCO2_g_d(1).mol_kg_s()},

    {acidity, "pH", "", 1},
    {ratio, ":1", "", 1},
});

/// Units people write that have more than one meaning, with what to write instead.
struct Ambiguous {
  std::string_view unit;
  std::string_view remedy;
};
constexpr auto ambiguous_units = std::to_array<Ambiguous>({
    {"ton", "write \"t\" (1000 kg), \"short ton\" (2000 lb) or \"long ton\" (2240 lb)"},
    {"tons", "write \"t\" (1000 kg), \"short ton\" (2000 lb) or \"long ton\" (2240 lb)"},
});

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\n";
  const auto first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) {
    return {};
  }
  return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (auto at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size())) {
    text.replace(at, from.size(), to);
  }
}

/// A unit's text as it is compared: no spaces, plain letters for typographic signs.
std::string compact(std::string_view text) {
  std::string out(text);
  for (const auto& [from, to] : std::to_array<std::pair<std::string_view, std::string_view>>(
           {{"³", "3"}, {"²", "2"}, {"°", "deg"}, {"**", ""}, {"^", ""}, {"·", ""}, {"*", ""}})) {
    replace_all(out, from, to);
  }
  std::erase_if(out, [](unsigned char c) { return std::isspace(c) != 0; });
  return out;
}

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(),
                         [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

template <class Equal> bool has_name(const Unit& unit, Equal&& equal) {
  if (equal(compact(unit.name))) {
    return true;
  }
  for (std::string_view rest = unit.aliases; !rest.empty();) {
    const auto bar = std::min(rest.find('|'), rest.size());
    if (equal(rest.substr(0, bar))) {
      return true;
    }
    rest.remove_prefix(std::min(bar + 1, rest.size()));
  }
  return false;
}

/// The unit of this dimension with this name: exactly, or in other letter case if only one fits.
const Unit* find_unit(std::string_view written, Dimension dimension) {
  const std::string name = compact(written);
  const std::string name_lower = lower(name);
  const Unit* inexact = nullptr;
  int inexact_matches = 0;
  for (const Unit& unit : units) {
    if (unit.dimension != dimension) {
      continue;
    }
    if (has_name(unit, [&](std::string_view alias) { return alias == name; })) {
      return &unit;
    }
    if (has_name(unit, [&](std::string_view alias) { return lower(alias) == name_lower; })) {
      inexact = &unit;
      ++inexact_matches;
    }
  }
  return inexact_matches == 1 ? inexact : nullptr;
}

std::optional<Dimension> dimension_of(std::string_view written) {
  for (const Unit& unit : units) {
    if (find_unit(written, unit.dimension) != nullptr) {
      return unit.dimension;
    }
  }
  return std::nullopt;
}

/// What may be written: nouns, units and an example, for one dimension or for an amount.
struct Allowed {
  std::string noun;
  std::vector<std::string> units;
  std::string example;
};

Allowed allowed_for(Dimension dimension, const UnitTable& table) {
  const DimensionInfo& info = dimension_info(dimension);
  Allowed allowed{std::string(info.noun), unit_names(dimension), std::string(info.example)};
  if (dimension == mass || dimension == volume) {
    for (const std::string& name : table.names()) {
      const Amount* size = table.find(name);
      if (std::isfinite(dimension == mass ? size->kg : size->m3)) {
        allowed.units.push_back(name);
      }
    }
  }
  return allowed;
}

std::string remedy_for(const Allowed& allowed) {
  std::string names;
  for (const std::string& name : allowed.units) {
    names += names.empty() ? name : ", " + name;
  }
  return fmt::format("write {} with a unit ({}), for example \"{}\"", allowed.noun, names,
                     allowed.example);
}

struct NumberAndUnit {
  double number;
  std::string_view unit;
};

/// Splits "number unit". Throws UnitError when no number comes first or it is no decimal number.
NumberAndUnit split(std::string_view text, const std::string& remedy) {
  const std::string_view written = trimmed(text);
  if (written.empty()) {
    throw UnitError("nothing is written", remedy);
  }
  std::string_view rest = written;
  if (rest.starts_with('+') && rest.size() > 1 && rest[1] != '-') {
    rest.remove_prefix(1);
  }
  double number = 0;
  const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
  if (error == std::errc::result_out_of_range) {
    throw UnitError(fmt::format("the number in \"{}\" is too large or too small to hold", written),
                    remedy);
  }
  // from_chars takes "inf" and "nan" for numbers, and the 0 of a hexadecimal "0x1F".
  if (error != std::errc{} || !std::isfinite(number)) {
    throw UnitError(fmt::format("\"{}\" does not start with a number", written), remedy);
  }
  const std::string_view digits = rest.substr(0, static_cast<std::size_t>(end - rest.data()));
  const std::string_view unit = trimmed(rest.substr(digits.size()));
  return {number, unit};
}

/// Throws when what follows the number shows that the number was written in another way.
void refuse_other_number_forms(std::string_view written, std::string_view rest) {
  if (rest.empty()) {
    return;
  }
  const auto is_digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
  const char next = rest.front();
  if (next == ',') {
    throw UnitError(fmt::format("\"{}\" has a comma in its number", written),
                    "write a decimal point and no thousands separator: \"1.5\", \"1200\"");
  }
  if (is_digit(next) || next == '.' || next == '_') {
    throw UnitError(fmt::format("\"{}\" has its number in pieces", written),
                    "write one number without spaces or separators: \"1200\"");
  }
  if (next == '/' && rest.size() > 1 && is_digit(rest[1])) {
    throw UnitError(fmt::format("\"{}\" is written as a fraction", written),
                    "write a decimal number: \"0.5\" for 1/2");
  }
  if ((next == 'x' || next == 'X') && written.starts_with('0')) {
    throw UnitError(fmt::format("\"{}\" is a hexadecimal number", written),
                    "write a decimal number");
  }
}

double finite(double value, std::string_view written, const std::string& remedy) {
  if (!std::isfinite(value)) {
    throw UnitError(fmt::format("the number in \"{}\" is too large to hold", written), remedy);
  }
  return value;
}

[[noreturn]] void throw_unknown_unit(std::string_view written, std::string_view unit,
                                     const Allowed& allowed) {
  refuse_other_number_forms(written, unit);
  const std::string remedy = remedy_for(allowed);
  if (unit.empty()) {
    throw UnitError(fmt::format("\"{}\" has no unit", written), remedy);
  }
  for (const Ambiguous& ambiguous : ambiguous_units) {
    if (lower(compact(unit)) == ambiguous.unit) {
      throw UnitError(fmt::format("\"{}\" in \"{}\" has more than one meaning", unit, written),
                      std::string(ambiguous.remedy));
    }
  }
  if (const auto other = dimension_of(unit)) {
    throw UnitError(fmt::format("\"{}\" is {}, but {} is needed", written,
                                dimension_info(*other).noun, allowed.noun),
                    remedy);
  }
  if (unit.find_first_of("0123456789") != std::string_view::npos &&
      unit.find(' ') != std::string_view::npos) {
    throw UnitError(fmt::format("\"{}\" is more than one number with one unit", written), remedy);
  }
  const std::string meant = engine::nearest(unit, allowed.units);
  throw UnitError(fmt::format("\"{}\" in \"{}\" is not a known unit{}", unit, written,
                              meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
                  remedy);
}

/// A character of a unit in a regular expression: in either case, with the signs that `compact()`
/// takes for it.
std::string pattern_of(char c) {
  const auto byte = static_cast<unsigned char>(c);
  if (std::isalpha(byte) != 0) {
    return fmt::format("[{}{}]", static_cast<char>(std::toupper(byte)),
                       static_cast<char>(std::tolower(byte)));
  }
  return c == '2'                                                    ? "[*^]*(?:2|²)"
         : c == '3'                                                  ? "[*^]*(?:3|³)"
         : std::string_view("().").find(c) != std::string_view::npos ? fmt::format("\\{}", c)
                                                                     : std::string(1, c);
}

/// A compact unit in a regular expression. Blanks may stand anywhere in it.
std::string pattern_of(std::string_view unit) {
  constexpr std::string_view degree = "deg";
  std::string pattern;
  while (!unit.empty()) {
    pattern += pattern.empty() ? "" : "[\\s·]*";
    if (lower(unit.substr(0, degree.size())) == degree) {
      pattern += "(?:[Dd][Ee][Gg]|°)";
      unit.remove_prefix(degree.size());
    } else {
      pattern += pattern_of(unit.front());
      unit.remove_prefix(1);
    }
  }
  return pattern;
}

} // namespace

const DimensionInfo& dimension_info(Dimension dimension) {
  return dimensions.at(static_cast<std::size_t>(dimension));
}

std::vector<std::string> unit_names(Dimension dimension) {
  std::vector<std::string> names;
  for (const Unit& unit : units) {
    if (unit.dimension == dimension) {
      names.emplace_back(unit.name);
    }
  }
  return names;
}

std::string_view number_pattern() {
  return "[+-]?(?:[0-9]+\\.?[0-9]*|\\.[0-9]+)(?:[eE][+-]?[0-9]+)?";
}

std::string unit_pattern(Dimension dimension) {
  std::string all;
  const auto add = [&](std::string_view name) {
    all += all.empty() ? "" : "|";
    all += pattern_of(std::string_view(compact(name)));
  };
  for (const Unit& unit : units) {
    if (unit.dimension != dimension) {
      continue;
    }
    add(unit.name);
    for (std::string_view rest = unit.aliases; !rest.empty();) {
      const auto bar = std::min(rest.find('|'), rest.size());
      add(rest.substr(0, bar));
      rest.remove_prefix(std::min(bar + 1, rest.size()));
    }
  }
  return "(?:" + all + ")";
}

bool unit_may_be_missing(Dimension dimension) {
  return dimension == acidity || dimension == ratio;
}

void UnitTable::add_measure(std::string_view name, Amount size) {
  const std::string_view word = trimmed(name);
  const std::string remedy =
      "give a measure a name in letters and a size, for example barrow = \"90 L\"";
  if (word.empty() || std::isdigit(static_cast<unsigned char>(word.front())) != 0) {
    throw UnitError(fmt::format("\"{}\" cannot be the name of a measure", name), remedy);
  }
  if (dimension_of(word) || dimension_of(fmt::format("{}s", word)) ||
      std::ranges::any_of(ambiguous_units,
                          [&](const Ambiguous& a) { return a.unit == lower(compact(word)); })) {
    throw UnitError(fmt::format("\"{}\" is a unit already", word), "give the measure another name");
  }
  if (find(word) != nullptr) {
    throw UnitError(fmt::format("the measure \"{}\" is given twice", word),
                    "give each measure once");
  }
  if (std::isfinite(size.kg) == std::isfinite(size.m3)) {
    throw UnitError(fmt::format("the measure \"{}\" has no size", word), remedy);
  }
  if (!(std::isfinite(size.kg) ? size.kg > 0 : size.m3 > 0)) {
    throw UnitError(fmt::format("the size of the measure \"{}\" is not above zero", word), remedy);
  }
  measures_.push_back({std::string(word), size});
}

const Amount* UnitTable::find(std::string_view name) const {
  const std::string wanted = lower(compact(name));
  for (const Measure& measure : measures_) {
    const std::string own = lower(compact(measure.name));
    if (wanted == own || wanted == own + "s" || wanted == own + "es") {
      return &measure.size;
    }
  }
  return nullptr;
}

std::vector<std::string> UnitTable::names() const {
  std::vector<std::string> names;
  for (const Measure& measure : measures_) {
    names.push_back(measure.name);
  }
  return names;
}

double parse_quantity(std::string_view text, Dimension dimension) {
  return parse_quantity(text, dimension, UnitTable{});
}

double parse_quantity(std::string_view text, Dimension dimension, const UnitTable& table) {
  const Allowed allowed = allowed_for(dimension, table);
  const std::string remedy = remedy_for(allowed);
  const auto [number, unit] = split(text, remedy);
  if (unit.empty() && unit_may_be_missing(dimension)) {
    return number;
  }
  if (const Unit* known = find_unit(unit, dimension)) {
    return finite(number * known->factor + known->offset, text, remedy);
  }
  if (const Amount* size = table.find(unit)) {
    const double each = dimension == mass     ? size->kg
                        : dimension == volume ? size->m3
                                              : std::numeric_limits<double>::quiet_NaN();
    if (std::isfinite(each)) {
      return finite(number * each, text, remedy);
    }
    throw UnitError(fmt::format("\"{}\" is {}, but {} is needed", trimmed(text),
                                std::isfinite(size->kg) ? "a mass" : "a volume", allowed.noun),
                    remedy);
  }
  throw_unknown_unit(trimmed(text), unit, allowed);
}

Amount parse_amount(std::string_view text, const UnitTable& table) {
  Allowed allowed = allowed_for(mass, table);
  const Allowed by_volume = allowed_for(volume, table);
  allowed.noun = "an amount";
  allowed.units.insert(allowed.units.end(), by_volume.units.begin(), by_volume.units.end());
  allowed.example += "\" or \"" + by_volume.example;
  const std::string remedy = remedy_for(allowed);

  const auto [number, unit] = split(text, remedy);
  if (number < 0) {
    throw UnitError(fmt::format("the amount \"{}\" is negative", trimmed(text)), remedy);
  }
  Amount amount;
  if (const Unit* known = find_unit(unit, mass)) {
    amount.kg = finite(number * known->factor, text, remedy);
  } else if (const Unit* known_volume = find_unit(unit, volume)) {
    amount.m3 = finite(number * known_volume->factor, text, remedy);
  } else if (const Amount* size = table.find(unit)) {
    (std::isfinite(size->kg) ? amount.kg : amount.m3) =
        finite(number * (std::isfinite(size->kg) ? size->kg : size->m3), text, remedy);
  } else {
    throw_unknown_unit(trimmed(text), unit, allowed);
  }
  return amount;
}

double parse_number(std::string_view text) {
  const std::string remedy = "write a decimal number, for example \"1.5\"";
  const auto [number, unit] = split(text, remedy);
  refuse_other_number_forms(trimmed(text), unit);
  if (!unit.empty()) {
    throw UnitError(fmt::format("\"{}\" is not a number alone", trimmed(text)), remedy);
  }
  return number;
}

} // namespace heapcast::cli
