#include "cli/output/cf_unit.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace heapcast::cli {
namespace {

/// Words in a unit that say of what it is, or that it is a bare number.
bool is_no_unit(std::string_view word) {
  static constexpr std::array<std::string_view, 18> words{
      "C",   "CO2-C", "N",  "O2", "CO2",   "H2O",       "NH3", "NH4", "NO3",
      "N2O", "DM",    "OM", "VS", "water", "wet-basis", "wet", "vol", "log10"};
  return word == "1" || word == "-" || std::find(words.begin(), words.end(), word) != words.end();
}

std::string in_udunits(std::string_view word) {
  // xarray takes numbers in "days" or "hours" for time spans, and a missing one for no time at all.
  for (const auto& [written, plain] : {std::pair<std::string_view, const char*>{"°C", "degC"},
                                       {"days", "day"},
                                       {"hours", "h"},
                                       {"minutes", "min"},
                                       {"seconds", "s"}}) {
    if (word == written) {
      return plain;
    }
  }
  for (const auto& [sign, digit] :
       {std::pair<std::string_view, const char*>{"²", "2"}, {"³", "3"}}) {
    if (word.ends_with(sign)) {
      return std::string(word.substr(0, word.size() - sign.size())) + digit;
    }
  }
  return std::string(word);
}

/// m2 → m-2, h → h-1
std::string inverse(const std::string& unit) {
  const std::size_t letters = unit.find_last_not_of("0123456789") + 1;
  const std::string exponent = letters == unit.size() ? "1" : unit.substr(letters);
  return unit.substr(0, letters) + "-" + exponent;
}

} // namespace

std::string cf_unit(std::string_view shown) {
  std::string unit;
  bool below = false; // the fraction bar
  const auto add = [&](const std::string& factor) {
    unit += unit.empty() ? "" : " ";
    unit += below ? inverse(factor) : factor;
  };
  while (!shown.empty()) {
    const std::size_t length = std::min(shown.find_first_of(" /"), shown.size());
    const std::string_view word = shown.substr(0, length);
    if (word == "kWh") { // not known to UDUNITS
      add("kW");
      add("h");
    } else if (!word.empty() && !is_no_unit(word)) {
      add(in_udunits(word));
    }
    if (length < shown.size() && shown[length] == '/') {
      below = true;
    }
    shown.remove_prefix(std::min(length + 1, shown.size()));
  }
  return unit.empty() ? "1" : unit;
}

} // namespace heapcast::cli
