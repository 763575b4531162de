#pragma once

#include "cli/report/calendar.hpp"
#include "cli/report/results_reader.hpp"
#include "cli/report/tables.hpp"

#include <nlohmann/json.hpp>

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// What stands for a day in a chart's table.
enum class Daily {
  mean,   ///< mean over the day
  at_end, ///< value when the day ends
  sum     ///< what fell in the day: of a rate per hour, or of an amount for each output time
};

struct ChartSeries {
  std::string variable;
  std::string label;
  Daily daily = Daily::mean;
  bool drawn = true;       ///< false: in the table only
  std::string colour = {}; ///< in report.css, `--COLOUR`; empty: the variable's own
};

/// One chart of the report. Its colours are in report.css, `--VARIABLE`.
struct Chart {
  std::string_view part; ///< section of report.html it stands in
  std::string_view id;
  std::string_view kind; ///< "lines", "stack" or "bars"
  std::string_view title;
  std::vector<ChartSeries> series;
  std::string_view axis = "time"; ///< dimension of the series
};

[[nodiscard]] std::span<const Chart> all_charts();

/// A series the results hold, with its values for each row of the table.
struct FilledSeries {
  ChartSeries series;
  Curve curve;
  Curve daily;
};

/// A line across a chart that its curve is held against.
struct Level {
  double value;
  std::string label;
};

/// A chart with the series the results hold.
struct FilledChart {
  const Chart* chart;
  std::vector<double> row_days; ///< end of each row of the table, in days since the build
  std::vector<FilledSeries> series;
  std::optional<Level> level;
};

/// The charts for which the results hold at least one series. Laboratory tests come with the limit
/// of their criterion, the chart of the probes with a series for each probe of the file.
[[nodiscard]] std::vector<FilledChart> fill_charts(const ResultsReader& results);

/// A chart's numbers.
[[nodiscard]] DailyTable daily_table(const FilledChart& chart, const Calendar& calendar);

/// What report.js draws: the charts and the values of their series, rounded to four digits, over
/// days since the build: every output, or, for a run of more than `most_points` outputs, the values
/// of the table. A chart over another dimension than time has days of its own. Series in another
/// unit than the first of their chart are marked as not drawn.
[[nodiscard]] nlohmann::json chart_data(const ResultsReader& results,
                                        const std::vector<FilledChart>& charts,
                                        std::size_t most_points);

/// `value` to `digits` significant digits.
[[nodiscard]] double rounded(double value, int digits);

} // namespace heapcast::cli
