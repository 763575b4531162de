#pragma once

#include <string>
#include <string_view>

#include <fmt/format.h>
#include <toml++/toml.h>

namespace heapcast::cli {

/// "pile.toml:12:8", where a node or a parse error stands.
[[nodiscard]] inline std::string location(std::string_view file,
                                          const toml::source_region& region) {
  return fmt::format("{}:{}:{}", file, region.begin.line, region.begin.column);
}

[[nodiscard]] inline std::string location(std::string_view file, const toml::node& node) {
  return location(file, node.source());
}

} // namespace heapcast::cli
