#include "cli/input/overrides.hpp"

#include "cli/input/toml_location.hpp"
#include "engine/errors.hpp"

#include <charconv>
#include <sstream>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::string_view remedy =
    "write --set key=value, for example --set run.days=30 or --set \"material.0.amount=300 kg\"";

std::vector<std::string> split_key(std::string_view key) {
  std::vector<std::string> parts;
  for (std::size_t begin = 0; begin <= key.size();) {
    const auto dot = std::min(key.find('.', begin), key.size());
    parts.emplace_back(key.substr(begin, dot - begin));
    begin = dot + 1;
  }
  return parts;
}

/// The value as a tree `value = …`, its nodes' source path being the option.
toml::table parse_value(const std::string& value, const std::string& where) {
  try {
    toml::table parsed = toml::parse("value = " + value, std::string_view(where));
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

} // namespace

void apply_override(toml::table& tree, const std::string& option) {
  const std::string where = std::string(option_prefix) + option;
  const std::string shown = printable(where, 80);
  const auto equals = option.find('=');
  if (equals == std::string::npos) {
    throw InputError(shown, "has no = between key and value", std::string(remedy));
  }
  std::string key = option.substr(0, equals);
  std::string value = option.substr(equals + 1);
  const auto trim = [](std::string& text) {
    text.erase(0, std::min(text.find_first_not_of(" \t"), text.size()));
    text.erase(text.find_last_not_of(" \t") + 1);
  };
  trim(key);
  trim(value);
  const std::vector<std::string> parts = split_key(key);
  for (const std::string& part : parts) {
    if (part.empty()) {
      throw InputError(shown, "has an empty key", std::string(remedy));
    }
  }
  if (value.empty()) {
    throw InputError(shown, "has no value", std::string(remedy));
  }

  toml::table parsed = parse_value(value, where);
  toml::node& new_value = *parsed.get("value");
  const toml::source_region source = new_value.source();

  toml::node* node = &tree;
  std::string path;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const bool last = i + 1 == parts.size();
    if (toml::array* list = node->as_array()) {
      const std::size_t index = element_index(*list, parts[i], path, shown);
      if (last) {
        new_value.visit(
            [&](auto& typed) { list->replace(list->begin() + index, std::move(typed)); });
        return;
      }
      node = list->get(index);
    } else if (toml::table* table = node->as_table()) {
      const toml::key own_key(parts[i], source);
      if (last) {
        table->erase(parts[i]);
        new_value.visit([&](auto& typed) { table->insert(own_key, std::move(typed)); });
        return;
      }
      if (table->get(parts[i]) == nullptr) {
        table->insert(own_key, toml::table{});
      }
      node = table->get(parts[i]);
    } else {
      throw InputError(shown, fmt::format("{} is a value, not a section", path),
                       fmt::format("write --set {}=value", path));
    }
    path += path.empty() ? parts[i] : "." + parts[i];
  }
}

} // namespace heapcast::cli
