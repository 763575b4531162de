#pragma once

#include "cli/comparison.hpp"
#include "cli/goal.hpp"
#include "cli/input/pile_file.hpp"
#include "engine/threshold_search.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// One condition of a goal over all runs of a pile.
struct ConditionMet {
  Goal::Condition condition;
  std::size_t kept = 0;       ///< runs that keep it
  std::vector<double> values; ///< of the measured side, by run; NaN where the run does not have it
};

/// What was asked of each run: reached, not reached, or not asked.
struct RunsMet {
  std::vector<bool> by_run; ///< empty when nothing was asked
  std::vector<ConditionMet> conditions;
  [[nodiscard]] bool asked() const { return !by_run.empty(); }
  [[nodiscard]] std::size_t count() const;
  [[nodiscard]] double share() const;
  /// The one condition that was asked, when something is measured in it.
  [[nodiscard]] const ConditionMet* one_measured() const;
};

/// A pile that was run, at one size.
struct TriedSize {
  double size = 0.0; ///< m or m3
  std::string help;  ///< what else was changed; empty for the pile as written
  ComparedPile runs;
  double volume_m3 = 0.0, mass_kg = 0.0; ///< at the build
  RunsMet goal, limit;
};

/// Where a goal begins to be reached, or a limit ends to be kept to.
struct SizeAnswer {
  engine::ThresholdSearch search; ///< over ln(size) for the goal, over -ln(size) for the limit
  std::size_t tried = 0;          ///< place of the size found in the list of those tried
};

/// Between helps that are put together.
inline constexpr std::string_view help_between = "; ";

/// One pile at many sizes.
struct SizeSearch {
  std::string help;             ///< what was changed; empty for the pile as written
  std::vector<TriedSize> sizes; ///< by size
  SizeAnswer smallest, largest; ///< of the goal, of the limit

  /// Whether the smallest size that reaches the goal is too large for the limit.
  [[nodiscard]] bool contradicts() const;
};

struct Sizing {
  std::string title;
  SizeRequest request;
  std::size_t runs = 0;
  double from = 0.0, to = 0.0; ///< sizes between which it was looked
  SizeSearch written;
  // When no size does what is asked: the size that comes nearest, and there
  std::size_t nearest = 0;              ///< its place in `written.sizes`
  std::vector<TriedSize> helps;         ///< each help by itself
  std::vector<std::string> cannot;      ///< helps that could not be tried, and why
  std::optional<std::size_t> best_help; ///< in `helps`; none when none brings it nearer
  std::vector<TriedSize> together;      ///< with one help more each, as far as it helped
  SizeSearch helped;                    ///< with all of these, at many sizes

  [[nodiscard]] bool is_answered() const; ///< some size of the pile as written does what is asked
};

/// "m" or "m3".
[[nodiscard]] std::string_view size_unit(models::SizeBy by);
[[nodiscard]] std::string_view size_name(models::SizeBy by); ///< "height"

/// Between which shares the true probability lies with 80 % confidence, when `met` of `runs` were
/// met by chance: Wilson's score interval (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212, memory).
struct ShareInterval {
  double low, high;
};
[[nodiscard]] ShareInterval share_interval(std::size_t met, std::size_t runs);

/// The answer in a sentence, the curve, and what would help. At most 80 columns.
[[nodiscard]] std::string sizing_text(const Sizing& sizing, const std::vector<std::string>& saved,
                                      bool utf8, DisplayUnits units = DisplayUnits::metric);

/// The sentences of one search alone, for JSON and the results file.
[[nodiscard]] std::string sizing_answer(const Sizing& sizing, const SizeSearch& search);

} // namespace heapcast::cli
