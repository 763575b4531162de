#pragma once

#include <cstdint>

namespace heapcast::engine {

/// Which random number is meant: every key has its own, whatever was asked for before.
struct RandomKey {
  std::uint64_t seed = 0;
  std::uint64_t stream = 0;  ///< e.g. the run
  std::uint64_t counter = 0; ///< e.g. the quantity drawn in it
};

/// 64 random bits of a key, the same on every machine. Each of the three numbers is a jump along
/// the sequence of splitmix64 from where the one before led to: with f its output function and g
/// its step, f(f(f(seed + g) + (stream + 1) g) + (counter + 1) g).
/// Source: Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators", with the
/// constants of splitmix64 (from memory). Not for secrets.
[[nodiscard]] std::uint64_t random_bits(const RandomKey& key);

/// The same as a number above 0 and below 1: the middle of one of 2^52 equal steps.
[[nodiscard]] double random_share(const RandomKey& key);

} // namespace heapcast::engine
