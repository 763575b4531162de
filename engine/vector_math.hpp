#pragma once

#include "engine/lanes.hpp"

#include <cmath>

/// Lets loops call the vector versions of the C library (glibc's libmvec, within 4 units in the
/// last place) where std::exp and its like are called for many entries.
#if HEAPCAST_HAS_VECTOR_MATH && defined(__GLIBC__)
extern "C" {
__attribute__((simd("notinbranch"))) double exp(double) noexcept;
__attribute__((simd("notinbranch"))) double expm1(double) noexcept;
__attribute__((simd("notinbranch"))) double log(double) noexcept;
__attribute__((simd("notinbranch"))) double cbrt(double) noexcept;
}
#endif
