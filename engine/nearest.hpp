#pragma once

#include <span>
#include <string>
#include <string_view>

namespace heapcast::engine {

/// The candidate that `word` was most likely meant to be, or "" when none is near.
///
/// Near means an edit distance (insert, delete, replace, swap of neighbours; letter case ignored)
/// of at most a third of the longer word's length and at least 1; the first of equals wins. Words
/// of more than 64 characters are no slip of a name and are not compared.
[[nodiscard]] std::string nearest(std::string_view word, std::span<const std::string> candidates);

/// Number of insertions, deletions, replacements and swaps of neighbours that turn one word into
/// the other; letter case ignored (optimal string alignment).
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);

} // namespace heapcast::engine
