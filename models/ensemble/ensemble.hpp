#pragma once

#include "models/forecast.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace heapcast::models {

/// The same calendar dates in one year of weather.
struct WeatherYear {
  std::shared_ptr<const Weather> weather;
  double start_hour_in_weather = 0.0; ///< from sample 0 to the build
  std::string start;                  ///< "YYYY-MM-DDThh:00"
};

/// Every year in which `weather` covers a pile that starts on the same date at the same hour as
/// `pile` and lasts as long, the pile's own year among them, in order.
[[nodiscard]] std::vector<WeatherYear> weather_years(const PileDescription& pile);

struct EnsembleOptions {
  std::size_t runs = 100;
  std::uint64_t seed = 1;
  unsigned threads = 0; ///< 0: as many as the machine has
  /// Weather of run `i`, e.g. made from monthly normals; empty: drawn from `weather_years`. Called
  /// on many threads.
  std::function<WeatherYear(std::size_t run)> year;
};

/// Parameters of run `run`, drawn from their priors around the pile's values: the same for every
/// pile, so that runs of several piles are paired. What the user has set is kept.
[[nodiscard]] ParameterSet draw_parameters(const PileDescription& pile, std::uint64_t seed,
                                           std::size_t run);

/// 10 %, 50 % and 90 % points; a run without the number counts as larger than every run with it.
struct Spread {
  double low = 0.0, mid = 0.0, high = 0.0;
  std::size_t missing = 0; ///< runs without the number
};
[[nodiscard]] Spread spread(std::vector<double> values);

/// One number of every run.
struct RunValues {
  std::string name, unit, long_name;
  std::vector<double> values;       ///< by run; NaN where the run does not have it
  std::vector<std::string> reasons; ///< why it is NaN, else empty
};

/// 10 %, 50 % and 90 % points over the runs at every time.
struct Band {
  std::string name, unit, long_name;
  std::vector<double> low, mid, high;
};

struct RunFailure {
  std::size_t run;
  std::string reason;
};

/// What a set of runs gives.
struct EnsembleResult {
  ForecastResult central;              ///< the pile's own parameters and weather
  std::vector<RunValues> numbers;      ///< of every run, in the order of the central run's scalars
  std::vector<std::string> decided_by; ///< by run
  std::vector<Band> bands;             ///< of every series, over central.time_h
  std::vector<Band> test_bands;        ///< of every test, over central.test_time_h
  std::vector<std::string> start;      ///< of the weather, by run
  std::vector<RunFailure> failed;      ///< these have NaN in `numbers` and are in no band
  bool stopped = false;                ///< by the progress function: nothing but `central` is there

  [[nodiscard]] const RunValues* find(const std::string& name) const;
};

/// Runs every pile `options.runs` times with the same draws, spread over threads. The result is the
/// same for any number of threads. A run that fails is kept with its reason; the central runs must
/// not. `progress` is called on one thread at a time with the share of all runs that is done.
[[nodiscard]] std::vector<EnsembleResult>
run_ensembles(std::span<const std::shared_ptr<const PileDescription>> piles,
              const EnsembleOptions& options, const Progress& progress = {});

} // namespace heapcast::models
