#pragma once

#include "cli/study/run_record.hpp"
#include "cli/study/study_plan.hpp"
#include "engine/results_file.hpp"

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace heapcast::cli {

/// A variable of the design over consecutive runs. Exactly one of `numbers` and `texts` is used.
struct DesignColumn {
  std::string name;
  engine::Attributes attributes;
  bool whole = false; ///< whole numbers
  std::vector<double> numbers;
  std::vector<std::string> texts;
};

/// Consecutive runs of a study, all done: a whole study, a shard, or several shards joined.
struct StudyRuns {
  engine::Attributes attributes; ///< of the file, without what is counted while it is written
  std::size_t first = 0;         ///< number of the first run
  std::size_t count = 0;
  std::vector<DesignColumn> design; ///< of these runs
  /// The record of a run by its number. Asked for in order, twice over.
  std::function<RunRecord(std::size_t run)> record;
};

/// Runs `first` to `first + count` - 1 of a plan; `record` is left empty.
[[nodiscard]] StudyRuns planned_runs(const StudyPlan& plan, std::size_t first, std::size_t count,
                                     engine::Attributes attributes);

/// Writes the results file of a study, a block of runs at a time: its bytes follow from `runs`
/// alone.
///
/// Dimensions `run` (the run's number), `day`, and with pictures `field_day` and `cell`; (run): the
/// design, every number of a run, for those that lack it the place of the reason in the list
/// `reason`, and why a run failed; (run, day): series; (run, field_day, cell): pictures. Where runs
/// differ in days or cells the shorter end in NaN.
void write_study_results(const std::string& path, const StudyRuns& runs);

/// A results file of a study read back. `record` keeps the file's content in memory. Throws
/// FileError when the file holds no study.
[[nodiscard]] StudyRuns read_study_results(const std::string& path);

} // namespace heapcast::cli
