#pragma once

#include "engine/results_file.hpp"

#include <string>

namespace heapcast::cli {

/// The report: one HTML file that needs nothing else, neither network nor other files, made from
/// what a results file holds and from nothing else. A part of the report whose data the results
/// lack is left out. Several runs are shown as median and 10 % to 90 % points; the section
/// pictures are then those of the pile's own values and weather. Text from the results is escaped.
[[nodiscard]] std::string html_report(const engine::Dataset& results);

} // namespace heapcast::cli
