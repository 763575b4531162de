#pragma once

#include "cli/report/calendar.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// Numbers day by day, as text: the table behind a chart.
struct DailyTable {
  std::vector<std::string> head;
  std::vector<std::vector<std::string>> rows;
};

/// A table with a row for each day and, when dates are known, a column for them.
[[nodiscard]] DailyTable table_of_days(const std::vector<double>& days, const Calendar& calendar);

/// Adds a column: one value for each row, all with the same number of decimals, a dash for NaN.
void add_column(DailyTable& table, const std::string& head, const std::vector<double>& values);

/// "label, unit", or the label alone.
[[nodiscard]] std::string with_unit(const std::string& label, const std::string& unit);

} // namespace heapcast::cli
