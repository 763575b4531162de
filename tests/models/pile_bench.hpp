#pragma once

#include "models/operations/build.hpp"
#include "models/parcel.hpp"
#include "models/pile_workspace.hpp"
#include "models/properties/heat.hpp"
#include "tests/models/pile_fixture.hpp"

#include <cstddef>
#include <random>
#include <span>
#include <utility>
#include <vector>

namespace heapcast::tests {

/// A pile as processes and operations see it, with a state that can be set freely.
struct Bench {
  PileDescription pile;
  PileSite site;
  PileState state;

  explicit Bench(PileDescription description)
      : pile(std::move(description)), site(pile, mesh()), state(site.mesh.cells()) {
    fill_pile(pile, site.mesh, site.coefficients, freezing_K + 20.0, state);
  }
  // The site points at the description beside it.
  Bench(const Bench& other) : pile(other.pile), site(pile, other.site.mesh), state(other.state) {}
  Bench& operator=(const Bench&) = delete;
  ~Bench() = default;

  [[nodiscard]] engine::Mesh mesh() const {
    const double volume = ingredients_volume_m3(pile);
    return build_mesh(complete_shape(pile.shape, volume), volume, pile.resolution);
  }

  [[nodiscard]] std::size_t cells() const { return site.mesh.cells(); }

  [[nodiscard]] std::span<const double> integrated() const {
    return {state.y.data(), state.layout.integrated_size()};
  }

  [[nodiscard]] HeatContent heat_content(std::size_t i) const {
    const Parcel parcel = take_apart(state)[i];
    return {.dry_mass_kg = parcel_dry_mass_kg(parcel),
            .water_mass_kg = parcel[CellField::water],
            .solids_heat_capacity_J_kgK = site.coefficients.solids_heat_capacity_J_kgK};
  }

  void set_temperature(std::size_t i, double temperature_K) {
    state.field(CellField::enthalpy)[i] = enthalpy_J(heat_content(i), temperature_K);
  }

  /// Every cell at another stage of another life.
  void randomise(std::mt19937& random) {
    using F = CellField;
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    for (std::size_t i = 0; i < cells(); ++i) {
      for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::biomass, F::organic_nitrogen,
                        F::ammonium_nitrogen}) {
        state.field(f)[i] *= 0.05 + 0.95 * unit(random);
      }
      state.field(F::humus)[i] = 0.3 * state.field(F::slow)[i] * unit(random);
      state.field(F::nitrate_nitrogen)[i] = state.field(F::ammonium_nitrogen)[i] * unit(random);
      state.field(F::water)[i] *= 2.0 * unit(random);
      state.field(F::settling)[i] = 0.3 * unit(random);
      set_temperature(i, freezing_K - 25.0 + 105.0 * unit(random));
      for (std::size_t k = 0; k < organism_count; ++k) {
        state.survivors(k)[i] = -20.0 * unit(random);
      }
    }
    state.total(Total::snow) = 20.0 * unit(random);
  }
};

} // namespace heapcast::tests
