#include "cli/sweep_command.hpp"

#include "cli/console.hpp"
#include "cli/joined.hpp"
#include "cli/study/study_identity.hpp"
#include "cli/study/study_journal.hpp"
#include "cli/study/study_results.hpp"
#include "cli/study/study_runs.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"

#include <algorithm>
#include <atomic>
#include <charconv>
#include <chrono>
#include <filesystem>
#include <mutex>
#include <optional>
#include <system_error>
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

/// Makes the runs that the journal lacks.
void make_missing(const StudyPlan& plan, const SweepOptions& options, std::size_t runs,
                  StudyJournal& journal) {
  const std::vector<std::size_t> todo = plan.in_order_of_shape(journal.missing());
  SweepProgress progress(!options.quiet, journal, runs);
  std::atomic<std::size_t> next{0};
  std::atomic<bool> broken{false};
  RunMaking making;
  making.threads = options.threads;
  making.runs = todo.size();
  making.next = [&]() -> std::optional<std::size_t> {
    const std::size_t place = next++;
    return place < todo.size() ? std::optional(todo[place]) : std::nullopt;
  };
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
  if (!todo.empty()) {
    make_runs(plan, making);
  }
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

} // namespace

int sweep_command(const SweepOptions& options) {
  const Shard shard = parse_shard(options.shard);
  const Study study = read_study_file(options.study, options.overrides);
  const StudyPlan plan(study);
  const std::string output = output_of(options, shard);
  refuse_inputs(output, {options.study, study.pile_path});
  if (!options.quiet) {
    write_notes(study.pile.notes);
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
  note_interrupts();
  make_missing(plan, options, range.count, journal);
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

} // namespace heapcast::cli
