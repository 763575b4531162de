#pragma once

#include "cli/input/expression.hpp"
#include "cli/input/pile_file.hpp"
#include "models/forecast.hpp"

#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// What a pile must reach, as a formula over what one run gives:
///
///     ready_day <= 60
///     ready_day <= 2026-04-01
///     lowest(core_temperature) > 0
///     volume_share(days_in_a_row(temperature >= 55) >= 3) >= 0.9
///     heated_fraction >= 0.9
///     days(core_oxygen < 5) <= 2 and not fire_risk
///
/// Names are those of the results file's numbers of each run, in their units, and `fire_risk`, 1
/// where the forecast gives the caution of fire, else 0. A date is the day, counted from the build,
/// at the end of that date. Functions over time take a formula over the names of the curves:
/// lowest, highest, mean, final; days and days_in_a_row count how long it holds, at the steps of
/// the output; first_day is when it first does (missing when it never does). volume_share is the
/// share of the volume in which a formula holds that is made of such functions over the pictures'
/// names (temperature, oxygen, ...), at the steps of the pictures.
///
/// What is missing in a run (a day not within the horizon) makes a comparison untrue.
class Goal {
public:
  /// One of the conditions that a goal joins by `and`; a goal with an `or` is one condition.
  struct Condition {
    std::string text;
    std::string measured; ///< the side of its one comparison that a run decides; empty without
    int wanted = 0;       ///< 1 when more of that side is better, -1 when less is, else 0
  };
  struct Outcome {
    bool met = false;
    std::vector<bool> kept;       ///< by condition
    std::vector<double> measured; ///< by condition; NaN without a measured side
  };

  /// `sample` is any run of the same pile: it has the names. `start` is the pile's, for dates.
  /// Throws UnitError.
  Goal(std::string_view text, const models::ForecastResult& sample, const std::string& start);

  [[nodiscard]] const std::vector<Condition>& conditions() const { return conditions_; }
  /// Whether it looks into the pile's section, for which pictures are needed.
  [[nodiscard]] bool needs_pictures() const { return needs_pictures_; }
  /// `result` must have the sample's names. Not on several threads at once.
  [[nodiscard]] Outcome outcome(const models::PileDescription& pile,
                                const models::ForecastResult& result) const;

private:
  enum class Over { run, cell };
  struct Part;    // a function and what it is of
  struct Formula; // an expression in which parts have names of their own

  static std::shared_ptr<const Formula> read(std::string_view text, Over over,
                                             const models::ForecastResult& sample);
  struct Run;
  static double value(const Part& part, const Run& run, std::size_t cell);
  static double value(const Formula& formula, const Run& run, std::size_t cell);

  /// By condition; the second is null where nothing is measured.
  struct Formulas {
    std::shared_ptr<const Formula> holds, measured;
  };

  std::vector<Condition> conditions_;
  std::vector<Formulas> formulas_;
  bool needs_pictures_ = false;
};

/// What `[size]` asks; null where it asks nothing.
struct Goals {
  std::unique_ptr<Goal> goal, limit;
};

/// Reads the formulas of a pile file's `[size]`, with the names that a run of this pile has. Throws
/// InputError with every fault.
[[nodiscard]] Goals read_goals(const PileFile& file);

} // namespace heapcast::cli
