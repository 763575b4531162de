#pragma once

#include <string>

#include <toml++/toml.h>

namespace heapcast::cli {

/// Applies one `--set` option, e.g. `pile.height=1.2 m` or `material.0.amount=300 kg`, to the tree
/// of a file before it is read.
///
/// The key is dotted; a number stands for an element of a list, counted from 0. Sections that are
/// not there are made. What follows `=` is taken as TOML where it is TOML (a number, true, a text
/// in quotes, a list, a table), else as text, so that quotes need not get past the shell. The new
/// value's source path is the option itself, so that its faults name the option.
///
/// Throws InputError, with the option as its place, for an option without `=`, an empty key, a key
/// through something that is no section, and an element that is not there.
void apply_override(toml::table& tree, const std::string& option);

} // namespace heapcast::cli
