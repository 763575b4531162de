#pragma once

#include "cli/study/run_record.hpp"
#include "cli/study/study_identity.hpp"
#include "engine/journal.hpp"

#include <cstddef>
#include <cstdint>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// Which runs of a study are made here.
struct RunRange {
  std::size_t first = 0;
  std::size_t count = 0;
};

/// The finished runs of a study that is not complete, on disk. Its threads may share it.
class StudyJournal {
public:
  /// Opens it, or begins it. What an interrupted study left is taken over. Throws InputError, which
  /// shows the difference, when it belongs to another study.
  StudyJournal(const std::string& path, const StudyIdentity& identity, RunRange range);

  [[nodiscard]] std::size_t done() const { return done_; }
  [[nodiscard]] std::size_t failed() const { return failed_; }
  /// Runs of the range that are not there, in order.
  [[nodiscard]] std::vector<std::size_t> missing() const;

  void add(const RunRecord& record);
  /// The same with bytes that somebody else made of labels and record.
  void add(std::string_view labels, std::string_view record);
  [[nodiscard]] RunRecord record(std::size_t run) const;

  void flush() { journal_.flush(); }
  void remove() { journal_.remove(); }

private:
  void note(std::string_view record, std::uint64_t place);

  engine::Journal journal_;
  RunRange range_;
  RecordReader reader_;
  std::vector<std::uint64_t> places_; ///< by run of the range; 0: not there
  std::vector<std::uint64_t> known_labels_;
  std::size_t done_ = 0, failed_ = 0;
  std::mutex mutex_;
};

} // namespace heapcast::cli
