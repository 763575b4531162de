#include "models/materials/library.hpp"

#include "engine/errors.hpp"

#include <algorithm>
#include <cctype>

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

std::vector<const MaterialRecord*> MaterialLibrary::search(std::string_view word) const {
  std::vector<const MaterialRecord*> found;
  for (const MaterialRecord& record : records_) {
    const Material& material = record.material;
    const auto fits = [&](const std::string& text) { return mentions(text, word); };
    if (fits(material.name) || fits(material.title) || fits(material.group) ||
        std::ranges::any_of(material.words, fits)) {
      found.push_back(&record);
    }
  }
  return found;
}

std::vector<std::string> MaterialLibrary::names() const {
  std::vector<std::string> names;
  for (const MaterialRecord& record : records_) {
    names.push_back(record.material.name);
  }
  return names;
}

} // namespace heapcast::models
