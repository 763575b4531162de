#include "cli/text_layout.hpp"

#include <algorithm>

namespace heapcast::cli {

namespace {

/// Number of characters in UTF-8 text: bytes that do not continue a character.
std::size_t characters(std::string_view text) {
  return static_cast<std::size_t>(std::ranges::count_if(
      text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

} // namespace

std::string wrapped(std::string_view text, std::size_t indent, std::size_t columns) {
  std::string out;
  std::string line;
  const auto flush = [&] {
    if (!line.empty()) {
      out += std::string(indent, ' ') + line + '\n';
      line.clear();
    }
  };
  while (!text.empty()) {
    const std::size_t space = std::min(text.find(' '), text.size());
    const std::string_view word = text.substr(0, space);
    text.remove_prefix(std::min(space + 1, text.size()));
    if (word.empty()) {
      continue;
    }
    if (!line.empty() && indent + characters(line) + 1 + characters(word) > columns) {
      flush();
    }
    if (!line.empty()) {
      line += ' ';
    }
    line += word;
  }
  flush();
  return out;
}

std::string padded(std::string_view text, std::size_t columns) {
  const std::size_t width = characters(text);
  return std::string(text) + std::string(width < columns ? columns - width : 0, ' ');
}

std::string clean(std::string_view text, bool utf8) {
  std::string line;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    const bool continues = (byte & 0xC0U) == 0x80U;
    if (byte < 0x20 || byte == 0x7F) {
      line += ' ';
    } else if (byte < 0x80 || utf8) {
      line += c;
    } else if (!continues) {
      line += '?';
    }
  }
  return line;
}

} // namespace heapcast::cli
