#pragma once

#include <string>
#include <vector>

namespace CLI {
class App;
} // namespace CLI

namespace heapcast::cli {

/// One option or argument, as the program takes it.
struct OptionRow {
  std::vector<std::string> names; ///< "-o" and "--output"; of an argument its one name
  std::string value;              ///< what is given, e.g. "FILE.h5"; empty for a flag
  std::vector<std::string> words; ///< what a shell may offer for it; may be empty
  std::string range;              ///< of a number, e.g. "1 to 4096"; may be empty
  std::string initial;            ///< what holds without it; may be empty
  std::string meaning;
  bool required = false;
  bool repeated = false; ///< may be given again, or takes several values
};

struct CommandRow {
  std::string name;
  std::string meaning;
  std::string footer; ///< examples and what else its help closes with
  std::vector<OptionRow> options;
  std::vector<OptionRow> arguments; ///< without dashes, in order
};

struct ExitCodeRow {
  int code = 0;
  std::string meaning;
};

/// Everything that the program can be told.
struct CommandTable {
  std::string program; ///< its name
  std::string version;
  std::string meaning;
  std::vector<OptionRow> options; ///< without a command
  std::vector<CommandRow> commands;
  std::vector<ExitCodeRow> exit_codes;
};

/// The table of what `app` parses: its options and those of its subcommands, without hidden ones
/// (of no group). Words are those that the option is checked for, else what the pile file, the
/// material library and the parameters know: the choices of the key called as the option, in the
/// section `run` or the one called as the command; keys for KEY=VALUE; names for `materials` and
/// `parameters`. Version and exit codes are the caller's to fill in.
[[nodiscard]] CommandTable command_table(const CLI::App& app);

} // namespace heapcast::cli
