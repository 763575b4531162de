#pragma once

#include "cli/comparison.hpp"

#include <cmath>
#include <cstddef>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::cli {

inline std::shared_ptr<models::PileDescription> compared_pile(double days) {
  auto pile = std::make_shared<models::PileDescription>();
  pile->title = "An invented heap";
  pile->text = "title = \"An invented heap\"\n";
  pile->start = "2025-02-28T09:00";
  pile->horizon_days = days;
  pile->use.hygiene_rule = "eu1009_cmc3";
  return pile;
}

/// Invented numbers of one run; nothing of them is computed by the model.
struct RunNumbers {
  double ready_day = models::unset;
  double labour_h = 0.0;
  double nitrogen_kept_kg = 0.0;
  double hygiene_day = models::unset;
};

inline std::vector<models::Scalar> scalars_of(const RunNumbers& run) {
  const auto reason = [](double value) { return std::isnan(value) ? "not within 60 days" : ""; };
  return {{"ready_day", "day", "day the pile is ready", run.ready_day, reason(run.ready_day)},
          {"labour_hours", "h", "work", run.labour_h, ""},
          {"nitrogen_kept", "kg", "nitrogen left", run.nitrogen_kept_kg, ""},
          {"hygiene_met_day_eu1009_cmc3", "day", "day it is met", run.hygiene_day,
           reason(run.hygiene_day)}};
}

/// A run of its own over `hours` hours with one curve: 10 degC and a kelvin an hour.
inline models::ForecastResult compared_run(const RunNumbers& numbers, std::size_t hours = 3) {
  models::ForecastResult result;
  models::Series core{"core_temperature", "degC", "temperature of the core", {}};
  for (std::size_t i = 0; i < hours; ++i) {
    result.time_h.push_back(static_cast<double>(i));
    core.values.push_back(10.0 + static_cast<double>(i));
  }
  result.series = {core};
  result.scalars = scalars_of(numbers);
  result.decided_by = "above_air";
  return result;
}

inline ComparedPile one_run_of(std::string name, const RunNumbers& numbers, std::size_t hours = 3) {
  ComparedPile made;
  made.name = std::move(name);
  made.pile = compared_pile(60.0);
  made.result.central = compared_run(numbers, hours);
  return made;
}

/// Several runs; the curve's points lie 2 K below and 3 K above the middle.
inline ComparedPile runs_of(std::string name, const std::vector<RunNumbers>& runs,
                            std::size_t hours = 3) {
  ComparedPile made = one_run_of(std::move(name), runs.front(), hours);
  models::EnsembleResult& result = made.result;
  for (const models::Scalar& scalar : result.central.scalars) {
    result.numbers.push_back({scalar.name, scalar.unit, scalar.long_name, {}, {}});
  }
  for (const RunNumbers& run : runs) {
    const std::vector<models::Scalar> scalars = scalars_of(run);
    for (std::size_t i = 0; i < scalars.size(); ++i) {
      result.numbers[i].values.push_back(scalars[i].value);
      result.numbers[i].reasons.push_back(scalars[i].reason);
    }
    result.start.emplace_back("2025-02-28T09:00");
    result.decided_by.emplace_back("above_air");
  }
  result.parameters.resize(runs.size());
  for (const models::Series& series : result.central.series) {
    models::Band& band = result.bands.emplace_back(models::Band{
        series.name, series.unit, series.long_name, series.values, series.values, series.values});
    for (std::size_t i = 0; i < band.mid.size(); ++i) {
      band.low[i] -= 2.0;
      band.high[i] += 3.0;
    }
  }
  return made;
}

/// A run that failed has no numbers.
inline void fail(ComparedPile& pile, std::size_t run) {
  pile.result.failed.push_back({run, "the bin is too small"});
  pile.result.decided_by[run].clear();
  for (models::RunValues& number : pile.result.numbers) {
    number.values[run] = models::unset;
    number.reasons[run] = "the run failed";
  }
}

} // namespace heapcast::cli
