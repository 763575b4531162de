#pragma once

#include "cli/output/output_context.hpp"
#include "models/ensemble/ensemble.hpp"
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

/// The same of several runs. In `results` `value` is the median; beside it are `low` and `high`,
/// the 10 % and 90 % points (`models::spread`; null: beyond every value), and `missing_runs`, how
/// many runs do not have the number. `reason` is there when a run does not have it. `runs` and
/// `failed_runs` are added; a run that failed counts nowhere else. The events are those of the pile
/// with its own parameters and weather.
[[nodiscard]] nlohmann::ordered_json summary_json(const models::PileDescription& pile,
                                                  const models::EnsembleResult& ensemble,
                                                  const OutputContext& context);

} // namespace heapcast::cli
