#pragma once

#include "cli/display_units.hpp"
#include "engine/results_file.hpp"

#include <string>

namespace heapcast::cli {

/// The report: one HTML file that needs nothing else, neither network nor other files, made from
/// what a results file holds and from nothing else. A part of the report whose data the results
/// lack is left out. Several runs are shown as median and 10 % to 90 % points; the section
/// pictures are then those of the pile's own values and weather. Text from the results is escaped.
/// Numbers, charts and sentences are in `units`; the results stay as they are.
[[nodiscard]] std::string html_report(const engine::Dataset& results,
                                      DisplayUnits units = DisplayUnits::metric);

} // namespace heapcast::cli
