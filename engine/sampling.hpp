#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

namespace heapcast::engine {

/// Points of the open unit cube, each known by its index alone, so that a part of them can be
/// computed without the others, in any order and on any thread.
struct Design {
  std::size_t size = 0;      ///< number of points
  std::size_t dimension = 0; ///< number of factors
  /// Coordinates of point `index` < size, each above 0 and below 1.
  std::function<std::vector<double>(std::size_t index)> point;
};

/// Which of `levels` >= 1 equal parts of 0..1 a coordinate lies in: 0 to levels - 1.
[[nodiscard]] std::size_t level_at(double coordinate, std::size_t levels);

/// The middle of part `level` of `levels`: (level + 1/2)/levels. `level_at` leads back.
[[nodiscard]] double middle_of_level(std::size_t level, std::size_t levels);

/// Every combination of levels; `levels[j]` >= 1 is the number of those of factor j, at their
/// middles. The last factor changes first. Throws std::length_error for more than 2^53 points.
[[nodiscard]] Design full_grid(std::vector<std::size_t> levels);

/// The point with every factor j at level `base[j]`, then one factor after the other through its
/// other levels, from the lowest: 1 + sum (levels[j] - 1) points.
[[nodiscard]] Design one_at_a_time(std::vector<std::size_t> levels, std::vector<std::size_t> base);

/// `size` points of which each factor has exactly one in each of `size` equal parts of 0..1, at a
/// random place in it. Source: McKay, Beckman & Conover 1979, Technometrics 21, 239-245 (memory).
/// Holds 4 bytes for each point and factor. Throws std::length_error for 2^32 points and more.
[[nodiscard]] Design latin_hypercube(std::size_t size, std::size_t dimension, std::uint64_t seed);

/// The first points of Sobol's sequence, whole from its first point, 0, on, with a random digital
/// shift for each factor: what makes the first 2^k points even is kept, and no coordinate is 0.
/// Sources: Joe & Kuo 2008 for the direction numbers (in Boost), Owen 2020, "On dropping the first
/// Sobol' point" for keeping it (memory). Throws std::length_error for more factors than
/// `most_sobol_factors`.
[[nodiscard]] Design sobol_sequence(std::size_t size, std::size_t dimension, std::uint64_t seed);
inline constexpr std::size_t most_sobol_factors = 3667;

/// Blocks of dimension + 2 points for Sobol' indices: a point of A, one of B, then for each factor
/// i the point of A with coordinate i from that of B. A and B are halves of one Sobol' sequence of
/// twice the dimension. `blocks` is best a power of 2.
/// Source: Saltelli et al. 2010, Comput. Phys. Commun. 181, 259-270 (memory).
[[nodiscard]] Design saltelli_design(std::size_t blocks, std::size_t dimension, std::uint64_t seed);

/// Step of `morris_design` along one factor, up or down.
inline constexpr double morris_step = 0.5;

/// Trajectories of dimension + 1 points, each next one half the range away in one factor, which is
/// every factor once, in random order, up or down, from a random point of the grid of `levels`
/// levels. These are the middles of equal parts, so that no coordinate is 0 or 1: Morris' own grid,
/// whose step is levels/(2 (levels - 1)), shrunk by (levels - 1)/levels.
/// Source: Morris 1991, Technometrics 33, 161-174 (memory). Throws std::invalid_argument unless
/// `levels` is even and at least 2.
[[nodiscard]] Design morris_design(std::size_t trajectories, std::size_t dimension,
                                   std::size_t levels, std::uint64_t seed);

} // namespace heapcast::engine
