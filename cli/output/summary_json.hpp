#pragma once

#include "cli/output/output_context.hpp"
#include "models/forecast.hpp"

#include <nlohmann/json.hpp>

namespace heapcast::cli {

/// The summary of a forecast for other programs, its keys always in the same order:
/// `schema_version`, `program_version`, `title`, `start`, `resolution`, `horizon_days`, `seed`,
/// `results` (each per-run number by name: `value`, `unit`, and where `value` is null `reason`),
/// `events` (how many of each kind), `warnings`, `weather` (`source`, `checksum`, `estimates`).
[[nodiscard]] nlohmann::ordered_json summary_json(const models::PileDescription& pile,
                                                  const models::ForecastResult& result,
                                                  const OutputContext& context);

} // namespace heapcast::cli
