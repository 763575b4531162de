#pragma once

#include "models/pile_state.hpp"

#include <array>
#include <vector>

namespace heapcast::models {

/// Amounts of everything in one lot of material, all additive: the state of a cell with its
/// intensive fields multiplied by what they belong to. Lots mix by adding.
struct Parcel {
  std::array<double, cell_fields> amount{};

  [[nodiscard]] double& operator[](CellField f) { return amount[static_cast<std::size_t>(f)]; }
  [[nodiscard]] double operator[](CellField f) const { return amount[static_cast<std::size_t>(f)]; }
  void add(const Parcel& other, double share);
};

/// Takes the state apart into one parcel a cell, and puts parcels back into cells.
[[nodiscard]] std::vector<Parcel> take_apart(const PileState& state);
void put_together(const std::vector<Parcel>& parcels, PileState& state);

/// Total carbon [kg] and dry mass [kg] of a parcel.
[[nodiscard]] double parcel_carbon_kgC(const Parcel& p);
[[nodiscard]] double parcel_dry_mass_kg(const Parcel& p);

} // namespace heapcast::models
