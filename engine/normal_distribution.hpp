#pragma once

namespace heapcast::engine {

/// Share of the standard normal distribution below `score`.
[[nodiscard]] double normal_share(double score);

/// The score with `share` of the standard normal distribution below it; minus and plus infinity for
/// 0 and 1. Throws std::domain_error outside 0..1.
[[nodiscard]] double normal_score(double share);

} // namespace heapcast::engine
