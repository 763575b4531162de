#include "cli/report/tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace heapcast::cli {

namespace {

/// Decimals that show about three digits of the largest value, the same for a whole column.
int decimals(const std::vector<double>& values) {
  double largest = 0.0;
  for (const double value : values) {
    if (std::isfinite(value)) {
      largest = std::max(largest, std::abs(value));
    }
  }
  if (largest >= 300.0 || largest == 0.0) {
    return 0;
  }
  return std::clamp(2 - static_cast<int>(std::floor(std::log10(largest))), 1, 6);
}

} // namespace

DailyTable table_of_days(const std::vector<double>& days, const Calendar& calendar) {
  DailyTable table;
  table.head.emplace_back("Day");
  if (calendar.known()) {
    table.head.emplace_back("Date");
  }
  for (const double day : days) {
    auto& row = table.rows.emplace_back();
    row.push_back(fmt::format("{:.4g}", day));
    if (calendar.known()) {
      row.push_back(calendar.iso_date(day));
    }
  }
  return table;
}

void add_column(DailyTable& table, const std::string& head, const std::vector<double>& values) {
  table.head.push_back(head);
  const int places = decimals(values);
  for (std::size_t i = 0; i < values.size(); ++i) {
    table.rows[i].push_back(std::isfinite(values[i]) ? fmt::format("{:.{}f}", values[i], places)
                                                     : "–");
  }
}

std::string with_unit(const std::string& label, const std::string& unit) {
  return unit.empty() ? label : label + ", " + unit;
}

} // namespace heapcast::cli
