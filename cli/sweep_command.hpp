#pragma once

#include <string>
#include <vector>

namespace heapcast::cli {

struct SweepOptions {
  std::string study;
  std::string output;   ///< results file; "": the study's name with .h5
  std::string shard;    ///< "3/40", or "" for the whole study
  unsigned threads = 0; ///< 0: as many as the machine has
  bool quiet = false;
  std::vector<std::string> overrides;
  std::string program_version;
};

/// `heapcast sweep`: makes the runs of a study and writes its results file; goes on where an
/// interrupted one was left. Returns 0, or 128 plus the signal's number when it was interrupted.
/// Throws InputError, FileError.
[[nodiscard]] int sweep_command(const SweepOptions& options);

struct GatherOptions {
  std::vector<std::string> shards;
  std::string output;
  bool quiet = false;
};

/// `heapcast gather`: joins the results files of all shards of a study. Returns 0. Throws
/// InputError, FileError.
[[nodiscard]] int gather_command(const GatherOptions& options);

} // namespace heapcast::cli
