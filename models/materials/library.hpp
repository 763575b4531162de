#pragma once

#include "models/materials/material.hpp"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// Where one number of a material comes from. value, low and high are in `unit`.
struct PropertyNote {
  std::string key;
  double value = 0.0;
  std::string unit;
  double low = 0.0; ///< plausible range of the value
  double high = 0.0;
  std::string source;     ///< a reference id where there is one
  std::string provenance; ///< read, memory, common-practice, computed or judgement
};

/// A material with the notes on its numbers: one for each of `material_properties()`, in that
/// order, and one for the C:N that follows from carbon and nitrogen (key `carbon_to_nitrogen`).
struct MaterialRecord {
  Material material;
  std::string remark; ///< what it is, where a number gave way, what to beware of; may be empty
  std::vector<PropertyNote> notes;
};

/// Whether `text` contains `word`; letter case does not matter and an underscore counts as a space.
[[nodiscard]] bool mentions(std::string_view text, std::string_view word);

/// The materials a pile file can name.
class MaterialLibrary {
public:
  /// Takes records in any order. Throws InputError when two have the same name.
  explicit MaterialLibrary(std::vector<MaterialRecord> records);

  /// The record with this name, or null.
  [[nodiscard]] const MaterialRecord* find(std::string_view name) const;

  /// Records that have all words of `query`, or words that begin with them or their singular, among
  /// their name, title, group and other words, in order of name; an empty query finds all. When
  /// there is none, those that mention `query` anywhere ("hen" then finds kitchen).
  [[nodiscard]] std::vector<const MaterialRecord*> search(std::string_view query) const;

  /// All records in order of name.
  [[nodiscard]] std::span<const MaterialRecord> all() const { return records_; }
  [[nodiscard]] std::vector<std::string> names() const;

private:
  std::vector<MaterialRecord> records_;
};

/// One data file as built into the program.
struct EmbeddedFile {
  std::string_view name; ///< "wheat_straw.toml"
  std::string_view text;
};

/// The data files of `models/materials/library/`, in order of name.
[[nodiscard]] std::span<const EmbeddedFile> embedded_material_files();

} // namespace heapcast::models
