#include "engine/nearest.hpp"

#include <algorithm>
#include <cctype>
#include <vector>

namespace heapcast::engine {

namespace {

constexpr std::size_t longest_name = 64;

char lower(char c) {
  return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
}

} // namespace

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before_last(b.size() + 1);
  std::vector<std::size_t> last(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) {
    last[j] = j;
  }
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = lower(a[i - 1]) == lower(b[j - 1]);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0U : 1U)});
      if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
          lower(a[i - 2]) == lower(b[j - 1])) {
        row[j] = std::min(row[j], before_last[j - 2] + 1);
      }
    }
    std::swap(before_last, last);
    std::swap(last, row);
  }
  return last[b.size()];
}

std::string nearest(std::string_view word, std::span<const std::string> candidates) {
  std::string best;
  std::size_t best_distance = std::string::npos;
  for (const std::string& candidate : candidates) {
    if (std::max(word.size(), candidate.size()) > longest_name) {
      continue;
    }
    const std::size_t allowed =
        std::max<std::size_t>(1, std::max(word.size(), candidate.size()) / 3);
    const std::size_t distance = edit_distance(word, candidate);
    if (distance <= allowed && distance < best_distance) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

} // namespace heapcast::engine
