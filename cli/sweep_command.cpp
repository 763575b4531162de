#include "cli/sweep_command.hpp"

#include "cli/console.hpp"
#include "cli/joined.hpp"
#include "cli/study/study_identity.hpp"
#include "cli/study/study_journal.hpp"
#include "cli/study/study_ranks.hpp"
#include "cli/study/study_results.hpp"
#include "cli/study/study_runs.hpp"
#include "engine/errors.hpp"
#include "engine/ranks.hpp"
#include "engine/results_file.hpp"

#include <algorithm>
#include <atomic>
#include <charconv>
#include <chrono>
#include <exception>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <system_error>
#include <thread>
#include <utility>
#include <variant>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

/// "3/40": one of so many parts of a study.
struct Shard {
  std::size_t number = 1; ///< from 1
  std::size_t count = 1;

  /// Consecutive runs, as many as in every other shard or one more.
  [[nodiscard]] RunRange range(std::size_t runs) const {
    const std::size_t first = runs * (number - 1) / count;
    return {first, runs * number / count - first};
  }
};

Shard parse_shard(const std::string& text) {
  Shard shard;
  if (text.empty()) {
    return shard;
  }
  const char* end = text.data() + text.size();
  const auto [slash, error] = std::from_chars(text.data(), end, shard.number);
  bool good = error == std::errc{} && slash != end && *slash == '/';
  if (good) {
    const auto [rest, second] = std::from_chars(slash + 1, end, shard.count);
    good = second == std::errc{} && rest == end && shard.count <= 1000000 && shard.number >= 1 &&
           shard.number <= shard.count;
  }
  if (!good) {
    throw InputError(fmt::format("--shard {}", printable(text, 40)),
                     "is no number of a part and number of parts",
                     "write for example --shard 3/40, from 1/40 to 40/40");
  }
  return shard;
}

std::string output_of(const SweepOptions& options, const Shard& shard) {
  if (!options.output.empty()) {
    return options.output;
  }
  std::filesystem::path path = options.study;
  const std::string part =
      options.shard.empty() ? "" : fmt::format("_{}_of_{}", shard.number, shard.count);
  path.replace_filename(path.stem().string() + part + ".h5");
  return path.string();
}

void refuse_inputs(const std::string& output, const std::vector<std::string>& inputs) {
  for (const std::string& input : inputs) {
    std::error_code not_there;
    if (std::filesystem::equivalent(output, input, not_there)) {
      throw InputError(fmt::format("--output {}", output), "is an input itself",
                       "write to another name");
    }
  }
}

/// How far it is, on a terminal. May be shared by threads.
class SweepProgress {
public:
  SweepProgress(bool wanted, const StudyJournal& journal, std::size_t runs)
      : line_(wanted), runs_(runs), done_(journal.done()), failed_(journal.failed()),
        before_(journal.done()) {}

  void advance(double share) {
    const std::scoped_lock lock(mutex_);
    made_ += share;
    show();
  }
  void finished(bool failed) {
    const std::scoped_lock lock(mutex_);
    ++done_;
    failed_ += failed ? 1 : 0;
    show();
  }

private:
  void show() {
    const double elapsed_s =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
    const double rate = made_ / elapsed_s;
    const double left_s = (static_cast<double>(runs_ - before_) - made_) / rate;
    if (rate > 0) {
      line_.show(fmt::format("{} of {} runs, {:.3g} a {}, {} left, {} failed", done_, runs_,
                             rate >= 1 ? rate : 60 * rate, rate >= 1 ? "second" : "minute",
                             time_left(left_s), failed_));
    }
  }

  std::mutex mutex_;
  ProgressLine line_;
  std::size_t runs_, done_, failed_, before_;
  double made_ = 0.0; ///< runs, since the start
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

/// The runs that are still to be handed out. May be shared by threads.
class Handout {
public:
  explicit Handout(std::vector<std::size_t> runs) : runs_(std::move(runs)) {}

