#pragma once

#include "models/properties/moist_air.hpp"

#include <span>
#include <string_view>

namespace heapcast::models {

/// How fast organic matter breathes, one number on every scale in use.
///
/// All scales are per organic matter (volatile solids) and convert exactly by molar masses; between
/// oxygen taken up and carbon dioxide given off one mole stands for one mole (a respiratory
/// quotient of 1, that of carbohydrate). They do not convert between temperatures: a rate at 37
/// degC stays one at 37 degC. Reference: validation/reference/stability.csv.
class Respiration {
public:
  /// mmol O2 per kg organic matter and hour: the oxygen uptake rate of EN 16087-1.
  [[nodiscard]] static constexpr Respiration from_mmolO2_kg_h(double value) {
    return Respiration(value * 1e-3 / hour_s);
  }
  /// mg O2 per g organic matter and hour.
  [[nodiscard]] static constexpr Respiration from_mgO2_g_h(double value) {
    return Respiration(value * 1e-3 / molar_mass_oxygen_kg_mol / hour_s);
  }
  /// mg O2 per kg volatile solids and hour: the dynamic respiration index.
  [[nodiscard]] static constexpr Respiration from_mgO2_kg_h(double value) {
    return from_mgO2_g_h(value * 1e-3);
  }
  /// mg CO2-C per g organic matter and day.
  [[nodiscard]] static constexpr Respiration from_mgC_g_d(double value) {
    return Respiration(value * 1e-3 / molar_mass_carbon_kg_mol / day_s);
  }
  /// mg CO2 per g organic matter and day.
  [[nodiscard]] static constexpr Respiration from_mgCO2_g_d(double value) {
    return Respiration(value * 1e-3 / molar_mass_carbon_dioxide_kg_mol / day_s);
  }
  /// mol O2 (or mol CO2) per kg organic matter and second.
  [[nodiscard]] static constexpr Respiration from_mol_kg_s(double value) {
    return Respiration(value);
  }

  [[nodiscard]] constexpr double mmolO2_kg_h() const { return mol_kg_s_ * 1e3 * hour_s; }
  [[nodiscard]] constexpr double mgO2_g_h() const {
    return mol_kg_s_ * 1e3 * molar_mass_oxygen_kg_mol * hour_s;
  }
  [[nodiscard]] constexpr double mgO2_kg_h() const { return 1e3 * mgO2_g_h(); }
  [[nodiscard]] constexpr double mgC_g_d() const {
    return mol_kg_s_ * 1e3 * molar_mass_carbon_kg_mol * day_s;
  }
  [[nodiscard]] constexpr double mgCO2_g_d() const {
    return mol_kg_s_ * 1e3 * molar_mass_carbon_dioxide_kg_mol * day_s;
  }
  [[nodiscard]] constexpr double mol_kg_s() const { return mol_kg_s_; }

private:
  static constexpr double hour_s = 3600.0;
  static constexpr double day_s = 86400.0;
  static constexpr double molar_mass_carbon_dioxide_kg_mol =
      molar_mass_carbon_kg_mol + molar_mass_oxygen_kg_mol;

  explicit constexpr Respiration(double mol_kg_s) : mol_kg_s_(mol_kg_s) {}
  double mol_kg_s_;
};

/// One class of a published scale: values from `low` up to `high`.
struct StabilityClass {
  std::string_view name;
  std::string_view meaning;
  double low;
  double high;
  std::string_view source;
  std::string_view provenance; ///< read | memory | computed
};

/// Classes of the peak rise over 20 degC in the self-heating vessel, K; finished first.
[[nodiscard]] std::span<const StabilityClass> self_heating_classes();
/// Classes of carbon dioxide evolution, mg CO2-C per g organic matter and day; finished first.
[[nodiscard]] std::span<const StabilityClass> carbon_dioxide_classes();
/// Maturity groups by oxygen uptake, mg O2 per g organic matter and hour; finished first.
[[nodiscard]] std::span<const StabilityClass> oxygen_uptake_classes();

/// The class that holds this value: the first whose upper edge it does not pass. A value below the
/// first class, or NaN, throws std::out_of_range.
[[nodiscard]] const StabilityClass& stability_class(std::span<const StabilityClass> classes,
                                                    double value);

} // namespace heapcast::models
