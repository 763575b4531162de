#include "models/weather/text.hpp"

#include <algorithm>
#include <charconv>

namespace heapcast::models {

namespace {} // namespace

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) {
    return {};
  }
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::string lower_case(std::string_view text) {
  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return lower;
}

std::vector<std::string_view> pieces(std::string_view text, char separator) {
  std::vector<std::string_view> parts;
  for (;;) {
    const auto end = text.find(separator);
    parts.push_back(text.substr(0, end));
    if (end == std::string_view::npos) {
      return parts;
    }
    text.remove_prefix(end + 1);
  }
}

std::optional<std::vector<std::string>> split_csv_line(std::string_view line, char separator) {
  std::vector<std::string> fields;
  std::size_t i = 0;
  for (;;) {
    while (i < line.size() && line[i] == ' ') {
      ++i;
    }
    std::string field;
    if (i < line.size() && line[i] == '"') {
      for (++i;; ++i) {
        if (i >= line.size()) {
          return std::nullopt;
        }
        if (line[i] == '"') {
          if (i + 1 < line.size() && line[i + 1] == '"') {
            ++i;
          } else {
            ++i;
            break;
          }
        }
        field += line[i];
      }
    }
    const auto end = std::min(line.find(separator, i), line.size());
    field += line.substr(i, end - i);
    fields.emplace_back(trimmed(field));
    if (end == line.size()) {
      return fields;
    }
    i = end + 1;
  }
}

std::optional<double> parse_number(std::string_view text) {
  if (text.size() > 1 && text[0] == '+' && text[1] != '-') {
    text.remove_prefix(1);
  }
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) {
    return std::nullopt;
  }
  return value;
}

std::string shown(std::string_view text) {
  constexpr std::size_t longest = 40;
  std::string printable(text.substr(0, longest));
  std::replace_if(
      printable.begin(), printable.end(), [](char c) { return c < ' ' || c > '~'; }, '?');
  return text.size() > longest ? printable + "..." : printable;
}

std::string listed(std::span<const std::string> words) {
  constexpr std::size_t most = 20;
  std::string list;
  for (std::size_t i = 0; i < std::min(words.size(), most); ++i) {
    list += (i == 0 ? "" : ", ") + words[i];
  }
  return words.size() > most ? list + ", ..." : list;
}

} // namespace heapcast::models
