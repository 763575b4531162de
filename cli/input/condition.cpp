#include "cli/input/condition.hpp"

#include "cli/input/units.hpp"
#include "cli/joined.hpp"
#include "engine/nearest.hpp"

#include <array>
#include <string>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

struct ConditionQuantity {
  std::string_view name;
  models::Quantity quantity;
  Dimension dimension;
  std::string_view low, high;
};

using enum models::Quantity;

constexpr auto quantities = std::to_array<ConditionQuantity>({
    {"core_temperature", core_temperature, Dimension::temperature, "-40 degC", "100 degC"},
    {"mean_temperature", mean_temperature, Dimension::temperature, "-40 degC", "100 degC"},
    {"skin_temperature", skin_temperature, Dimension::temperature, "-40 degC", "100 degC"},
    {"max_temperature", max_temperature, Dimension::temperature, "-40 degC", "100 degC"},
    {"air_temperature", air_temperature, Dimension::temperature, "-60 degC", "60 degC"},
    {"moisture", moisture, Dimension::fraction, "0 %", "100 %"},
    {"core_oxygen", core_oxygen, Dimension::fraction, "0 %", "21 %"},
});

constexpr std::string_view condition_example = "core_temperature < 50 degC after > 55 degC";

std::string remedy() {
  return fmt::format("write for example when = \"{}\"", condition_example);
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string_view::npos) {
    return {};
  }
  return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

/// Takes `<`, `>`, "below" or "above" off the front; true for below. Throws when there is none.
bool take_sign(std::string_view& rest, std::string_view text) {
  constexpr std::array<std::pair<std::string_view, bool>, 6> signs = {
      {{"<=", true}, {">=", false}, {"<", true}, {">", false}, {"below", true}, {"above", false}}};
  rest = trimmed(rest);
  for (const auto& [sign, below] : signs) {
    if (rest.starts_with(sign)) {
      rest.remove_prefix(sign.size());
      return below;
    }
  }
  throw UnitError(fmt::format("\"{}\" has no < or > where one is needed", text), remedy());
}

double limit(std::string_view written, const ConditionQuantity& quantity) {
  const double value = parse_quantity(written, quantity.dimension);
  if (!(value >= parse_quantity(quantity.low, quantity.dimension) &&
        value <= parse_quantity(quantity.high, quantity.dimension))) {
    throw UnitError(fmt::format("the limit \"{}\" of {} is outside {} to {}", trimmed(written),
                                quantity.name, quantity.low, quantity.high),
                    "write a limit that can be reached");
  }
  return value;
}

} // namespace

models::Condition parse_condition(std::string_view text) {
  std::string_view rest = trimmed(text);
  const auto end = rest.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_");
  const std::string_view name = rest.substr(0, end);
  const ConditionQuantity* quantity = nullptr;
  std::vector<std::string> names;
  for (const ConditionQuantity& candidate : quantities) {
    names.emplace_back(candidate.name);
    if (candidate.name == name) {
      quantity = &candidate;
    }
  }
  if (quantity == nullptr) {
    const std::string meant = engine::nearest(name, names);
    throw UnitError(
        fmt::format("\"{}\" in \"{}\" is nothing a condition can look at{}", name, text,
                    meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
        fmt::format("use one of {}, for example \"{}\"", joined(names), condition_example));
  }
  rest.remove_prefix(name.size());

  models::Condition condition;
  condition.quantity = quantity->quantity;
  condition.text = trimmed(text);
  condition.below = take_sign(rest, text);
  constexpr std::string_view after = " after ";
  const auto split = rest.find(after);
  condition.threshold = limit(rest.substr(0, split), *quantity);
  if (split == std::string_view::npos) {
    return condition;
  }
  std::string_view armed = rest.substr(split + after.size());
  if (take_sign(armed, text) == condition.below) {
    throw UnitError(fmt::format("\"{}\" has the same sign before and after \"after\"", text),
                    "what must have been passed first lies on the other side: " + remedy());
  }
  condition.armed_beyond = limit(armed, *quantity);
  if (condition.below ? condition.armed_beyond < condition.threshold
                      : condition.armed_beyond > condition.threshold) {
    throw UnitError(fmt::format("\"{}\" holds on both sides at once", text),
                    condition.below ? "the limit after \"after >\" must be the higher one"
                                    : "the limit after \"after <\" must be the lower one");
  }
  return condition;
}

} // namespace heapcast::cli
