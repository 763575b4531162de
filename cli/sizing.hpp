#pragma once

#include "cli/comparison.hpp"
#include "cli/input/pile_file.hpp"
#include "engine/threshold_search.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// What was asked of each run: reached, not reached, or not asked.
struct RunsMet {
  std::vector<bool> by_run; ///< empty when nothing was asked
  [[nodiscard]] bool asked() const { return !by_run.empty(); }
  [[nodiscard]] std::size_t count() const;
  [[nodiscard]] double share() const;
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

struct Sizing {
  std::string title;
  SizeRequest request;
  std::size_t runs = 0;
  double from = 0.0, to = 0.0;     ///< sizes between which it was looked
  std::vector<TriedSize> sizes;    ///< by size
  SizeAnswer smallest, largest;    ///< of the goal, of the limit
  std::vector<TriedSize> helps;    ///< tried at the best size when no size does
  std::vector<std::string> cannot; ///< helps that could not be tried, and why

  /// Whether the smallest size that reaches the goal is too large for the limit.
  [[nodiscard]] bool contradicts() const;
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

/// The sentences alone, for JSON and the results file.
[[nodiscard]] std::string sizing_answer(const Sizing& sizing);

} // namespace heapcast::cli
