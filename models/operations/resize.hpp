#pragma once

#include "models/pile.hpp"

namespace heapcast::models {

/// What of a pile is made larger or smaller.
enum class SizeBy {
  height, ///< with the section's shape kept: a windrow wider as well, a heap and a bin in all ways
  length, ///< of a windrow, with its section kept
  volume  ///< of the materials at the build, of a bin what it holds; grown as by height
};

/// The size of a pile as described, with what follows from its materials [m or m3].
/// Throws InputError when the shape has no such size.
[[nodiscard]] double size_of(const PileDescription& pile, SizeBy by);

/// The same pile at another size: the amounts of all that goes in, at the build and later, of water
/// given by the litre, and of air blown, change with the volume; shares, times, thicknesses and the
/// depth of probes stay. `size` in m or m3, above 0. Throws InputError as `size_of` does.
[[nodiscard]] PileDescription resized(const PileDescription& pile, SizeBy by, double size);

/// The same pile from drier or wetter materials: all of them with so much more or less water that
/// the mix has `moisture` [kg/kg wet, 0..1]. None gets wetter than 95 % or drier than 2 %, so that
/// the mix may stay away from what is asked.
[[nodiscard]] PileDescription at_moisture(const PileDescription& pile, double moisture);

/// Water in the mix at the build [kg/kg wet].
[[nodiscard]] double mix_moisture(const PileDescription& pile);

} // namespace heapcast::models
