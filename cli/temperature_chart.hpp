#pragma once

#include "cli/display_units.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"
#include "models/pile.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace heapcast::cli {

struct ChartSize {
  std::size_t columns = 80;
  std::size_t lines = 15; ///< with axis and legend; at least 9
};

struct ChartStyle {
  bool utf8 = true; ///< else ASCII alone
  DisplayUnits units = DisplayUnits::metric;
};

/// The core's and the air's temperature through time, drawn in characters, with what was done on
/// the time axis and the rain below it. Around the core's curve its band over several runs, where
/// there is one. Empty when the result has no core temperature.
[[nodiscard]] std::vector<std::string> temperature_chart(const models::PileDescription& pile,
                                                         const models::ForecastResult& result,
                                                         const ChartSize& size,
                                                         const ChartStyle& style,
                                                         const models::Band* core_band = nullptr);

} // namespace heapcast::cli
