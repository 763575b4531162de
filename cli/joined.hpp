#pragma once

#include <string>
#include <string_view>

namespace heapcast::cli {

/// The words with `between` between them.
template <class Words>
[[nodiscard]] std::string joined(const Words& words, std::string_view between = ", ") {
  std::string text;
  bool first = true;
  for (const auto& word : words) {
    if (!first) {
      text += between;
    }
    text += word;
    first = false;
  }
  return text;
}

} // namespace heapcast::cli
