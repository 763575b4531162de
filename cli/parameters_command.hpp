#pragma once

#include <iosfwd>
#include <string_view>

namespace heapcast::cli {

/// `heapcast parameters [NAME]`: the model parameters.
///
/// Without a query: one line a parameter (name, symbol, value, range, unit, prior, status), at most
/// 100 columns wide. With a name, or a word that names, symbols or meanings contain: source and
/// meaning too. `json` writes an array of objects instead, always with everything.
/// Returns 0. Throws InputError (exit code 2) with the nearest names when nothing fits.
int parameters_command(std::ostream& out, std::string_view query, bool json);

} // namespace heapcast::cli
