#pragma once

#include "cli/report/results_reader.hpp"
#include "engine/results_file.hpp"
#include "models/cautions.hpp"

#include <vector>

namespace heapcast::cli {

/// Puts the cautions of a run into its results file, so that its report can be made from that
/// alone: the dimension `caution` and caution_title, _finding, _brief, _advice and _applies.
void add_cautions(engine::Dataset& data, const std::vector<models::Caution>& cautions);

/// The cautions of a results file; none when it has none.
[[nodiscard]] std::vector<models::Caution> cautions(const ResultsReader& results);

} // namespace heapcast::cli
