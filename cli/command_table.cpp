#include "cli/command_table.hpp"

#include "cli/input/material_file.hpp"
#include "cli/input/pile_keys.hpp"
#include "models/parameters.hpp"

#include <algorithm>
#include <sstream>
#include <string_view>

#include <CLI/CLI.hpp>

namespace heapcast::cli {

namespace {

/// What stands in `text` between two signs; empty when they are not there.
std::string between(std::string_view text, char open, char close) {
  const auto begin = text.find(open);
  const auto end = text.find(close, begin == std::string_view::npos ? text.size() : begin);
  return end == std::string_view::npos ? std::string()
                                       : std::string(text.substr(begin + 1, end - begin - 1));
}

std::vector<std::string> split(const std::string& text, char separator) {
  std::vector<std::string> parts;
  std::istringstream stream(text);
  for (std::string part; std::getline(stream, part, separator);) {
    parts.push_back(part);
  }
  return parts;
}

/// Keys of the pile file that an option can set, "pile.height"; not those of lists, which are
/// counted.
std::vector<std::string> keys_to_set() {
  std::vector<std::string> lists;
  std::vector<std::string> names;
  for (const Key& key : pile_keys()) {
    const std::string name = key.section.empty() ? key.name : key.section + "." + key.name;
    if (key.kind == ValueKind::tables) {
      lists.push_back(name);
    } else if (key.kind != ValueKind::table && key.name != "*") {
      names.push_back(name);
    }
  }
  std::erase_if(names, [&](const std::string& name) {
    return std::ranges::any_of(
        lists, [&](const std::string& list) { return name.starts_with(list + "."); });
  });
  return names;
}

std::vector<std::string> words_of_key(const std::string& command, const std::string& option) {
  for (const Key& key : pile_keys()) {
    if ((key.section == "run" || key.section == command) && key.name == option) {
      return key.choices;
    }
  }
  return {};
}

/// `type` as CLI11 lists it: "NUMBER:INT in [1 - 4096]", "SHELL:{bash,zsh}".
std::vector<std::string> words_for(const CLI::Option& option, const std::string& type,
                                   const std::string& command) {
  if (const std::string checked = between(type, '{', '}'); !checked.empty()) {
    return split(checked, ',');
  }
  if (type.starts_with("KEY=")) {
    std::vector<std::string> words = keys_to_set();
    for (std::string& word : words) {
      word += '=';
    }
    return words;
  }
  if (!option.get_positional()) {
    return option.get_lnames().empty() ? std::vector<std::string>()
                                       : words_of_key(command, option.get_lnames().front());
  }
  if (command == "materials") {
    return load_builtin_library().names();
  }
  std::vector<std::string> words;
  if (command == "parameters") {
    for (const models::ParameterRow& row : models::parameter_table()) {
      words.emplace_back(row.name);
    }
  }
  return words;
}

OptionRow option_row(const CLI::Option& option, const std::string& command) {
  OptionRow row;
  if (option.get_positional()) {
    row.names = {option.get_name(true)};
  } else {
    for (const std::string& name : option.get_snames()) {
      row.names.push_back("-" + name);
    }
    for (const std::string& name : option.get_lnames()) {
      row.names.push_back("--" + name);
    }
  }
  const std::string type = option.get_type_name();
  if (option.get_items_expected_max() > 0) {
    row.value = type.substr(0, type.find(':'));
  }
  row.words = words_for(option, type, command);
  row.range = between(type, '[', ']');
  if (const auto dash = row.range.find(" - "); dash != std::string::npos) {
    row.range.replace(dash, 3, " to ");
  }
  row.initial = option.get_default_str();
  row.meaning = option.get_description();
  row.required = option.get_required();
  row.repeated = option.get_items_expected_max() > 1;
  return row;
}

void add_options(const CLI::App& app, const std::string& command, std::vector<OptionRow>& options,
                 std::vector<OptionRow>& arguments) {
  const auto shown = [](const CLI::Option* option) { return !option->get_group().empty(); };
  for (const CLI::Option* option : app.get_options(shown)) {
    (option->get_positional() ? arguments : options).push_back(option_row(*option, command));
  }
}

} // namespace

CommandTable command_table(const CLI::App& app) {
  CommandTable table;
  table.program = app.get_name();
  table.meaning = app.get_description();
  std::vector<OptionRow> no_arguments;
  add_options(app, "", table.options, no_arguments);
  const auto shown = [](const CLI::App* command) { return !command->get_group().empty(); };
  for (const CLI::App* command : app.get_subcommands(shown)) {
    CommandRow row;
    row.name = command->get_name();
    row.meaning = command->get_description();
    row.footer = command->get_footer();
    add_options(*command, row.name, row.options, row.arguments);
    table.commands.push_back(std::move(row));
  }
  return table;
}

} // namespace heapcast::cli
