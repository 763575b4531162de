#pragma once

#include "models/properties/moist_air.hpp"

namespace heapcast::models {

/// Oxygen that a carbohydrate takes up, kg O2 per kg C: one mole for each mole of carbon, 2.664.
inline constexpr double oxygen_per_carbon_kg_kgC =
    molar_mass_oxygen_kg_mol / molar_mass_carbon_kg_mol;

/// Atoms in a molecule of carbon, hydrogen and oxygen.
struct Compound {
  double carbon;
  double hydrogen;
  double oxygen;
};

/// Molar mass, kg/mol.
[[nodiscard]] constexpr double molar_mass_kg_mol(const Compound& compound) {
  constexpr double molar_mass_hydrogen_kg_mol = 0.001008;
  return compound.carbon * molar_mass_carbon_kg_mol +
         compound.hydrogen * molar_mass_hydrogen_kg_mol +
         compound.oxygen * 0.5 * molar_mass_oxygen_kg_mol;
}

/// Oxygen for complete oxidation to CO2 and water, mol O2 per mol: C + H/4 − O/2.
[[nodiscard]] constexpr double oxygen_demand_mol_mol(const Compound& compound) {
  return compound.carbon + 0.25 * compound.hydrogen - 0.5 * compound.oxygen;
}

/// Oxygen for complete oxidation, kg O2 per kg.
[[nodiscard]] constexpr double oxygen_demand_kg_kg(const Compound& compound) {
  return oxygen_demand_mol_mol(compound) * molar_mass_oxygen_kg_mol / molar_mass_kg_mol(compound);
}

/// CO2 from complete oxidation, kg CO2 per kg.
[[nodiscard]] constexpr double carbon_dioxide_kg_kg(const Compound& compound) {
  return compound.carbon * (molar_mass_carbon_kg_mol + molar_mass_oxygen_kg_mol) /
         molar_mass_kg_mol(compound);
}

/// Dry air that holds one kg of oxygen, kg: M_a / (M_O2 0.20946).
inline constexpr double dry_air_per_oxygen_kg_kg =
    molar_mass_dry_air_kg_mol / (molar_mass_oxygen_kg_mol * oxygen_in_dry_air);

} // namespace heapcast::models
