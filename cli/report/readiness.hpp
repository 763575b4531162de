#pragma once

#include "cli/report/calendar.hpp"
#include "cli/report/results_reader.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// One criterion as the report's table has it, every cell as text.
struct CriterionLine {
  std::string title;
  std::string limit;
  std::string at_end; ///< "–" where the file has no such number
  std::string day;    ///< from when on it is met, or why it is not
  bool asked = false; ///< counts for the use
  std::string source; ///< of the limit, and how it is known
};

/// When the compost is ready, criterion by criterion.
struct ReadinessTable {
  std::vector<CriterionLine> lines;
  std::vector<std::string> numbers; ///< names of the numbers that stand in it
};

/// What the pile is judged by (`add_criteria`) with what became of it, then the hygiene rule and
/// the last addition of material where they count. Empty for a file without criteria.
[[nodiscard]] ReadinessTable readiness_table(const ResultsReader& results,
                                             const Calendar& calendar);

/// What was met last in the runs that are ready, or is not met in those that are not: everything
/// that holds for half of them or more, else the most frequent. By keys of measures, `hygiene` or
/// `addition`, the most frequent first.
struct Deciders {
  std::vector<std::string> keys; ///< empty when the file does not say
  bool in_every_run = false;     ///< each of them in each of those runs
};
[[nodiscard]] Deciders deciders(const ResultsReader& results, bool of_ready_runs);

/// A key of `ready_decided_by` in plain words: "core above the air".
[[nodiscard]] std::string plain_words(const std::string& key);
/// "core above the air, hygiene" of "above_air, hygiene".
[[nodiscard]] std::string deciders_in_words(const std::string& keys);

/// A day of a run as people read it: "day 36 (6 April 2025)". Of several runs the median date and
/// the interval, "6 April (28 March – 17 April)", "later" for what lies beyond the time computed,
/// and how many runs do not have the day. `none` in place of a day that no run has.
[[nodiscard]] std::string shown_day(const Number& day, const ResultsReader& results,
                                    const Calendar& calendar, const std::string& none);

/// A source and how it is known: "…; quoted from memory".
[[nodiscard]] std::string sourced(std::string_view source, std::string_view provenance);

} // namespace heapcast::cli
