#pragma once

#include "cli/input/units.hpp"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// What stands behind a key.
enum class ValueKind {
  text,     ///< any text
  choice,   ///< one of `choices`
  flag,     ///< true or false
  whole,    ///< a whole number without unit
  number,   ///< a number without unit, or in exactly the unit `counts`
  quantity, ///< text with a number and a unit of `dimension`
  monthly,  ///< twelve quantities, January first: a list, or twelve numbers and one unit in a text
  amount,   ///< a mass, a volume or measures of the user's own
  date,     ///< a date, with or without an hour
  day,      ///< a day since the build: a number, a time with its unit, or a date
  days,     ///< one or a list of those
  texts,    ///< one or a list of texts
  conditions, ///< one or a list of texts such as "core_temperature < 50 degC"
  criteria,   ///< one or a list of texts such as "carbon_nitrogen_ratio <= 20"
  weekdays,   ///< one or a list of day names
  property,   ///< of a material: a quantity, read by `apply_overrides`
  any,        ///< what another key may be, or a list of it
  table,      ///< a section of its own
  tables      ///< a section that may be there many times
};

/// One key of the pile file: everything there is to know about it. From this row come its reading,
/// its range check, the search for misspelt keys, listings and a schema for editors.
struct Key {
  std::string section; ///< dotted; "" at the top of the file
  std::string name;    ///< "*": any name
  ValueKind kind = ValueKind::text;
  Dimension dimension = Dimension::count; ///< of a quantity or a property
  Dimension also = Dimension::count;      ///< another that a property may be written in
  std::string low = {}, high = {};        ///< allowed range, ends included, as one would write them
  std::vector<std::string> choices = {};
  std::string counts = {};  ///< the unit a bare number is in, where the key names it
  std::string initial = {}; ///< the value where the file has none, as one would write it
  bool required = false;
  std::string meaning = {};
  std::string example = {}; ///< TOML that may stand to the right of `name =`
};

/// Every key, section by section. Material properties and model parameters are rows as well, made
/// from their own tables.
[[nodiscard]] std::span<const Key> pile_keys();

/// What the keys of one section say together. `what` and `remedy` are for the fault; "{}" in them
/// stands for the key that is wrong, or in `what` and `too_many` for the section.
struct KeyRule {
  enum class Kind {
    at_least_one, ///< of `keys` must be there
    exactly_one,  ///< of `keys` must be there; `what` when there is none
    needs,        ///< each of `keys` may be there only with the key `other`
    only_with,    ///< each of `keys` may be there only where `other` is `choice`
    never_with,   ///< none of `keys` may be there where `other` is `choice`
    required_with ///< each of `keys` must be there where `other` is `choice`
  };
  std::string section;
  Kind kind = Kind::at_least_one;
  std::vector<std::string> keys;
  std::string other = {}, choice = {};
  std::string what, too_many = {}, remedy;
};

/// Every such rule of the pile file that follows from which keys are there.
[[nodiscard]] std::span<const KeyRule> pile_rules();

/// The rows of one section, in order.
[[nodiscard]] std::vector<const Key*> keys_of(std::span<const Key> keys, std::string_view section);

} // namespace heapcast::cli
