#pragma once

#include "cli/input/pile_file.hpp"
#include "models/ensemble/ensemble.hpp"

#include <cstddef>
#include <cstdint>

namespace heapcast::cli {

/// How often a pile is run, with which draws.
struct RunCount {
  std::size_t runs;
  std::uint64_t seed;
  unsigned threads;
};

/// Options of an ensemble of one pile, with the years of weather of its file, which must outlive
/// them.
[[nodiscard]] inline models::EnsembleOptions ensemble_options(const PileFile& file,
                                                              const RunCount& count) {
  models::EnsembleOptions options;
  options.runs = count.runs;
  options.seed = count.seed;
  options.threads = count.threads;
  if (file.year) {
    options.year = [&file](std::size_t, std::size_t run) { return file.year(run); };
  }
  return options;
}

} // namespace heapcast::cli
