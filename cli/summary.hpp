#pragma once

#include "cli/display_units.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"
#include "models/pile.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace heapcast::cli {

inline constexpr std::size_t summary_columns = 80;
inline constexpr std::size_t summary_lines = 40;

/// How the summary is written.
struct SummaryStyle {
  bool utf8 = true;                    ///< else ASCII alone
  bool stopped = false;                ///< the run was ended before its horizon
  std::vector<std::string> saved = {}; ///< files written, named at the end
  DisplayUnits units = DisplayUnits::metric;
};

/// The forecast on one screen: the answer in a sentence, the temperature curve with turns and rain,
/// the numbers, what held the pile back, warnings and cautions. At most `summary_columns` wide and
/// `summary_lines` long; the curve is lower when there is more to say. What a result does not have
/// is left out.
[[nodiscard]] std::string summary(const models::PileDescription& pile,
                                  const models::ForecastResult& result, const SummaryStyle& style);

/// The same of several runs: medians, with the 10 % and 90 % points in brackets and as a band in
/// the chart, and how many runs are not ready within the horizon. What was done and what held the
/// pile back are those of the pile with its own parameters and weather.
[[nodiscard]] std::string summary(const models::PileDescription& pile,
                                  const models::EnsembleResult& ensemble,
                                  const SummaryStyle& style);

} // namespace heapcast::cli
