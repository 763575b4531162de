#pragma once

#include "engine/sampling.hpp"

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace heapcast::engine {

/// How the intervals of Sobol' indices are made.
struct BootstrapOptions {
  std::uint64_t seed = 1;
  std::size_t resamples = 1000; ///< at least 1
  double confidence = 0.95;     ///< share of the resamples between `low` and `high`
};

/// A share of variance with the percentile interval of its bootstrap. An estimate may lie a little
/// below 0 or above 1.
struct IndexEstimate {
  double value = 0.0, low = 0.0, high = 0.0;
};

struct SobolIndices {
  std::vector<IndexEstimate> first;  ///< by factor: share of the variance due to it alone
  std::vector<IndexEstimate> total;  ///< with all interactions that it takes part in
  double mean = 0.0, variance = 0.0; ///< of the output, over A and B
  std::size_t blocks = 0;            ///< that were used
  std::size_t dropped = 0;           ///< left out whole for a missing value in them
};

/// First-order and total Sobol' indices of one output over the points of `saltelli_design`.
///
/// With f centred on its mean, V its variance over A and B, and sums over the blocks n:
/// - first-order S_i = (1/N) sum f(B)_n (f(AB_i)_n - f(A)_n) / V: Saltelli et al. 2010, Comput.
///   Phys. Commun. 181, 259-270, table 2 (b) (memory);
/// - total T_i = (1/(2 N)) sum (f(A)_n - f(AB_i)_n)^2 / V: Jansen 1999, Comput. Phys. Commun. 117,
///   35-43 (memory).
/// Whole blocks are drawn again for the intervals, each resample with its own V.
///
/// @param outputs in the order of the points; NaN or infinite where missing. A block with one is
///   left out: what is left over then speaks only for where the output exists.
/// All indices are NaN with fewer than 2 blocks, or when the output does not vary.
/// Throws std::invalid_argument when `outputs` are not whole blocks of factors + 2.
[[nodiscard]] SobolIndices sobol_indices(std::span<const double> outputs, std::size_t factors,
                                         const BootstrapOptions& options = {});

/// Elementary effects of one factor: change of the output by change of the coordinate, so that the
/// unit is that of the output over the factor's whole range.
struct MorrisEffect {
  double mu = 0.0;      ///< mean; NaN without effects
  double mu_star = 0.0; ///< mean of the absolute values
  double sigma = 0.0;   ///< standard deviation (n - 1); NaN with fewer than 2 effects
  std::size_t effects = 0;
  std::size_t dropped = 0; ///< with a missing value at either end
};

/// Effects of every factor over the points of a `morris_design`. Sources: Morris 1991 for mu and
/// sigma; Campolongo, Cariboni & Saltelli 2007, Environ. Model. Softw. 22, 1509-1518 for mu*
/// (memory). `outputs` as for `sobol_indices`; throws std::invalid_argument when their number is
/// not the design's.
[[nodiscard]] std::vector<MorrisEffect> morris_effects(const Design& design,
                                                       std::span<const double> outputs);

} // namespace heapcast::engine
