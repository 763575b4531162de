#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include <toml++/toml.h>

namespace heapcast::cli {

/// What a value set by an option has for its source path, before the option: see `apply_override`.
inline constexpr std::string_view option_prefix = "--set ";

/// "pile.toml:12:8", where a node or a parse error stands; the option that set the value; or the
/// file alone when the place is not known.
[[nodiscard]] std::string location(std::string_view file, const toml::source_region& region);

[[nodiscard]] inline std::string location(std::string_view file, const toml::node& node) {
  return location(file, node.source());
}

/// `text` for a message or a terminal: control characters as spaces, at most `limit` bytes with
/// "..." in place of what is left out.
[[nodiscard]] std::string printable(std::string_view text, std::size_t limit = 300);

} // namespace heapcast::cli