  [[nodiscard]] std::size_t size() const { return runs_.size(); }
  std::optional<std::size_t> next() {
    const std::vector<std::size_t> one = some(1);
    return one.empty() ? std::nullopt : std::optional(one.front());
  }
  /// For one of `ranks`: fewer and fewer towards the end, so that all end together.
  std::vector<std::size_t> for_rank(int ranks) {
    constexpr std::size_t most = 16;
    return some(std::clamp<std::size_t>(left() / (4 * static_cast<std::size_t>(ranks)), 1, most));
  }

private:
  std::size_t left() {
    const std::scoped_lock lock(mutex_);
    return runs_.size() - next_;
  }
  std::vector<std::size_t> some(std::size_t count) {
    const std::scoped_lock lock(mutex_);
    const auto from = runs_.begin() + static_cast<std::ptrdiff_t>(next_);
    next_ += std::min(count, runs_.size() - next_);
    return {from, runs_.begin() + static_cast<std::ptrdiff_t>(next_)};
  }

  std::mutex mutex_;
  std::vector<std::size_t> runs_;
  std::size_t next_ = 0;
};

/// Does `work` on a thread of its own while this one answers the other ranks.
void work_and_serve(const std::function<bool()>& serve, const std::function<bool()>& all_gone,
                    std::atomic<bool>& broken, const std::function<void()>& work) {
  std::atomic<bool> working{true};
  std::exception_ptr failure;
  std::jthread worker([&] {
    try {
      work();
    } catch (...) {
      failure = std::current_exception();
    }
    working = false;
  });
  try {
    while (working || !all_gone()) {
      if (!serve()) {
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
      }
      if (failure && !working) {
        break;
      }
    }
  } catch (...) {
    broken = true;
    throw;
  }
  worker.join();
  if (failure) {
    std::rethrow_exception(failure);
  }
}

/// Makes the runs that the journal lacks, with the other ranks if there are any.
void make_missing(const StudyPlan& plan, const SweepOptions& options, RunServer& server,
                  std::size_t runs, StudyJournal& journal) {
  Handout handout(plan.in_order_of_shape(journal.missing()));
  SweepProgress progress(!options.quiet, journal, runs);
  std::atomic<bool> broken{false};
  RunMaking making;
  making.threads = options.threads;
  making.runs = handout.size();
  making.next = [&] { return handout.next(); };
  making.stop = [&] { return broken || interrupt() != 0; };
  making.advanced = [&](double share) { progress.advance(share); };
  making.done = [&](RunRecord&& record) {
    try {
      journal.add(record);
    } catch (...) {
      broken = true; // for the other threads
      throw;
    }
    progress.finished(!record.failure.empty());
  };
  if (server.ranks() == 1) {
    if (handout.size() > 0) {
      make_runs(plan, making);
    }
    return;
  }
  const auto next = [&] {
    return making.stop() ? std::vector<std::size_t>() : handout.for_rank(server.ranks());
  };
  const auto take = [&](std::string_view labels, std::string_view record, bool failed) {
    journal.add(labels, record);
    progress.advance(1.0);
    progress.finished(failed);
  };
  work_and_serve([&] { return server.serve(next, take); }, [&] { return server.all_gone(); },
                 broken, [&] { make_runs(plan, making); });
}

/// Whether the results file is there and complete. Throws when it is of something else.
bool is_complete(const std::string& output, const StudyIdentity& identity,
                 const std::string& shard) {
  std::error_code not_there;
  if (!std::filesystem::exists(output, not_there)) {
    return false;
  }
  const engine::Attributes attributes = engine::read_results_attributes(output);
  StudyIdentity old_one = identity_of(attributes);
  StudyIdentity new_one = identity;
  const auto found = std::ranges::find(attributes, "shard", &engine::Attributes::value_type::first);
  const auto* old_shard =
      found == attributes.end() ? nullptr : std::get_if<std::string>(&found->second);
  old_one.emplace_back("shard", old_shard == nullptr ? "" : *old_shard);
  new_one.emplace_back("shard", shard);
  const std::string changed = difference(old_one, new_one);
  if (!changed.empty()) {
    throw InputError(
        output, fmt::format("holds the results of another study; these differ:\n  {}\n ", changed),
        "put the study back as it was, or write to another name with -o");
  }
  return true;
}

std::string summary(const StudyPlan& plan, const StudyJournal& journal, std::size_t runs,
                    const std::string& output) {
  const Study& study = plan.study();
  std::string text = fmt::format("{}\n{} runs of {}", study.title, runs, study.kind_name);
  if (plan.points_left_out() > 0) {
    text += fmt::format("; {} points left out by constraints", plan.points_left_out());
  }
  if (journal.failed() > 0) {
    text += fmt::format("; {} runs failed, see run_failure", journal.failed());
  }
  return text + fmt::format("\nSaved      {}\n", output);
}

/// Rank 0, which is all there is without MPI.
int sweep(const SweepOptions& options, RunServer& server) {
  const Shard shard = parse_shard(options.shard);
  const Study study = read_study_file(options.study, options.overrides);
  const StudyPlan plan(study);
  const std::string output = output_of(options, shard);
  refuse_inputs(output, {options.study, study.pile_path});
  if (!options.quiet) {
    write_notes(notes_in_brief(study.pile_path, study.pile));
  }
  const RunRange range = shard.range(plan.runs());
  if (range.count == 0) {
    throw InputError(fmt::format("--shard {}", options.shard),
                     fmt::format("has no run: the study has {}", plan.runs()), "use fewer shards");
  }
  const StudyIdentity identity = identity_of(study, options.program_version);
  const std::string journal_path = output + ".journal";
  if (is_complete(output, identity, options.shard)) {
    std::error_code not_there;
    std::filesystem::remove(journal_path, not_there);
    if (!options.quiet) {
      write_stdout(fmt::format("{}: is complete already: {} runs\n", output, range.count));
    }
    return 0;
  }
  StudyJournal journal(journal_path, identity, range);
  if (!options.quiet && journal.done() > 0) {
    write_stderr(fmt::format("going on: {} of {} runs are done\n", journal.done(), range.count));
  }
  make_missing(plan, options, server, range.count, journal);
  if (const int signal = interrupt(); signal != 0) {
    journal.flush();
    write_stderr(fmt::format("stopped; {} of {} runs are kept in {}: the same command goes on\n",
                             journal.done(), range.count, journal_path));
    return 128 + signal;
  }
  engine::Attributes attributes = study_attributes(study, identity, plan.runs());
  if (!options.shard.empty()) {
    attributes.emplace_back("shard", options.shard);
  }
  StudyRuns runs = planned_runs(plan, range.first, range.count, std::move(attributes));
  runs.record = [&](std::size_t run) { return journal.record(run); };
  write_study_results(output, runs);
  journal.remove();
  if (!options.quiet) {
    write_stdout(summary(plan, journal, range.count, output));
  }
  return 0;
}

/// The other ranks. What is wrong with the study rank 0 says.
int work_for_rank_0(const SweepOptions& options, engine::Ranks& ranks) {
  try {
    const Study study = read_study_file(options.study, options.overrides);
    const StudyPlan plan(study);
    make_runs_for(ranks, plan, options.threads, [] { return interrupt() != 0; });
  } catch (const InputError&) {
    leave(ranks);
  } catch (const FileError&) {
    leave(ranks);
  }
  return 0;
}

} // namespace

int sweep_command(const SweepOptions& options) {
  engine::Ranks ranks;
  SweepOptions own = options;
  if (ranks.size() > 1 && own.threads == 0) {
    own.threads = 1; // there are ranks for the other cores
  }
  note_interrupts();
  if (ranks.rank() != 0) {
    return work_for_rank_0(own, ranks);
  }
  RunServer server(ranks); // lets the others go, whatever happens here
  return sweep(own, server);
}

} // namespace heapcast::cli
