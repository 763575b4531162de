#pragma once

#include "cli/output/output_context.hpp"
#include "cli/sizing.hpp"
#include "engine/results_file.hpp"

#include <nlohmann/json.hpp>

namespace heapcast::cli {

/// Every run of every size, and of what was tried to help, as of compared piles (dimension
/// `variant`), with `pile_size`, `build_volume`, `build_mass`, `help` and what was reached.
[[nodiscard]] engine::Dataset sizing_dataset(const Sizing& sizing, const OutputContext& context);

/// The answer, the curve of probability against size, and what would help.
[[nodiscard]] nlohmann::ordered_json sizing_json(const Sizing& sizing,
                                                 const OutputContext& context);

} // namespace heapcast::cli
