#include "cli/input/parse_toml.hpp"

#include "cli/input/toml_location.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <cstddef>
#include <memory>
#include <optional>
#include <string>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

/// The end of the string that starts at `at`, behind its closing quotes.
std::size_t behind_string(std::string_view text, std::size_t at) {
  const char quote = text[at];
  const std::string_view three = text.substr(at, 3);
  if (three == "\"\"\"" || three == "'''") {
    const std::size_t end = text.find(three, at + 3);
    return end == std::string_view::npos ? text.size() : end + 3;
  }
  for (++at; at < text.size() && text[at] != quote && text[at] != '\n'; ++at) {
    if (quote == '"' && text[at] == '\\') {
      ++at;
    }
  }
  return std::min(at + 1, text.size());
}

/// Where a key has too many parts.
std::optional<std::size_t> endless_key(std::string_view text) {
  std::size_t dots = 0;
  for (std::size_t at = 0; at < text.size();) {
    const char c = text[at];
    if (c == '"' || c == '\'') {
      at = behind_string(text, at);
      continue;
    }
    if (c == '#') {
      at = std::min(text.find('\n', at), text.size());
      continue;
    }
    if (c == '\n' || c == '=' || c == ',') {
      dots = 0;
    } else if (c == '.' && ++dots >= most_key_parts) {
      return at;
    }
    ++at;
  }
  return std::nullopt;
}

} // namespace

toml::table parse_toml(std::string_view text, std::string_view name) {
  if (const auto at = endless_key(text)) {
    toml::source_region place;
    place.begin.line = static_cast<toml::source_index>(
        1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(*at), '\n'));
    place.begin.column = 1;
    place.path = std::make_shared<const std::string>(name);
    throw InputError(location(name, place),
                     fmt::format("a key has more than {} parts", most_key_parts),
                     "write keys as they are listed, for example pile.height");
  }
  return toml::parse(text, name);
}

toml::table parse_toml_file(std::string_view text, const std::string& name) {
  try {
    return parse_toml(text, name);
  } catch (const toml::parse_error& error) {
    throw InputError(location(name, error.source()),
                     printable(fmt::format("this is not TOML: {}", error.description())),
                     "mend this place; text stands in \"quotes\", sections in [brackets]");
  }
}

} // namespace heapcast::cli
