#include "cli/shell_completion.hpp"

#include "cli/joined.hpp"

#include <cstddef>
#include <string_view>
#include <vector>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

/// The end of a file's name that a value asks for: "toml" of "PILE.toml"; empty without one.
std::string file_end(const std::string& value) {
  const auto dot = value.rfind('.');
  return dot == std::string::npos ? std::string() : value.substr(dot + 1);
}

/// `text` in single quotes, as both shells read it.
std::string in_quotes(std::string_view text) {
  std::string result = "'";
  for (const char c : text) {
    result += c == '\'' ? std::string("'\\''") : std::string(1, c);
  }
  return result + "'";
}

std::string quoted_words(const std::vector<std::string>& words) {
  std::vector<std::string> all;
  all.reserve(words.size());
  for (const std::string& word : words) {
    all.push_back(in_quotes(word));
  }
  return joined(all, " ");
}

std::vector<std::string> names_of(const std::vector<OptionRow>& options) {
  std::vector<std::string> names;
  for (const OptionRow& option : options) {
    names.insert(names.end(), option.names.begin(), option.names.end());
  }
  return names;
}

/// The bash command that offers values; ":" where nothing can be offered.
std::string bash_values(const OptionRow& option, const std::string& prefix) {
  if (!option.words.empty()) {
    return fmt::format("{}_words {}", prefix, quoted_words(option.words));
  }
  if (option.value == "FOLDER") {
    return prefix + "_files -d";
  }
  if (option.value == "FILE") {
    return prefix + "_files -f";
  }
  const std::string end = file_end(option.value);
  return end.empty() ? ":" : fmt::format("{}_files {}", prefix, in_quotes("*." + end));
}

/// The branches of a `case` over options that take a value.
std::string bash_cases(const std::vector<OptionRow>& options, const std::string& prefix,
                       std::string_view indent) {
  std::string text;
  for (const OptionRow& option : options) {
    if (!option.value.empty()) {
      text += fmt::format("{}{}) {}; return ;;\n", indent, joined(option.names, " | "),
                          bash_values(option, prefix));
    }
  }
  return text;
}

/// The zsh action that offers values.
std::string zsh_values(const OptionRow& option, const std::string& prefix) {
  if (!option.words.empty()) {
    // Keys go on with their value: no space behind them.
    const bool goes_on = option.words.front().ends_with('=');
    return goes_on ? fmt::format("{}_keys", prefix)
                   : fmt::format("({})", joined(option.words, " "));
  }
  if (option.value == "FOLDER") {
    return "_files -/";
  }
  if (option.value == "FILE") {
    return "_files";
  }
  const std::string end = file_end(option.value);
  return end.empty() ? " " : fmt::format("_files -g \"*.{}(-.)\"", end);
}

/// `text` with a backslash before what zsh would take for a sign of its own.
std::string zsh_escaped(std::string_view text, std::string_view signs = ":\\") {
  std::string result;
  for (const char c : text) {
    if (signs.find(c) != std::string_view::npos) {
      result += '\\';
    }
    result += c;
  }
  return result;
}

std::string zsh_option(const OptionRow& option, const std::string& prefix) {
  // What _arguments calls "takes a value, in the same word or the next".
  const bool takes_value = !option.value.empty();
  std::vector<std::string> names;
  for (const std::string& name : option.names) {
    names.push_back(name + (!takes_value ? "" : name.starts_with("--") ? "=" : "+"));
  }
  const bool help = option.names.back() == "--help" || option.names.back() == "--version";
  const std::string excluded = option.repeated ? ""
                               : help          ? "(- *)"
                                               : fmt::format("({})", joined(option.names, " "));
  const std::string one =
      names.size() == 1 ? names.front() : fmt::format("{{{}}}", joined(names, ","));
  std::string spec = fmt::format("[{}]", zsh_escaped(option.meaning, "[]:\\"));
  if (takes_value) {
    spec += fmt::format(":{}:{}", zsh_escaped(option.value), zsh_values(option, prefix));
  }
  return fmt::format("{}{}{}", in_quotes(option.repeated ? "*" : excluded), one, in_quotes(spec));
}

std::string zsh_argument(const OptionRow& argument, std::size_t number, const std::string& prefix) {
  return in_quotes(fmt::format("{}:{}:{}", argument.repeated ? "*" : std::to_string(number),
                               zsh_escaped(argument.meaning), zsh_values(argument, prefix)));
}

/// All keys that an option of one of the commands sets.
const std::vector<std::string>* keys_of_table(const CommandTable& table) {
  for (const CommandRow& command : table.commands) {
    for (const OptionRow& option : command.options) {
      if (!option.words.empty() && option.words.front().ends_with('=')) {
        return &option.words;
      }
    }
  }
  return nullptr;
}

} // namespace

