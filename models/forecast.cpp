#include "models/forecast.hpp"

#include "models/pile_run.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

namespace heapcast::models {

const Series* ForecastResult::find_series(const std::string& name) const {
  const auto it =
      std::find_if(series.begin(), series.end(), [&](const Series& s) { return s.name == name; });
  return it == series.end() ? nullptr : &*it;
}

const Scalar* ForecastResult::find_scalar(const std::string& name) const {
  const auto it =
      std::find_if(scalars.begin(), scalars.end(), [&](const Scalar& s) { return s.name == name; });
  return it == scalars.end() ? nullptr : &*it;
}

ForecastResult run_forecast(const PileDescription& pile, const Progress& progress) {
  const auto begin = std::chrono::steady_clock::now();
  PileRun run(pile);
  const long hours = std::lround(std::ceil(pile.horizon_days * 24.0 - 1e-9));
  constexpr long progress_every_hours = 24;
  for (long hour = 0; hour < hours; ++hour) {
    if (hour % progress_every_hours == 0 && progress &&
        !progress(static_cast<double>(hour) / static_cast<double>(hours))) {
      break;
    }
    run.do_events();
    run.advance_hour();
  }
  ForecastResult result = run.finish();
  result.compute_seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  return result;
}

} // namespace heapcast::models
