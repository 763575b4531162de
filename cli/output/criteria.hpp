#pragma once

#include "engine/results_file.hpp"
#include "models/pile.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// One measure and the limit that it is judged by, as a results file holds it.
struct CriterionFacts {
  std::string key;   ///< as in `ready_day_<key>`
  std::string title; ///< as read by people
  std::string unit;
  double limit = 0.0; ///< in `unit`; of a measure that is not asked for that of a garden bed
  bool asked = false; ///< by what the pile is judged for
  std::string source;
  std::string provenance; ///< read | memory | common practice | judgement | given
};

/// Puts what a pile is judged by into its results file, so that its report can be made from that
/// alone: the dimension `criterion`, one for each measure, with criterion_key, _title, _unit,
/// _limit, _asked, _source and _provenance; the root attributes `use`, its title, and
/// `hygiene_rule`, the key of the rule that counts for this pile or nothing.
void add_criteria(engine::Dataset& data, const models::PileDescription& pile);

/// What a results file's pile is judged by; nothing when the file does not say or is inconsistent.
[[nodiscard]] std::vector<CriterionFacts> criteria(const engine::Dataset& data);

} // namespace heapcast::cli
