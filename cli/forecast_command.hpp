#pragma once

#include "cli/display_units.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace heapcast::cli {

struct ForecastOptions {
  std::string pile;   ///< the pile file
  std::string output; ///< results file, or "" for none; so for the next two
  std::string report;
  std::string csv_folder;
  bool json = false;                         ///< the summary as JSON instead of text
  bool quiet = false;                        ///< no summary, notes or progress
  std::vector<std::string> overrides;        ///< `--set` and the options that stand for one
  std::optional<std::uint64_t> seed;         ///< in place of the file's `site.normals.seed`
  std::size_t runs = 1;                      ///< 2 or more: an ensemble
  unsigned threads = 0;                      ///< for several runs; 0: as many as the machine has
  DisplayUnits units = DisplayUnits::metric; ///< of summary, notes and report
  std::string program_version;
};

/// `heapcast forecast`: reads the pile file, runs it, writes what is asked for and prints the
/// summary. Several runs that are interrupted leave the run with the pile's own values alone.
/// Returns 0, or 128 plus the signal's number when it was interrupted. Throws InputError,
/// NumericsError, FileError.
[[nodiscard]] int forecast_command(const ForecastOptions& options);

} // namespace heapcast::cli
