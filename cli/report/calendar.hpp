#pragma once

#include <chrono>
#include <optional>
#include <string>

namespace heapcast::cli {

/// Turns days since the build into dates. Without a readable start there are no dates.
class Calendar {
public:
  /// `start` as in the results file: "YYYY-MM-DDThh:00", local standard time.
  explicit Calendar(const std::string& start);

  [[nodiscard]] bool known() const { return start_.has_value(); }
  /// "5 March 2025"; "" when the start is unknown or the day is not finite.
  [[nodiscard]] std::string date(double day) const;
  /// "5 March", with the year when it is not that of the start; "day 4" without a date.
  [[nodiscard]] std::string short_date(double day) const;
  /// "day 3.7 (5 March 2025)", or "day 3.7" without a date.
  [[nodiscard]] std::string day_and_date(double day) const;
  /// "2025-03-05"; "" as for `date`.
  [[nodiscard]] std::string iso_date(double day) const;

private:
  [[nodiscard]] std::optional<std::chrono::year_month_day> at(double day) const;
  std::optional<std::chrono::sys_time<std::chrono::minutes>> start_;
};

} // namespace heapcast::cli
