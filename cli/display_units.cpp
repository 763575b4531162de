#include "cli/display_units.hpp"

#include "cli/input/units.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <optional>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using enum Dimension;

/// Metric units as models, results and sentences write them, and what stands for them. Factors are
/// those of the input's units: what is shown can be written into a pile file.
struct Counterpart {
  std::string_view metric;  ///< as it is written
  std::string_view written; ///< as units.cpp has it
  std::string_view us;
  std::string_view word; ///< in a sentence
  Dimension dimension;
};
constexpr auto counterparts = std::to_array<Counterpart>({
    {"degC", "degC", "degF", "degF", temperature},
    {"°C", "degC", "degF", "°F", temperature},
    {"K", "K", "degF", "°F", temperature_difference},
    {"kg", "kg", "lb", "lb", mass},
    {"g", "g", "oz", "oz", mass},
    {"t", "t", "short ton", "short tons", mass},
    {"m3", "m3", "yd3", "yd3", volume},
    {"m³", "m3", "yd3", "yd³", volume},
    {"L", "L", "gal", "gal", volume},
    {"litres", "L", "gal", "gallons", volume},
    {"mL", "mL", "pt", "pt", volume},
    {"m", "m", "ft", "ft", length},
    {"cm", "cm", "in", "in", length},
    {"mm", "mm", "in", "in", length},
    {"m3/h", "m3/h", "cfm", "cfm", volume_flow},
    {"m3 h-1", "m3/h", "cfm", "cfm", volume_flow},
    {"m/s", "m/s", "mph", "mph", speed},
    {"kg/m3", "kg/m3", "lb/yd3", "lb/yd3", mass_density},
});

/// What a unit of a rate may end in; what stands before it is converted.
constexpr auto rate_ends = std::to_array<std::string_view>({"/h", " h-1", "/day", "/d", " d-1"});

DisplayUnit converted(const Counterpart& row) {
  if (row.dimension == temperature) {
    // Kelvin leave a rounding of 1e-13 in small differences, in which 32 degF would not be whole.
    constexpr double degree = 9.0 / 5.0;
    constexpr double freezing_degF = 32.0;
    return {std::string(row.us), degree, freezing_degF};
  }
  const auto si = [&](int count, std::string_view unit) {
    return parse_quantity(fmt::format("{} {}", count, unit), row.dimension);
  };
  return {std::string(row.us), si(1, row.written) / si(1, row.us)};
}

const Counterpart* counterpart(std::string_view unit) {
  const auto* const found = std::ranges::find(counterparts, unit, &Counterpart::metric);
  return found == counterparts.end() ? nullptr : found;
}

bool is_digit(char c) {
  return std::isdigit(static_cast<unsigned char>(c)) != 0;
}

/// A letter, or a byte of a character that is not ASCII.
bool is_letter(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return byte >= 0x80U || std::isalpha(byte) != 0;
}

/// What ends a unit: nothing that could belong to a longer one.
bool ends_unit(std::string_view rest) {
  return rest.empty() || !(is_letter(rest.front()) || is_digit(rest.front()) ||
                           rest.front() == '/' || rest.front() == '^');
}

/// A decimal number at the beginning of `text`, as it is written.
std::string_view number_at(std::string_view text) {
  std::size_t end = text.starts_with('-') ? 1 : 0;
  const std::size_t first = end;
  while (end < text.size() && is_digit(text[end])) {
    ++end;
  }
  if (end == first) {
    return {};
  }
  if (end + 1 < text.size() && text[end] == '.' && is_digit(text[end + 1])) {
    for (++end; end < text.size() && is_digit(text[end]);) {
      ++end;
    }
  }
  return text.substr(0, end);
}

std::size_t decimals(std::string_view number) {
  const auto point = number.find('.');
  return point == std::string_view::npos ? 0 : number.size() - point - 1;
}

std::size_t significant(std::string_view number) {
  const auto first = number.find_first_of("123456789");
  return first == std::string_view::npos
             ? 1
             : static_cast<std::size_t>(std::ranges::count_if(number.substr(first), is_digit));
}

