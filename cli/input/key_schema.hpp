#pragma once

#include "cli/input/pile_keys.hpp"

#include <span>
#include <string>

#include <nlohmann/json.hpp>

namespace heapcast::cli {

/// A kind of file that is read by a table of keys.
struct KeyedFile {
  std::string title; ///< of its schema
  std::span<const Key> keys;
  std::span<const KeyRule> rules;
};

/// The JSON Schema (draft 2020-12) of such a file, for editors: every key with its meaning, units,
/// range, choices, value without it and example, and the rules of each section. What a schema can
/// see: names of keys, types, units, choices, which keys must or may not stand together. It cannot
/// see what values say together, nor the range of a quantity in a text; those stay with `heapcast
/// check`.
///
/// A mass or a volume where measures of the user's own are understood may have any unit. Letter
/// case is forgiven where the program would find two units ("MG").
[[nodiscard]] nlohmann::ordered_json key_schema(const KeyedFile& file);

} // namespace heapcast::cli
