#include "engine/counter_random.hpp"

namespace heapcast::engine {

namespace {

constexpr std::uint64_t step = 0x9E3779B97F4A7C15U;

std::uint64_t finalised(std::uint64_t bits) {
  bits = (bits ^ (bits >> 30U)) * 0xBF58476D1CE4E5B9U;
  bits = (bits ^ (bits >> 27U)) * 0x94D049BB133111EBU;
  return bits ^ (bits >> 31U);
}

} // namespace

std::uint64_t random_bits(const RandomKey& key) {
  const std::uint64_t of_seed = finalised(key.seed + step);
  const std::uint64_t of_stream = finalised(of_seed + (key.stream + 1) * step);
  return finalised(of_stream + (key.counter + 1) * step);
}

double random_share(const RandomKey& key) {
  constexpr double steps = 0x1p-52;
  return (static_cast<double>(random_bits(key) >> 12U) + 0.5) * steps;
}

} // namespace heapcast::engine
