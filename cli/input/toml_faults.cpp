#include "cli/input/toml_faults.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace heapcast::cli {

std::string place(const toml::source_region& source, const std::string& file) {
  if (source.path && source.path->starts_with(option_prefix)) {
    return printable(*source.path, 80);
  }
  if (!source.begin) {
    return file;
  }
  return fmt::format("{}:{}:{}", file, source.begin.line, source.begin.column);
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

void TomlFaults::add(const toml::source_region& source, std::string_view what,
                     std::string_view remedy) {
  faults_.push_back(
      {source.begin, {place(source, file_), printable(what), printable(remedy, 600)}});
}

std::vector<Fault> TomlFaults::in_order() const {
  std::vector<Placed> sorted = faults_;
  std::ranges::stable_sort(sorted, [](const Placed& a, const Placed& b) {
    const bool a_known = static_cast<bool>(a.position);
    const bool b_known = static_cast<bool>(b.position);
    return a_known != b_known ? a_known : a_known && a.position < b.position;
  });
  std::vector<Fault> faults;
  faults.reserve(sorted.size());
  for (Placed& placed : sorted) {
    faults.push_back(std::move(placed.fault));
  }
  return faults;
}

} // namespace heapcast::cli
