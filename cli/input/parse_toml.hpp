#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include <toml++/toml.h>

namespace heapcast::cli {

/// Parts of a dotted key; the pile file has keys of four.
inline constexpr std::size_t most_key_parts = 50;

/// `toml::parse`, but for a dotted key of more than `most_key_parts` an InputError with its line.
///
/// toml++ limits the nesting of values, not that of the tables a dotted key makes, and takes tables
/// apart by recursion: a key of a hundred thousand parts overflows the stack.
[[nodiscard]] toml::table parse_toml(std::string_view text, std::string_view name);

/// The same for a file of the user's: what is no TOML is an InputError with its place.
[[nodiscard]] toml::table parse_toml_file(std::string_view text, const std::string& name);

} // namespace heapcast::cli
