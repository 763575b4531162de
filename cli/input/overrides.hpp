#pragma once

#include <string>
#include <string_view>

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

/// Makes the tree of a file that of one of its variants: takes out the keys of the variant's
/// `without`, then puts in those of its `set`. A section in `set` is merged with the one that is
/// there. The new values keep their place in `file`, so that faults point to the variant.
///
/// A variant that is not there, or is of other types, changes nothing: that is the reader's to say.
/// Throws InputError for a key that leads nowhere.
void apply_variant(toml::table& tree, std::string_view file, std::string_view name);

} // namespace heapcast::cli
