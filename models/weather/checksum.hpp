#pragma once

#include <string>
#include <string_view>

namespace heapcast::models {

/// FNV-1a hash, 64 bit, as 16 lower-case hexadecimal digits. For telling texts apart, not for
/// security. Source: Fowler, Noll and Vo.
[[nodiscard]] std::string fnv1a64_hex(std::string_view text);

} // namespace heapcast::models
