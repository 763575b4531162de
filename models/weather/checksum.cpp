#include "models/weather/checksum.hpp"

#include <fmt/format.h>

#include <cstdint>

namespace heapcast::models {

std::string fnv1a64_hex(std::string_view text) {
  std::uint64_t hash = 0xcbf29ce484222325U;
  for (const char c : text) {
    hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3U;
  }
  return fmt::format("{:016x}", hash);
}

} // namespace heapcast::models
