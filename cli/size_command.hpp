#pragma once

#include "cli/display_units.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace heapcast::cli {

struct SizeOptions {
  std::string pile;
  std::string output; ///< results file, or "" for none
  std::size_t runs = 40;
  unsigned threads = 0; ///< 0: as many as the machine has
  bool json = false;
  bool quiet = false;
  std::vector<std::string> overrides; ///< those of `[size]` among them
  std::optional<std::uint64_t> seed;
  DisplayUnits units = DisplayUnits::metric; ///< of what is printed as text
  std::string program_version;
};

/// `heapcast size`: the smallest pile that reaches a goal, and the largest that keeps to a limit,
/// with the given probability. Returns 0, or 128 plus the signal's number when it was interrupted,
/// with nothing written. Throws InputError, NumericsError, FileError.
[[nodiscard]] int size_command(const SizeOptions& options);

} // namespace heapcast::cli
