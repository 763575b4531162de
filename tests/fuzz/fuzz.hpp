#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string_view>
#include <vector>

// What the fuzz targets share. A target is one file, NAME_fuzz.cpp, with the function below; its
// seeds lie in tests/fuzz/corpus/NAME. Only the errors that a reader says it throws are caught: any
// other exception ends the target, as a finding.

/// Called by libFuzzer with every input.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace heapcast::tests {

/// Ends the target, as a finding, when what was accepted breaks a promise.
inline void require(bool promise, const char* what) {
  if (!promise) {
    std::fprintf(stderr, "broken promise: %s\n", what);
    std::abort();
  }
}

inline void require_finite(const std::vector<double>& values, const char* what) {
  for (const double value : values) {
    require(std::isfinite(value), what);
  }
}

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
  return {reinterpret_cast<const char*>(data), size};
}

} // namespace heapcast::tests
