#pragma once

#include "cli/display_units.hpp"

#include <iosfwd>
#include <string_view>

namespace heapcast::cli {

/// `heapcast materials [NAME]`: what the material library holds.
///
/// Without a query: one line a material, at most 100 columns wide. With a name, or words that begin
/// words of names, titles, groups or other names: every number with its unit, range, provenance and
/// source; one line each when they find more than three. `json` writes an array of objects instead,
/// always with everything, in the units of the library. `units`: of what is written as text.
/// Returns 0. Throws InputError (exit code 2) with the nearest names when nothing fits.
int materials_command(std::ostream& out, std::string_view query, bool json,
                      DisplayUnits units = DisplayUnits::metric);

} // namespace heapcast::cli