std::string bash_completion(const CommandTable& table) {
  const std::string prefix = "_" + table.program;
  std::string text = fmt::format(R"(# bash completion of {0} {1}, made by `{0} --completion bash`

{2}_words() {{
  local IFS=$' \t\n'
  mapfile -t COMPREPLY < <(compgen -W "$*" -- "$word")
  # A key goes on with its value.
  [[ ${{COMPREPLY[0]-}} != *= ]] || compopt -o nospace
}}

# -d: folders, -f: any file, else files of this pattern and folders.
{2}_files() {{
  compopt -o filenames
  case $1 in
  -d | -f) mapfile -t COMPREPLY < <(compgen "$1" -- "$word") ;;
  *) mapfile -t COMPREPLY < <(
    compgen -f -X "!$1" -- "$word"
    compgen -d -- "$word"
  ) ;;
  esac
  # A word in quotes is left to bash.
  ((${{#COMPREPLY[@]}})) || compopt -o default
}}

{2}() {{
  local word=${{COMP_WORDS[COMP_CWORD]}} option=${{COMP_WORDS[COMP_CWORD - 1]}}
  COMPREPLY=()
  # --option=value is three words to bash.
  if [[ $word == "=" ]]; then
    word=
  elif [[ $option == "=" ]]; then
    option=${{COMP_WORDS[COMP_CWORD - 2]}}
    [[ $option == -* ]] || return 0
  fi
)",
                                 table.program, table.version, prefix);

  std::vector<std::string> first;
  for (const CommandRow& command : table.commands) {
    first.push_back(command.name);
  }
  std::vector<std::string> global = names_of(table.options);
  text += fmt::format("  if ((COMP_CWORD == 1)) || [[ ${{COMP_WORDS[1]}} == -* ]]; then\n"
                      "    case $option in\n{0}    esac\n"
                      "    if [[ $word == -* ]]; then\n      {1}_words {2}\n"
                      "    else\n      {1}_words {3}\n    fi\n"
                      "    return\n"
                      "  fi\n"
                      "  case ${{COMP_WORDS[1]}} in\n",
                      bash_cases(table.options, prefix, "    "), prefix, quoted_words(global),
                      quoted_words(first));
  for (const CommandRow& command : table.commands) {
    text += fmt::format("  {})\n    case $option in\n{}    esac\n", command.name,
                        bash_cases(command.options, prefix, "    "));
    text += fmt::format("    if [[ $word == -* ]]; then\n      {}_words {}\n", prefix,
                        quoted_words(names_of(command.options)));
    if (!command.arguments.empty()) {
      text += fmt::format("    else\n      {}\n", bash_values(command.arguments.back(), prefix));
    }
    text += "    fi ;;\n";
  }
  text += fmt::format("  esac\n}}\n\ncomplete -F {} {}\n", prefix, table.program);
  return text;
}

std::string zsh_completion(const CommandTable& table) {
  const std::string prefix = "_" + table.program;
  std::string text =
      fmt::format("#compdef {0}\n# zsh completion of {0} {1}, made by `{0} --completion zsh`\n\n",
                  table.program, table.version);
  if (const auto* keys = keys_of_table(table)) {
    text += fmt::format("{}_keys() {{\n  compadd -S '' -- {}\n}}\n\n", prefix, quoted_words(*keys));
  }
  text += fmt::format("{}_commands() {{\n  local -a commands=(\n", prefix);
  for (const CommandRow& command : table.commands) {
    text += fmt::format(
        "    {}\n", in_quotes(fmt::format("{}:{}", command.name, zsh_escaped(command.meaning))));
  }
  text += fmt::format("  )\n  _describe -t commands command commands\n}}\n\n", prefix);

  text += fmt::format("{}() {{\n"
                      "  local context state state_descr line curcontext=$curcontext\n"
                      "  typeset -A opt_args\n"
                      "  _arguments -C",
                      prefix);
  for (const OptionRow& option : table.options) {
    text += fmt::format(" \\\n    {}", zsh_option(option, prefix));
  }
  text += fmt::format(" \\\n    '1: :{}_commands' \\\n    '*:: :->rest' && return\n"
                      "  [[ $state == rest ]] || return\n"
                      "  case $words[1] in\n",
                      prefix);
  for (const CommandRow& command : table.commands) {
    text += fmt::format("  {})\n    _arguments", command.name);
    for (const OptionRow& option : command.options) {
      text += fmt::format(" \\\n      {}", zsh_option(option, prefix));
    }
    for (std::size_t i = 0; i < command.arguments.size(); ++i) {
      text += fmt::format(" \\\n      {}", zsh_argument(command.arguments[i], i + 1, prefix));
    }
    text += " ;;\n";
  }
  text += fmt::format("  esac\n}}\n\n"
                      "# Loaded by name it completes at once; sourced it is only made known.\n"
                      "if [[ $funcstack[1] == {0} ]]; then\n"
                      "  {0} \"$@\"\n"
                      "else\n"
                      "  compdef {0} {1}\n"
                      "fi\n",
                      prefix, table.program);
  return text;
}

} // namespace heapcast::cli
