#pragma once

#include "cli/command_table.hpp"

#include <string>

namespace heapcast::cli {

/// The manual page of section 1, in the macros of man(7): synopsis, every command with its options
/// and examples, files, exit codes and the cautions that hold for any pile.
[[nodiscard]] std::string manual_page(const CommandTable& table);

} // namespace heapcast::cli
