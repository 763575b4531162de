#pragma once

#include <cstddef>

/// Several runs side by side: an array of a quantity holds the values of all lanes of a cell (or
/// face) next to each other, [cell][lane], so that the compiler turns a loop over lanes into vector
/// instructions. With one lane the loop over cells is turned into them instead.

/// Before a function: compiles it for several instruction sets and takes the best one at run time.
/// Everything it calls must be inline. Sanitizers do not go with it: they run before it can choose.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) &&                             \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define HEAPCAST_VECTORISED __attribute__((target_clones("avx512f", "avx2", "default"), flatten))
#define HEAPCAST_HAS_VECTOR_MATH 1
#else
#define HEAPCAST_VECTORISED
#define HEAPCAST_HAS_VECTOR_MATH 0
#endif

/// Before a loop whose turns do not depend on each other.
#if defined(__GNUC__) && !defined(__clang__)
#define HEAPCAST_INDEPENDENT _Pragma("GCC ivdep")
#else
#define HEAPCAST_INDEPENDENT
#endif

/// After the parameters of a lambda that is the body of such a loop.
#define HEAPCAST_INLINE __attribute__((always_inline))

namespace heapcast::engine {

/// body(i, lane) for every cell's entry i = cell * lanes + lane. The calls must not depend on each
/// other.
template <int lanes, class Body>
HEAPCAST_INLINE inline void each_entry(std::size_t cells, const Body& body) {
  if constexpr (lanes == 1) {
    HEAPCAST_INDEPENDENT
    for (std::size_t i = 0; i < cells; ++i) {
      body(i, 0);
    }
  } else {
    for (std::size_t cell = 0; cell < cells; ++cell) {
      HEAPCAST_INDEPENDENT
      for (int lane = 0; lane < lanes; ++lane) {
        body(cell * lanes + static_cast<std::size_t>(lane), lane);
      }
    }
  }
}

/// The same in turn: calls for one lane may depend on each other.
template <int lanes, class Body>
HEAPCAST_INLINE inline void each_entry_in_turn(std::size_t cells, const Body& body) {
  for (std::size_t cell = 0; cell < cells; ++cell) {
    HEAPCAST_INDEPENDENT
    for (int lane = 0; lane < lanes; ++lane) {
      body(cell * lanes + static_cast<std::size_t>(lane), lane);
    }
  }
}

/// body(lane) for every lane. The calls must not depend on each other.
template <int lanes, class Body> HEAPCAST_INLINE inline void each_lane(const Body& body) {
  HEAPCAST_INDEPENDENT
  for (int lane = 0; lane < lanes; ++lane) {
    body(lane);
  }
}

/// to = take[lane] > 0 ? from : to.
template <int lanes>
void choose_lanes(std::size_t cells, const double* from, const double* take, double* to) {
  each_entry<lanes>(cells, [&](std::size_t i, int l)
                               HEAPCAST_INLINE { to[i] = take[l] > 0.0 ? from[i] : to[i]; });
}

} // namespace heapcast::engine
