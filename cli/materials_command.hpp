#pragma once

#include <iosfwd>
#include <string_view>

namespace heapcast::cli {

/// `heapcast materials [NAME]`: what the material library holds.
///
/// Without a query: one line a material, at most 100 columns wide. With a name, or a word that
/// names, titles, groups or other words contain: every number with its unit, range, provenance and
/// source. `json` writes an array of objects instead, always with everything.
/// Returns 0. Throws InputError (exit code 2) with the nearest names when nothing fits.
int materials_command(std::ostream& out, std::string_view query, bool json);

} // namespace heapcast::cli
