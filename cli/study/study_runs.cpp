#include "cli/study/study_runs.hpp"

#include "engine/errors.hpp"
#include "engine/run_pool.hpp"
#include "models/lane_runs.hpp"

#include <algorithm>
#include <memory>
#include <string>
#include <utility>

namespace heapcast::cli {

namespace {

/// The next run that can be begun.
std::optional<models::LaneRun> take(const StudyPlan& plan, const RunMaking& making,
                                    const KeptOutputs& kept) {
  while (!making.stop()) {
    const std::optional<std::size_t> run = making.next();
    if (!run) {
      return std::nullopt;
    }
    std::shared_ptr<const models::PileDescription> pile;
    try {
      pile = plan.pile(*run);
    } catch (const InputError& error) {
      making.done(failed_record(*run, plan.study().pile.pile->start, error.what()));
      making.advanced(1.0);
      continue;
    }
    auto reported = std::make_shared<double>(0.0);
    const auto report = [&making, reported](double share) {
      making.advanced(share - *reported);
      *reported = share;
    };
    return models::LaneRun{
        .pile = pile,
        .progress =
            [&making, report](double share) {
              report(share);
              return !making.stop();
            },
        .done =
            [&making, &kept, report, n = *run,
             start = pile->start](models::ForecastResult&& result) {
              // One that was stopped on its way is not done.
              if (!making.stop()) {
                making.done(record_of(n, start, result, kept));
                report(1.0);
              }
            },
        .failed =
            [&making, report, n = *run, start = pile->start](const std::string& reason) {
              making.done(failed_record(n, start, reason));
              report(1.0);
            }};
  }
  return std::nullopt;
}

} // namespace

void make_runs(const StudyPlan& plan, const RunMaking& making) {
  const KeptOutputs kept{plan.study().daily, plan.study().fields};
  const std::size_t threads =
      std::min(engine::pool_threads(making.threads), std::max<std::size_t>(making.runs, 1));
  const std::size_t most = (making.runs + threads - 1) / threads;
  engine::run_pool(threads, static_cast<unsigned>(threads), [&](std::size_t) {
    models::run_side_by_side([&] { return take(plan, making, kept); },
                             static_cast<int>(std::clamp<std::size_t>(most, 1, models::run_lanes)));
  });
}

} // namespace heapcast::cli
