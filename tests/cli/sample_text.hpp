// Texts that several tests of cli share: the head of an invented pile file, and what is printed
// taken apart.
#pragma once

#include <algorithm>
#include <cstddef>
#include <sstream>
#include <string>
#include <vector>

namespace heapcast::tests {

/// Title and site of an invented pile; what stands in the pile is each test's own.
inline std::string invented_site(const std::string& title) {
  return "title = \"" + title + "\"" + R"(
[site]
latitude = "47.5 deg"
start = "2013-10-05"
[site.normals]
tmin = "-3 -2 1 4 8 11 13 13 9 6 1 -2 degC"
tmax = "3 5 10 14 19 22 24 24 19 14 7 4 degC"
rain = "60 55 60 70 85 95 90 95 75 65 65 65 mm"
wet_days = [13, 11, 12, 12, 13, 13, 12, 12, 10, 10, 11, 13]
)";
}

inline std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    lines.push_back(line);
  }
  return lines;
}

/// Everything on one line, single spaces: what is said however it is broken into lines.
inline std::string said(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const bool blank = c == ' ' || c == '\n';
    if (!blank || (!out.empty() && out.back() != ' ')) {
      out += blank ? ' ' : c;
    }
  }
  return out;
}

/// Characters of a line of UTF-8.
inline std::size_t columns(const std::string& line) {
  return static_cast<std::size_t>(std::ranges::count_if(
      line, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

} // namespace heapcast::tests
