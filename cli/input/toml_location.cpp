#include "cli/input/toml_location.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace heapcast::cli {

std::string location(std::string_view file, const toml::source_region& region) {
  if (region.path && region.path->starts_with(option_prefix)) {
    return printable(*region.path, 80);
  }
  if (!region.begin) {
    return std::string(file);
  }
  return fmt::format("{}:{}:{}", file, region.begin.line, region.begin.column);
}

std::string printable(std::string_view text, std::size_t limit) {
  std::string out(text.substr(0, limit));
  if (out.size() < text.size()) {
    // Not in the middle of a UTF-8 character: continuation bytes are 10xxxxxx.
    while (!out.empty() && (static_cast<unsigned char>(text[out.size()]) & 0xC0U) == 0x80U) {
      out.pop_back();
    }
    out += "...";
  }
  std::ranges::replace_if(
      out, [](unsigned char c) { return c < 0x20 || c == 0x7F; }, ' ');
  return out;
}

} // namespace heapcast::cli
