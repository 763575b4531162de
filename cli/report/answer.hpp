#pragma once

#include "cli/report/calendar.hpp"
#include "cli/report/results_reader.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// The forecast in a few plain sentences: when it is ready and what decides it, or why it is not,
/// and how hot it gets for how long. Without a word on readiness the heat comes first. Either may
/// be empty.
struct Answer {
  std::string headline;
  std::string detail;
};

[[nodiscard]] Answer answer(const ResultsReader& results, const Calendar& calendar);

/// A number as people read it, with its unit, and the interval when runs differ.
[[nodiscard]] std::string shown(const Number& number);

/// A few numbers that stand beside the answer.
struct KeyFigure {
  std::string label;
  std::string value;
};
[[nodiscard]] std::vector<KeyFigure> key_figures(const ResultsReader& results);

} // namespace heapcast::cli
