#pragma once

#include "engine/mesh.hpp"
#include "models/coefficients.hpp"
#include "models/parcel.hpp"
#include "models/pile.hpp"

namespace heapcast::models {

/// What an ingredient brings, as amounts. `settled` is the settling it already has.
[[nodiscard]] Parcel ingredient_parcel(const Ingredient& ingredient, const Coefficients& k,
                                       double temperature_K, double settled);

/// Volume of ingredients mixed together [m3]: sum V - nesting (sum V - max V), uncompacted.
[[nodiscard]] double mixed_volume_m3(const std::vector<Ingredient>& ingredients, double nesting);

/// All ingredients as one lot, mixed.
[[nodiscard]] Parcel mixed_parcel(const std::vector<Ingredient>& ingredients, const Coefficients& k,
                                  double temperature_K, double settled);

/// The shape with every dimension set: unset ones follow from the volume of the materials and the
/// usual proportions (windrow twice as wide as high, heap 1.5 times; common practice, no source).
/// Throws InputError when the dimensions and the volume do not fit together.
[[nodiscard]] Shape complete_shape(const Shape& wanted, double volume_m3);

/// Mesh of a complete shape. Resolution is a count of cells: about 25, 100 and 400.
/// A bin is filled to what `volume_m3` needs, not to its height.
[[nodiscard]] engine::Mesh build_mesh(const Shape& shape, double volume_m3, Resolution resolution);

/// Volume of the ingredients as heaped, at the build's compaction [m3].
[[nodiscard]] double ingredients_volume_m3(const PileDescription& pile);

/// Fills the cells: mixed, or layer by layer from the ground up when `layered`.
void fill_pile(const PileDescription& pile, const engine::Mesh& mesh, const Coefficients& k,
               double temperature_K, PileState& state);

} // namespace heapcast::models
