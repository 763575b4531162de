#pragma once

#include "cli/study/run_record.hpp"
#include "engine/results_file.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// What sensitivity indices are computed from: one output of every run, in their order.
struct StudyOutputs {
  std::vector<std::string> factors;
  std::vector<Label> numbers;
  std::vector<std::vector<double>> values; ///< by number and run; NaN where missing
};

/// Whether indices follow from a study with these attributes: its design is one of those for it.
[[nodiscard]] bool has_sensitivity(const engine::Attributes& attributes);

/// Adds the indices of every number to a results file: over dimensions `number` and `factor` either
/// `sobol_first` and `sobol_total` with their 95 % intervals, or `morris_mu`, `morris_mu_star` and
/// `morris_sigma`. Of a point that is run in several years of weather the mean counts; one with a
/// missing value is left out.
void add_sensitivity(engine::Dataset& data, const StudyOutputs& outputs);

} // namespace heapcast::cli
