#pragma once

#include "cli/study/run_record.hpp"
#include "cli/study/study_plan.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

namespace heapcast::cli {

/// How runs are made and what becomes of them. Everything is called on many threads.
struct RunMaking {
  unsigned threads = 0; ///< 0: as many as the machine has
  std::size_t runs = 0; ///< there may be, for sharing them out
  /// The next run, or none. Called until it gives none on each thread.
  std::function<std::optional<std::size_t>()> next;
  std::function<void(RunRecord&&)> done;
  /// Told the share of a run that was done since the last call.
  std::function<void(double)> advanced;
  std::function<bool()> stop; ///< runs in hand are dropped once it is true
};

/// Makes runs side by side on every thread until there are none. A run that cannot be made is done
/// with its reason. Throws what `next` and `done` throw.
void make_runs(const StudyPlan& plan, const RunMaking& making);

} // namespace heapcast::cli
