#pragma once

#include "models/pile_state.hpp"

#include <array>
#include <vector>

namespace heapcast::models {

/// Amounts of everything in one lot of material, all additive: the state of a cell with its
/// intensive fields multiplied by what they belong to. Lots mix by adding.
///
/// For the flow size that is the grains' surface: a bed of volume V of solids and water has the
/// surface 6 V/d_e, and surfaces add, so that
///
///   d_e = sum V_i / sum (V_i/d_i)
///
/// (Ergun 1952 defines d as 6 over the surface per volume of grain.) A wet fine part rules the flow
/// through a mix as it does in a heap: a quarter of coarse twigs does not open a mass of wet grass.
/// Left out: that wet grains stick together (Ahn, Richard & Glanville 2008, read in abstract:
/// effective size grows with moisture).
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
