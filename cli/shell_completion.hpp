#pragma once

#include "cli/command_table.hpp"

#include <string>

namespace heapcast::cli {

/// What bash needs to complete the program's commands, options and their values: a script to be
/// sourced, or put where bash looks for it. Files are offered by the end of a value's name
/// ("PILE.toml"), folders for FOLDER, any file for FILE. Needs bash 4.4, no other package.
[[nodiscard]] std::string bash_completion(const CommandTable& table);

/// The same for zsh, with what each means: to be sourced after `compinit`, or put as
/// `_heapcast` into a folder of its `fpath`.
[[nodiscard]] std::string zsh_completion(const CommandTable& table);

} // namespace heapcast::cli
