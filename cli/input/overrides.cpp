#include "cli/input/overrides.hpp"

#include "cli/input/parse_toml.hpp"
#include "cli/input/toml_location.hpp"
#include "cli/joined.hpp"
#include "engine/errors.hpp"

#include <charconv>
#include <functional>
#include <sstream>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::string_view how_to_set =
    "write --set key=value, for example --set run.days=30 or --set \"material.0.amount=300 kg\"";

/// The parts of a dotted key, or an InputError at `where`.
std::vector<std::string> split_key(std::string_view key, const std::string& where) {
  std::vector<std::string> parts;
  for (std::size_t begin = 0; begin <= key.size();) {
    const auto dot = std::min(key.find('.', begin), key.size());
    parts.emplace_back(key.substr(begin, dot - begin));
    begin = dot + 1;
  }
  if (parts.size() > most_key_parts) {
    throw InputError(where, fmt::format("a key has more than {} parts", most_key_parts),
                     "write keys as they are listed, for example pile.height");
  }
  return parts;
}

/// The value as a tree `value = …`, its nodes' source path being the option.
toml::table parse_value(const std::string& value, const std::string& where) {
  try {
    toml::table parsed = parse_toml("value = " + value, where);
    if (parsed.size() == 1) {
      return parsed;
    }
  } catch (const toml::parse_error&) {
    // Not TOML: text.
  }
  // Written out by toml++, so that quotes and backslashes are escaped.
  std::ostringstream quoted;
  quoted << toml::toml_formatter(toml::table{{"value", value}},
                                 toml::format_flags::none); // double quotes only
  return toml::parse(quoted.str(), std::string_view(where));
}

/// The element that `part` counts, or an InputError.
std::size_t element_index(const toml::array& list, std::string_view part, std::string_view path,
                          const std::string& where) {
  std::size_t index = 0;
  const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), index);
  if (error != std::errc{} || end != part.data() + part.size() || index >= list.size()) {
    throw InputError(where,
                     fmt::format("there is no {}.{}: {} has {} element{}", path, part, path,
                                 list.size(), list.size() == 1 ? "" : "s"),
                     list.empty() ? "put it into the file"
                                  : fmt::format("write a number from 0 to {} in place of \"{}\"",
                                                list.size() - 1, part));
  }
  return index;
}

/// Where a change stands, and what to write instead when it goes through a value.
struct Change {
  std::string where;
  std::function<std::string(const std::string& path)> remedy;
};

/// Moves `value` to where `parts` lead, which keeps its place for messages as a copy would not;
/// makes the sections on the way that are not there.
void put(toml::table& tree, const std::vector<std::string>& parts, toml::node& value,
         const Change& change) {
  toml::node* node = &tree;
  std::string path;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const bool last = i + 1 == parts.size();
    if (toml::array* list = node->as_array()) {
      const std::size_t index = element_index(*list, parts[i], path, change.where);
      if (last) {
        value.visit([&](auto& typed) { list->replace(list->begin() + index, std::move(typed)); });
        return;
      }
      node = list->get(index);
    } else if (toml::table* table = node->as_table()) {
      const toml::key own_key(parts[i], value.source());
      if (last) {
        table->erase(parts[i]);
        value.visit([&](auto& typed) { table->insert(own_key, std::move(typed)); });
        return;
      }
      if (table->get(parts[i]) == nullptr) {
        table->insert(own_key, toml::table{});
      }
      node = table->get(parts[i]);
    } else {
      throw InputError(change.where, fmt::format("{} is a value, not a section", path),
                       change.remedy(path));
    }
    path += path.empty() ? parts[i] : "." + parts[i];
  }
}

