#pragma once

#include "cli/display_units.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

struct CheckOptions {
  std::vector<std::string> files;
  std::vector<std::string> overrides; ///< `--set` options, for every file
  bool quiet = false;                 ///< faults only
  DisplayUnits units = DisplayUnits::metric;
};

/// `heapcast check`: reads pile files, studies and files of own materials, with the files they
/// name, and says of each what is wrong, or what it holds. Returns 0 when all are in order, 2 when
/// one has faults, else 4 when one cannot be read.
[[nodiscard]] int check_command(const CheckOptions& options);

} // namespace heapcast::cli
