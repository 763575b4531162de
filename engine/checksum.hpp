#pragma once

#include <cstdint>
#include <string_view>

namespace heapcast::engine {

/// FNV-1a hash of bytes, 64 bit; `before` is that of the bytes before them. For finding damage and
/// telling texts apart, not for security. Source: Fowler, Noll and Vo.
[[nodiscard]] constexpr std::uint64_t fnv1a64(std::string_view bytes,
                                              std::uint64_t before = 0xcbf29ce484222325U) {
  for (const char byte : bytes) {
    before = (before ^ static_cast<unsigned char>(byte)) * 0x100000001b3U;
  }
  return before;
}

} // namespace heapcast::engine
