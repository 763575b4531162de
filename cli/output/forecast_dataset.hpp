#pragma once

#include "cli/output/output_context.hpp"
#include "engine/results_file.hpp"
#include "models/forecast.hpp"

namespace heapcast::cli {

/// One forecast in the schema of the results file, for `engine::write_results_file`:
/// - dimensions `run` (1), `time`, `field_time`, `test_time`, `cell`, `corner`, `event`;
/// - (run, time): every series, and `limit` as flags;
/// - (run, test_time): every laboratory test; (run): `ready_decided_by`, the keys of criteria;
/// - (run): every scalar; where one is NaN also `<name>_reason` with the reason as text;
/// - (run, field_time, cell): every field; (cell): `cell_x`, `cell_z`, `cell_depth`, `cell_volume`;
///   (cell, corner): `cell_corner_x`, `cell_corner_z`, NaN beyond a cell's last corner;
/// - (event): `event_day`, `event_kind`, `event_reason`, `event_litres`, `event_kg`;
/// - root attributes from which the run can be made again.
/// `units` are UDUNITS; where people see another form it is in `display_units`. The time a run took
/// is left out, so that the same run gives the same file.
[[nodiscard]] engine::Dataset forecast_dataset(const models::PileDescription& pile,
                                               const models::ForecastResult& result,
                                               const OutputContext& context);

} // namespace heapcast::cli