/// The number in the other unit, about as exactly as it was written.
std::string shown(std::string_view number, const DisplayUnit& unit, Dimension dimension) {
  double value = 0.0;
  std::from_chars(number.data(), number.data() + number.size(), value);
  if (dimension == temperature || dimension == temperature_difference) {
    return fmt::format("{:.{}f}", unit(value), decimals(number));
  }
  // "{:g}" would write 2250 with three digits as 2.25e+03.
  const std::string rounded =
      fmt::format("{:.{}e}", unit(value), std::max<std::size_t>(2, significant(number)) - 1);
  std::from_chars(rounded.data(), rounded.data() + rounded.size(), value);
  return fmt::format("{}", value);
}

constexpr auto blanks = std::to_array<std::string_view>({" ", "\u00a0"});
constexpr auto range_words = std::to_array<std::string_view>({" to ", "\u2009–\u2009", " and "});

template <class Words> std::string_view word_at(std::string_view text, const Words& words) {
  const auto* const found =
      std::ranges::find_if(words, [&](std::string_view word) { return text.starts_with(word); });
  return found == words.end() ? std::string_view() : *found;
}

/// A unit with a counterpart behind a number, the longest that fits.
const Counterpart* unit_at(std::string_view text) {
  const Counterpart* longest = nullptr;
  for (const Counterpart& row : counterparts) {
    if (text.starts_with(row.metric) && ends_unit(text.substr(row.metric.size())) &&
        (longest == nullptr || row.metric.size() > longest->metric.size())) {
      longest = &row;
    }
  }
  return longest;
}

/// "55 °C" or "20 to 30 °C" at the beginning of a text.
struct Quantity {
  std::string_view first, between, second; ///< the last two empty without a range
  std::string_view blank;
  const Counterpart* unit;
  [[nodiscard]] std::size_t size() const {
    return first.size() + between.size() + second.size() + blank.size() + unit->metric.size();
  }
};

std::optional<Quantity> quantity_at(std::string_view text) {
  Quantity found{number_at(text), {}, {}, {}, nullptr};
  if (found.first.empty()) {
    return std::nullopt;
  }
  std::string_view rest = text.substr(found.first.size());
  if (const std::string_view between = word_at(rest, range_words); !between.empty()) {
    const std::string_view second = number_at(rest.substr(between.size()));
    if (!second.empty()) {
      found.between = between;
      found.second = second;
      rest.remove_prefix(between.size() + second.size());
    }
  }
  found.blank = word_at(rest, blanks);
  if (found.blank.empty()) {
    return std::nullopt;
  }
  found.unit = unit_at(rest.substr(found.blank.size()));
  return found.unit == nullptr ? std::nullopt : std::optional(found);
}

} // namespace

DisplayUnit display_unit(std::string_view unit, DisplayUnits units) {
  if (units == DisplayUnits::us) {
    if (const Counterpart* row = counterpart(unit)) {
      return converted(*row);
    }
    for (const std::string_view end : rate_ends) {
      if (unit.ends_with(end)) {
        if (const Counterpart* row = counterpart(unit.substr(0, unit.size() - end.size()))) {
          DisplayUnit rate = converted(*row);
          rate.name += end;
          return rate;
        }
      }
    }
  }
  return {std::string(unit)};
}

std::string in_display_units(std::string_view text, DisplayUnits units) {
  if (units == DisplayUnits::metric) {
    return std::string(text);
  }
  std::string out;
  while (!text.empty()) {
    // A number within a word or a longer number is none: "CH4", "10.5".
    const bool begins = out.empty() || !(is_letter(out.back()) || is_digit(out.back()) ||
                                         out.back() == '.' || out.back() == '_');
    const std::optional<Quantity> quantity = begins ? quantity_at(text) : std::nullopt;
    if (!quantity) {
      out += text.front();
      text.remove_prefix(1);
      continue;
    }
    const DisplayUnit unit = converted(*quantity->unit);
    out += shown(quantity->first, unit, quantity->unit->dimension);
    if (!quantity->second.empty()) {
      out += quantity->between;
      out += shown(quantity->second, unit, quantity->unit->dimension);
    }
    out += quantity->blank;
    out += quantity->unit->word;
    text.remove_prefix(quantity->size());
  }
  return out;
}

std::string unit_sign(std::string_view unit, bool utf8) {
  std::string text(unit);
  if (utf8) {
    for (const auto& [spelt, sign] : std::to_array<std::pair<std::string_view, std::string_view>>(
             {{"degC", "°C"}, {"degF", "°F"}, {"m3", "m³"}, {"yd3", "yd³"}, {"ft3", "ft³"}})) {
      if (text == spelt) {
        text = sign;
      }
    }
  }
  return text;
}

} // namespace heapcast::cli
