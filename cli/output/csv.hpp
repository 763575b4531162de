#pragma once

#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <string>

namespace heapcast::cli {

/// Writes a forecast as CSV (RFC 4180, UTF-8) into `folder`, which is made when it is not there;
/// each file whole or not at all:
/// - series.csv: `time [h]`, `date`, every series as `name [unit]`, `limit`;
/// - tests.csv: `time [h]`, `date`, every laboratory test as `name [unit]`;
/// - summary.csv: name, value, unit, reason;
/// - events.csv: `day [d]`, date, kind, reason, `water [litre]`, `material [kg]`;
/// - section.csv: a line per field time and cell.
/// Numbers are the shortest that read back the same; one that is missing is empty. `start` is the
/// build, "YYYY-MM-DDThh:mm". Throws FileError.
void write_csv(const std::string& folder, const models::ForecastResult& result,
               const std::string& start);

/// The same of several runs:
/// - series.csv and tests.csv have `name_low`, `name_median` and `name_high`, the points of
///   `models::spread`; `limit` is the central run's, as are events.csv and section.csv;
/// - summary.csv has the median as `value`, and `low`, `high` and `missing_runs` at the end; a
/// point
///   beyond every value is empty;
/// - runs.csv has a line for each run: run, the start of its weather, why it failed, every number,
///   every parameter that was drawn.
void write_csv(const std::string& folder, const models::EnsembleResult& ensemble,
               const models::PileDescription& pile);

} // namespace heapcast::cli
