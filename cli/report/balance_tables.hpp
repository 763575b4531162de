#pragma once

#include "cli/report/answer.hpp"
#include "cli/report/results_reader.hpp"

#include <vector>

namespace heapcast::cli {

/// Water of one week of a run, litres; with several runs differences of the medians.
struct WaterWeek {
  int week = 0; ///< 1 is the first
  double given = 0.0, rain = 0.0, evaporated = 0.0, drained = 0.0;
};

/// One entry for each week begun; empty when the file lacks a curve.
[[nodiscard]] std::vector<WaterWeek> water_weeks(const ResultsReader& results);

/// The week-by-week water of cumulative curves over hours. Curves that differ in length from
/// `time_h` give nothing.
struct CumulativeWater {
  std::vector<double> given, rain, evaporated, drained;
};
[[nodiscard]] std::vector<WaterWeek> water_weeks(const std::vector<double>& time_h,
                                                 const CumulativeWater& water);

/// Hours of work by kind, what comes out, and where the nitrogen went: those the file has.
[[nodiscard]] std::vector<KeyFigure> work_figures(const ResultsReader& results);
[[nodiscard]] std::vector<KeyFigure> yield_figures(const ResultsReader& results);
[[nodiscard]] std::vector<KeyFigure> nitrogen_figures(const ResultsReader& results);

} // namespace heapcast::cli
