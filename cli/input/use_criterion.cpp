#include "cli/input/use_criterion.hpp"

#include "cli/input/units.hpp"
#include "cli/joined.hpp"
#include "engine/nearest.hpp"
#include "models/readiness/respiration.hpp"

#include <algorithm>
#include <array>
#include <string>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::Measure;
using models::Respiration;

struct MeasureInput {
  Measure measure;
  Dimension dimension;
  std::string_view low, high;
};

constexpr auto inputs = std::to_array<MeasureInput>({
    {Measure::oxygen_uptake, Dimension::respiration, "1 mmol O2/kg/h", "500 mmol O2/kg/h"},
    {Measure::carbon_dioxide, Dimension::respiration, "0.2 mg CO2-C/g/d", "200 mg CO2-C/g/d"},
    {Measure::self_heating, Dimension::temperature_difference, "1 K", "60 K"},
    {Measure::reheating, Dimension::temperature_difference, "1 K", "60 K"},
    {Measure::above_air, Dimension::temperature_difference, "1 K", "80 K"},
    {Measure::carbon_nitrogen_ratio, Dimension::ratio, "5", "100"},
    {Measure::ammonium_nitrate_ratio, Dimension::ratio, "0.01", "100"},
});
static_assert(inputs.size() == static_cast<std::size_t>(Measure::count));

constexpr std::string_view criterion_example = "oxygen_uptake <= 15 mmol O2/kg/h";

std::string_view key_of(const MeasureInput& input) {
  return models::measure_row(input.measure).key;
}

/// In the measure's unit, from SI.
double in_unit(double value, Measure measure) {
  switch (measure) {
  case Measure::oxygen_uptake:
    return Respiration::from_mol_kg_s(value).mmolO2_kg_h();
  case Measure::carbon_dioxide:
    return Respiration::from_mol_kg_s(value).mgC_g_d();
  default:
    return value;
  }
}

std::string_view without_blanks(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\n";
  const auto first = text.find_first_not_of(blanks);
  return first == std::string_view::npos
             ? std::string_view{}
             : text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

} // namespace

models::Criterion parse_criterion(std::string_view text) {
  std::string_view rest = without_blanks(text);
  const std::string_view name = rest.substr(
      0, rest.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_"));
  const auto input = std::ranges::find(inputs, name, key_of);
  if (input == inputs.end()) {
    std::vector<std::string> names;
    names.reserve(inputs.size());
    for (const MeasureInput& one : inputs) {
      names.emplace_back(key_of(one));
    }
    const std::string meant = engine::nearest(name, names);
    throw UnitError(
        fmt::format("\"{}\" in \"{}\" is nothing compost is measured by{}", name, text,
                    meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
        fmt::format("use one of {}, for example \"{}\"", joined(names), criterion_example));
  }
  rest = without_blanks(rest.substr(name.size()));
  if (!rest.starts_with('<')) {
    throw UnitError(fmt::format("\"{}\" has no <= where one is needed", text),
                    fmt::format("every measure is met at or below its limit: write for example "
                                "\"{}\"",
                                criterion_example));
  }
  rest.remove_prefix(rest.starts_with("<=") ? 2 : 1);
  const double limit = parse_quantity(rest, input->dimension);
  if (!(limit >= parse_quantity(input->low, input->dimension) &&
        limit <= parse_quantity(input->high, input->dimension))) {
    throw UnitError(fmt::format("the limit \"{}\" of {} is outside {} to {}", without_blanks(rest),
                                name, input->low, input->high),
                    "write a limit that tells finished compost from raw");
  }
  return {input->measure, in_unit(limit, input->measure)};
}

} // namespace heapcast::cli
