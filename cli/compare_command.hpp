#pragma once

#include "cli/display_units.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace heapcast::cli {

struct CompareOptions {
  std::vector<std::string> files; ///< one with `[[variant]]` tables, or several
  std::string output;             ///< results file, or "" for none
  std::size_t runs = 30;
  unsigned threads = 0; ///< 0: as many as the machine has
  bool json = false;
  bool quiet = false;
  std::vector<std::string> overrides;
  std::optional<std::uint64_t> seed;
  DisplayUnits units = DisplayUnits::metric; ///< of what is printed as text
  std::string program_version;
};

/// `heapcast compare`: runs several piles with the same draws and shows them side by side. Returns
/// 0, or 128 plus the signal's number when it was interrupted, with nothing written. Throws
/// InputError, NumericsError, FileError.
[[nodiscard]] int compare_command(const CompareOptions& options);

} // namespace heapcast::cli
