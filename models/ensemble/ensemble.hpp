#pragma once

#include "engine/sorted_point.hpp"
#include "models/forecast.hpp"

#include <array>
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
/// `pile` (28 February for the 29th in years without one) and lasts as long, the pile's own year
/// among them, in order. Only its own when the pile wants no others.
[[nodiscard]] std::vector<WeatherYear> weather_years(const PileDescription& pile);

struct EnsembleOptions {
  std::size_t runs = 100;
  std::uint64_t seed = 1;
  unsigned threads = 0; ///< 0: as many as the machine has
  /// Weather of run `run` of pile `pile`, e.g. made from monthly normals. Empty, or without weather
  /// in what it returns: drawn from `weather_years`. Called on many threads; must throw nothing but
  /// InputError.
  std::function<WeatherYear(std::size_t pile, std::size_t run)> year;
};

/// The value of a parameter with `share` of its prior below it, 0 < share < 1:
/// - fixed: `centre`;
/// - uniform: low + share (high - low);
/// - normal about `centre` with standard deviation (high - low)/4, so that low to high is about its
///   central 95 %, cut off at low and high;
/// - lognormal: the same for ln, with ln(high/low)/4 about ln(centre); where low is 0,
///   ln(high/centre)/2. `centre` must be above 0.
/// Cut off by the inverse of the distribution between the ends, not by moving what lies outside:
/// the median of a prior whose centre is near one end lies away from that end.
[[nodiscard]] double prior_quantile(const ParameterRow& row, double centre, double share);

/// Whether a parameter's values differ between runs: not fixed and not set by the user.
[[nodiscard]] bool is_drawn(const PileDescription& pile, std::size_t parameter);

/// Parameters of run `run`, drawn from their priors around the pile's values and correlated as in
/// `parameter_correlations` (Gaussian copula): a function of `seed`, `run` and the parameter's
/// place in the table alone, so that runs of several piles are paired. What the user has set is
/// kept; the others do not shift for it.
[[nodiscard]] ParameterSet draw_parameters(const PileDescription& pile, std::uint64_t seed,
                                           std::size_t run);

/// 10 %, 50 % and 90 % points; a run without the number (NaN) counts as larger than every run with
/// it, so that a point can be infinite. The p point of n sorted values is at place p (n - 1),
/// counted from 0, and linear between the values on either side.
struct Spread {
  double low = 0.0, mid = 0.0, high = 0.0; ///< NaN without values
  std::size_t missing = 0;                 ///< runs without the number
};
inline constexpr std::array<double, 3> spread_shares = {0.1, 0.5, 0.9};
[[nodiscard]] Spread spread(std::vector<double> values);
using engine::sorted_point;

/// One number of every run.
struct RunValues {
  std::string name, unit, long_name;
  std::vector<double> values;       ///< by run; NaN where the run does not have it
  std::vector<std::string> reasons; ///< why it is NaN, else empty
};

/// 10 %, 50 % and 90 % points over the runs at every time, of single-precision values.
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
  /// The pile's own parameters and weather. Its warnings say when most of the runs failed.
  ForecastResult central;
  std::vector<RunValues> numbers;       ///< of every run, in the order of the central run's scalars
  std::vector<std::string> decided_by;  ///< by run
  std::vector<Band> bands;              ///< of every series, over central.time_h
  std::vector<Band> test_bands;         ///< of every test, over central.test_time_h
  std::vector<ParameterSet> parameters; ///< by run
  std::vector<std::string> start;       ///< of the weather, by run
  std::vector<RunFailure> failed;       ///< these have NaN in `numbers` and are in no band
  bool stopped = false; ///< by the progress function: nothing but `central` is there

  [[nodiscard]] const RunValues* find(const std::string& name) const;
  [[nodiscard]] const Band* band(const std::string& name) const; ///< of a series or a test
  /// Of the runs that did not fail.
  [[nodiscard]] Spread spread_of(const RunValues& number) const;
  /// Why the first run without the number does not have it, of the runs that did not fail; empty
  /// when all have it.
  [[nodiscard]] std::string reason(const RunValues& number) const;
  /// How the run failed, or nullptr.
  [[nodiscard]] const RunFailure* failure(std::size_t run) const;
  [[nodiscard]] std::size_t runs() const { return start.size(); }
};

/// The central run with the medians over the runs in place of its own series, tests and numbers; a
/// number whose median is beyond every value is NaN, with the reason of the first run without it.
[[nodiscard]] ForecastResult medians(const EnsembleResult& ensemble);

/// Runs every pile as it is and `options.runs` times with the same draws, spread over threads. The
/// result is the same for any number of threads. A run that fails (NumericsError, InputError) is
/// kept with its reason; the central runs must not, what they throw is passed on.
///
/// The year of weather is drawn uniformly and independently of the parameters from the years that
/// all piles have, each counted from the pile's own year, so that runs of several piles are paired.
/// Days of the week stay those of the pile's own start.
///
/// `progress` is called on one thread at a time with the share of all runs that is done. When it
/// returns false the ensemble is given up: of a pile that was being run as it is there is what was
/// computed so far, as from `run_forecast`.
///
/// Memory: 4 bytes for each value of every series until the end: 0.23 MB a run for 40 hourly series
/// over 60 days, 230 MB for 1000 runs.
[[nodiscard]] std::vector<EnsembleResult>
run_ensembles(std::span<const std::shared_ptr<const PileDescription>> piles,
              const EnsembleOptions& options, const Progress& progress = {});

} // namespace heapcast::models
