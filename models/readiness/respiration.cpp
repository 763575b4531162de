#include "models/readiness/respiration.hpp"

#include <array>
#include <limits>
#include <stdexcept>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

constexpr double unbounded = std::numeric_limits<double>::infinity();
constexpr std::string_view bgk = "BGK Methodenbuch; Brinton et al. 1995";
constexpr std::string_view tmecc = "TMECC 05.08-B (USCC/USDA 2001)";
constexpr std::string_view ccqc = "CCQC Compost Maturity Index 2001";

} // namespace

std::span<const StabilityClass> self_heating_classes() {
  static constexpr std::array<StabilityClass, 5> classes = {
      {{"V", "finished, cured", 0.0, 10.0, bgk, "memory"},
       {"IV", "finished, still curing", 10.0, 20.0, bgk, "memory"},
       {"III", "active, decomposing", 20.0, 30.0, bgk, "memory"},
       {"II", "young, very active", 30.0, 40.0,
        "the gap between classes III and I; https://paderkompost.de/kreislauf/kompostierung: 50-60 "
        "degC",
        "read"},
       {"I", "fresh, raw", 40.0, unbounded,
        "https://paderkompost.de/kreislauf/kompostierung: 60-70 degC", "read"}}};
  return classes;
}

std::span<const StabilityClass> carbon_dioxide_classes() {
  static constexpr std::array<StabilityClass, 5> classes = {
      {{"very stable", "well cured", 0.0, 2.0, tmecc, "memory"},
       {"stable", "cured", 2.0, 8.0, tmecc, "memory"},
       {"moderately unstable", "curing", 8.0, 15.0, "the gap between the neighbouring classes",
        "computed"},
       {"unstable", "raw compost", 15.0, 40.0, tmecc, "memory"},
       {"very unstable", "raw feedstock", 40.0, unbounded, tmecc, "memory"}}};
  return classes;
}

std::span<const StabilityClass> oxygen_uptake_classes() {
  static constexpr std::array<StabilityClass, 3> classes = {
      {{"very mature", "well cured", 0.0, 0.4, ccqc, "memory"},
       {"mature", "cured", 0.4, 1.3, ccqc, "memory"},
       {"immature", "uncured or raw", 1.3, unbounded, ccqc, "memory"}}};
  return classes;
}

const StabilityClass& stability_class(std::span<const StabilityClass> classes, double value) {
  if (value >= classes.front().low) {
    for (const StabilityClass& one : classes) {
      if (value <= one.high) {
        return one;
      }
    }
  }
  throw std::out_of_range(fmt::format("{} lies in no class of stability", value));
}

} // namespace heapcast::models
