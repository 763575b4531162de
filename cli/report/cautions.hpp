#pragma once

#include "cli/report/results_reader.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// Where something can hurt someone: what this forecast says about it, and what to do.
struct Caution {
  std::string title;
  std::string finding; ///< the number of this forecast behind it; empty when the file has none
  std::string advice;
  bool applies = false; ///< this forecast gives a reason for it; the others hold for any pile
};

/// All cautions of the trade, those that apply first. Numbers of several runs are the
/// 90 % point (10 % for moisture and for what heat kills germs), so that the worse end counts.
[[nodiscard]] std::vector<Caution> cautions(const ResultsReader& results);

/// The words of `words` that stand in the pile file, comments left out, whole words in any case
/// and in singular or plural.
[[nodiscard]] std::vector<std::string> words_in_pile_file(const std::string& pile_file,
                                                          const std::vector<std::string>& words);

} // namespace heapcast::cli
