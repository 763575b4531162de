#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace heapcast::cli {

/// Width of everything that is listed on a terminal.
inline constexpr std::size_t listing_columns = 100;

/// `text` broken at spaces into lines of at most `columns`, each with `indent` spaces before it and
/// a line end behind it. A word longer than a line stands alone and is not cut.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t indent,
                                  std::size_t columns = listing_columns);

/// `text` with spaces behind it up to `columns`; multi-byte characters count once.
[[nodiscard]] std::string padded(std::string_view text, std::size_t columns);

/// `text` without control characters; without `utf8` each other character that is not ASCII as "?".
[[nodiscard]] std::string clean(std::string_view text, bool utf8);

} // namespace heapcast::cli
