#pragma once

#include "cli/output/output_context.hpp"
#include "engine/results_file.hpp"
#include "models/ensemble/ensemble.hpp"
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
/// - (criterion), (caution): what `add_criteria` and `add_cautions` say;
/// - root attributes from which the run can be made again.
/// `units` are UDUNITS; where people see another form it is in `display_units`. The time a run took
/// is left out, so that the same run gives the same file.
[[nodiscard]] engine::Dataset forecast_dataset(const models::PileDescription& pile,
                                               const models::ForecastResult& result,
                                               const OutputContext& context);

/// Several runs in the same schema, but for:
/// - dimensions `run` (as many as there are) and `quantile` (0.1, 0.5, 0.9);
/// - (quantile, time): every series, `models::spread` of the runs at each time; tests likewise;
/// - (run): every scalar of every run, NaN where it has none, with the attribute `central_run`, its
///   value with the pile's own parameters and weather; `run_start`, the start of the weather used;
///   `run_failure`, why the run failed or empty; `parameter_<name>`, every parameter that was
///   drawn; `ready_decided_by` where it is known;
/// - `limit` over (time), fields over (field_time, cell) and the events: of the central run, as
///   their `comment` says;
/// - root attributes `runs`, `failed_runs` and `first_failure`.
[[nodiscard]] engine::Dataset forecast_dataset(const models::PileDescription& pile,
                                               const models::EnsembleResult& ensemble,
                                               const OutputContext& context);

} // namespace heapcast::cli
