#include "models/materials/library.hpp"

#include "engine/errors.hpp"

#include <algorithm>
#include <cctype>
#include <sstream>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

std::string searchable(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](unsigned char c) {
    return c == '_' ? ' ' : static_cast<char>(std::tolower(c));
  });
  return out;
}

/// Whether a word of `text` begins with `word`; both are searchable.
bool has_word(const std::string& text, const std::string& word) {
  for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) {
    if (at == 0 || std::isalnum(static_cast<unsigned char>(text[at - 1])) == 0) {
      return true;
    }
  }
  return false;
}

/// "straws" is "straw", "berries" "berry", "tomatoes" "tomato"; "" for a word that is no plural.
std::string singular(const std::string& word) {
  constexpr std::size_t least = 4;
  if (word.size() < least || !word.ends_with('s') || word.ends_with("ss")) {
    return "";
  }
  if (word.ends_with("ies")) {
    return word.substr(0, word.size() - 3) + 'y';
  }
  return word.substr(0, word.size() - (word.ends_with("oes") ? 2 : 1));
}

/// All that a search looks into.
std::string described(const Material& material) {
  std::string text = material.name + '\n' + material.title + '\n' + material.group;
  for (const std::string& word : material.words) {
    text += '\n' + word;
  }
  return searchable(text);
}

} // namespace

bool mentions(std::string_view text, std::string_view word) {
  return searchable(text).find(searchable(word)) != std::string::npos;
}

MaterialLibrary::MaterialLibrary(std::vector<MaterialRecord> records)
    : records_(std::move(records)) {
  std::ranges::sort(records_, {}, [](const MaterialRecord& r) { return r.material.name; });
  const auto twice = std::ranges::adjacent_find(
      records_, {}, [](const MaterialRecord& r) { return r.material.name; });
  if (twice != records_.end()) {
    throw InputError("materials",
                     fmt::format("the material \"{}\" is there twice", twice->material.name),
                     "give each material its own name");
  }
}

const MaterialRecord* MaterialLibrary::find(std::string_view name) const {
  const auto record = std::ranges::find_if(
      records_, [&](const MaterialRecord& r) { return r.material.name == name; });
  return record == records_.end() ? nullptr : &*record;
}

std::vector<const MaterialRecord*> MaterialLibrary::search(std::string_view query) const {
  std::vector<std::string> words;
  std::istringstream pieces(searchable(query));
  for (std::string piece; pieces >> piece;) {
    words.push_back(piece);
  }
  std::vector<const MaterialRecord*> found;
  std::vector<const MaterialRecord*> nearly;
  for (const MaterialRecord& record : records_) {
    const std::string text = described(record.material);
    const auto fits = [&](const std::string& word) {
      const std::string one = singular(word);
      return has_word(text, word) || (!one.empty() && has_word(text, one));
    };
    if (std::ranges::all_of(words, fits)) {
      found.push_back(&record);
    } else if (mentions(text, query)) {
      nearly.push_back(&record);
    }
  }
  return found.empty() ? nearly : found;
}

std::vector<std::string> MaterialLibrary::names() const {
  std::vector<std::string> names;
  for (const MaterialRecord& record : records_) {
    names.push_back(record.material.name);
  }
  return names;
}

} // namespace heapcast::models