/// What `parts` lead to, or nullptr.
toml::node* find(toml::table& tree, const std::vector<std::string>& parts) {
  toml::node* node = &tree;
  for (const std::string& part : parts) {
    if (toml::table* table = node->as_table()) {
      node = table->get(part);
    } else if (toml::array* list = node->as_array()) {
      std::size_t index = 0;
      const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), index);
      const bool is_number = error == std::errc{} && end == part.data() + part.size();
      node = is_number ? list->get(index) : nullptr;
    } else {
      node = nullptr;
    }
    if (node == nullptr) {
      return nullptr;
    }
  }
  return node;
}

/// A section is merged with the one that is there; anything else takes the place of what is there.
void merge(toml::table& tree, std::vector<std::string>& parts, toml::node& value,
           const std::string& where) {
  toml::table* section = value.as_table();
  if (section != nullptr && find(tree, parts) != nullptr) {
    for (auto&& [key, inner] : *section) {
      parts.emplace_back(key.str());
      merge(tree, parts, inner, where);
      parts.pop_back();
    }
    return;
  }
  put(tree, parts, value, {.where = where, .remedy = [](const std::string& path) {
                             return fmt::format("set {} itself", path);
                           }});
}

/// Takes out what `parts` lead to.
void drop(toml::table& tree, std::vector<std::string> parts, const std::string& where) {
  const std::string key = joined(parts, ".");
  const std::string last = parts.back();
  parts.pop_back();
  toml::node* parent = find(tree, parts);
  toml::table* table = parent == nullptr ? nullptr : parent->as_table();
  if (table == nullptr || table->erase(last) == 0) {
    throw InputError(where, fmt::format("the pile has no {} to leave out", key),
                     "leave it out of `without`, or write the key of a section that is there");
  }
}

} // namespace

void apply_override(toml::table& tree, const std::string& option) {
  const std::string where = std::string(option_prefix) + option;
  const std::string shown = printable(where, 80);
  const auto equals = option.find('=');
  if (equals == std::string::npos) {
    throw InputError(shown, "has no = between key and value", std::string(how_to_set));
  }
  std::string key = option.substr(0, equals);
  std::string value = option.substr(equals + 1);
  const auto trim = [](std::string& text) {
    text.erase(0, std::min(text.find_first_not_of(" \t"), text.size()));
    text.erase(text.find_last_not_of(" \t") + 1);
  };
  trim(key);
  trim(value);
  const std::vector<std::string> parts = split_key(key, shown);
  for (const std::string& part : parts) {
    if (part.empty()) {
      throw InputError(shown, "has an empty key", std::string(how_to_set));
    }
  }
  if (value.empty()) {
    throw InputError(shown, "has no value", std::string(how_to_set));
  }

  toml::table parsed = parse_value(value, where);
  put(tree, parts, *parsed.get("value"), {.where = shown, .remedy = [](const std::string& path) {
                                            return fmt::format("write --set {}=value", path);
                                          }});
}

void apply_variant(toml::table& tree, std::string_view file, std::string_view name) {
  toml::table* variant = nullptr;
  if (toml::array* all = tree["variant"].as_array()) {
    for (toml::node& one : *all) {
      toml::table* table = one.as_table();
      if (table != nullptr && (*table)["name"].value_or(std::string_view()) == name) {
        variant = table;
      }
    }
  }
  if (variant == nullptr) {
    return;
  }
  // Aside: what changes may be the list of variants itself.
  toml::table aside = std::move(*variant);
  *variant = toml::table{{"name", std::string(name)}, {"set", toml::table{}}};
  if (const toml::array* dropped = aside["without"].as_array()) {
    for (const toml::node& one : *dropped) {
      if (const auto key = one.value<std::string>()) {
        const std::string where = location(file, one);
        drop(tree, split_key(*key, where), where);
      }
    }
  }
  if (toml::table* changes = aside["set"].as_table()) {
    for (auto&& [key, value] : *changes) {
      const std::string where = location(file, value);
      std::vector<std::string> parts = split_key(key.str(), where);
      merge(tree, parts, value, where);
    }
  }
}

} // namespace heapcast::cli
