#pragma once

#include "cli/study/study_runs.hpp"
#include "engine/ranks.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// Rank 0's side: hands out runs to the other ranks and takes what they made.
class RunServer {
public:
  /// Some runs, or none when there are no more.
  using Next = std::function<std::vector<std::size_t>()>;
  using Take = std::function<void(std::string_view labels, std::string_view record, bool failed)>;

  explicit RunServer(engine::Ranks& ranks) : ranks_(ranks) {}
  RunServer(const RunServer&) = delete;
  RunServer& operator=(const RunServer&) = delete;
  RunServer(RunServer&&) = delete;
  RunServer& operator=(RunServer&&) = delete;
  /// Lets the ranks that are still there go, without work.
  ~RunServer();

  /// Answers one message, if there is one; false when there is none. Throws what `take` throws, and
  /// FileError with what went wrong in another rank.
  bool serve(const Next& next, const Take& take);
  [[nodiscard]] int ranks() const { return ranks_.size(); }
  [[nodiscard]] bool all_gone() const { return gone_ + 1 == ranks_.size(); }

private:
  engine::Ranks& ranks_;
  int gone_ = 0;
};

/// The other ranks' side: makes runs that rank 0 hands out until there are none. `stop` drops those
/// in hand. Tells rank 0 what goes wrong.
void make_runs_for(engine::Ranks& ranks, const StudyPlan& plan, unsigned threads,
                   const std::function<bool()>& stop);

/// Says to rank 0 that this rank will not work.
void leave(engine::Ranks& ranks);

} // namespace heapcast::cli
