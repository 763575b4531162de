#include "models/ensemble/ensemble.hpp"

#include "engine/counter_random.hpp"
#include "engine/errors.hpp"
#include "engine/run_pool.hpp"
#include "models/lane_runs.hpp"

#include <algorithm>
#include <atomic>
#include <cassert>
#include <cmath>
#include <limits>
#include <map>
#include <mutex>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

using Piles = std::span<const std::shared_ptr<const PileDescription>>;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// Draws of a run beside those of its parameters, whose counters are their places in the table.
constexpr std::uint64_t year_counter = std::uint64_t{1} << 32U;

/// What is kept of a run until all are done.
struct KeptRun {
  std::vector<Scalar> scalars;
  std::vector<std::vector<float>> series, tests;
  std::string decided_by;
  std::string start;
  ParameterSet parameters;
  std::string failure;
};

std::vector<std::vector<float>> single_precision(const std::vector<Series>& all) {
  std::vector<std::vector<float>> kept;
  kept.reserve(all.size());
  for (const Series& series : all) {
    std::vector<float>& values = kept.emplace_back();
    values.reserve(series.values.size());
    std::ranges::transform(series.values, std::back_inserter(values),
                           [](double value) { return static_cast<float>(value); });
  }
  return kept;
}

int year_of(const std::string& start) {
  return std::stoi(start.substr(0, start.find('-')));
}

/// By pile: the years of weather that all piles have, each so many years from the pile's own. The
/// own years are among them.
std::vector<std::vector<WeatherYear>> common_years(Piles piles) {
  std::vector<std::map<int, WeatherYear>> years;
  std::map<int, std::size_t> piles_with;
  for (const auto& pile : piles) {
    auto& of_pile = years.emplace_back();
    const std::vector<WeatherYear> found = weather_years(*pile);
    for (const WeatherYear& year : found) {
      const int from_own = found.size() == 1 ? 0 : year_of(year.start) - year_of(pile->start);
      of_pile[from_own] = year;
      ++piles_with[from_own];
    }
  }
  std::vector<std::vector<WeatherYear>> common(piles.size());
  for (std::size_t p = 0; p < piles.size(); ++p) {
    for (const auto& [from_own, year] : years[p]) {
      if (piles_with[from_own] == piles.size()) {
        common[p].push_back(year);
      }
    }
  }
  return common;
}

/// The share done of many runs, told to one listener at a time.
class SharedProgress {
public:
  SharedProgress(std::size_t runs, const Progress& listener) : shares_(runs), listener_(listener) {}

  /// False once the listener wants no more.
  bool report(std::size_t run, double share) {
    const std::scoped_lock lock(mutex_);
    sum_ += share - shares_[run];
    shares_[run] = share;
    if (listener_ && !stopped_) {
      stopped_ = !listener_(std::clamp(sum_ / static_cast<double>(shares_.size()), 0.0, 1.0));
    }
    return !stopped_;
  }
  [[nodiscard]] bool stopped() const { return stopped_; }

private:
  std::mutex mutex_;
  std::vector<double> shares_;
  double sum_ = 0.0;
  const Progress& listener_;
  std::atomic<bool> stopped_{false};
};

class Ensemble {
public:
  Ensemble(Piles piles, const EnsembleOptions& options, const Progress& progress)
      : piles_(piles), options_(options), years_(common_years(piles)),
        progress_(piles.size() * (options.runs + 1), progress), results_(piles.size()),
        kept_(piles.size(), std::vector<KeptRun>(options.runs)) {}

  std::vector<EnsembleResult> compute() {
    const std::size_t piles = piles_.size();
    // Every thread makes several runs side by side and takes the next one as one ends.
    const std::size_t runs = piles * options_.runs;
    const std::size_t threads = std::min(engine::pool_threads(options_.threads), runs);
    const std::size_t most = std::clamp<std::size_t>(
        (runs + threads - 1) / std::max<std::size_t>(threads, 1), 1, run_lanes);
    std::atomic<std::size_t> next{0};
    engine::run_pool(piles + threads, options_.threads, [&](std::size_t job) {
      if (job >= piles) {
        run_side_by_side([&] { return progress_.stopped() ? std::nullopt : take(next); },
                         static_cast<int>(most));
      } else if (!progress_.stopped()) {
        results_[job].central =
            run_forecast(*piles_[job], [&](double share) { return progress_.report(job, share); });
        progress_.report(job, 1.0);
      }
    });
    for (std::size_t p = 0; p < piles; ++p) {
      if (progress_.stopped()) {
        results_[p].stopped = true;
      } else {
        gather(results_[p], kept_[p]);
      }
    }
    return std::move(results_);
  }

private:
  [[nodiscard]] WeatherYear year(std::size_t pile, std::size_t run) const {
    if (options_.year) {
      if (WeatherYear given = options_.year(pile, run); given.weather) {
        return given;
      }
    }
    const std::vector<WeatherYear>& years = years_[pile];
    const double share = engine::random_share({options_.seed, run, year_counter});
    return years[static_cast<std::size_t>(share * static_cast<double>(years.size()))];
  }

  /// The next run that has not been taken.
  std::optional<LaneRun> take(std::atomic<std::size_t>& next) {
    const std::size_t piles = piles_.size();
    for (;;) {
      const std::size_t job = next++;
      if (job >= piles * options_.runs) {
        return std::nullopt;
      }
      // Pile after pile: those of another shape cannot lie beside them.
      const std::size_t p = job / options_.runs;
      const std::size_t run = job % options_.runs;
      KeptRun& kept = kept_[p][run];
      auto pile = std::make_shared<PileDescription>(*piles_[p]);
      pile->parameters = draw_parameters(*pile, options_.seed, run);
      kept.parameters = pile->parameters;
      kept.start = pile->start;
      try {
        const WeatherYear weather = year(p, run);
        kept.start = weather.start;
        pile->weather = weather.weather;
        pile->start_hour_in_weather = weather.start_hour_in_weather;
      } catch (const InputError& error) {
        kept.failure = error.what();
      } catch (const NumericsError& error) {
        kept.failure = error.what();
      }
      if (!kept.failure.empty()) {
        progress_.report(piles + job, 1.0);
        continue;
      }
      return LaneRun{
          .pile = std::move(pile),
          .progress = [this, n = piles + job](double share) { return progress_.report(n, share); },
          .done =
              [this, n = piles + job, &kept](ForecastResult&& result) {
                kept.series = single_precision(result.series);
                kept.tests = single_precision(result.tests);
                kept.scalars = std::move(result.scalars);
                kept.decided_by = std::move(result.decided_by);
                progress_.report(n, 1.0);
              },
          .failed =
              [this, n = piles + job, &kept](const std::string& reason) {
                kept.failure = reason;
                progress_.report(n, 1.0);
              }};
    }
  }

  void gather(EnsembleResult& result, std::vector<KeptRun>& runs) const {
    for (std::size_t run = 0; run < runs.size(); ++run) {
      result.decided_by.push_back(std::move(runs[run].decided_by));
      result.start.push_back(std::move(runs[run].start));
      result.parameters.push_back(runs[run].parameters);
      if (!runs[run].failure.empty()) {
        result.failed.push_back({run, runs[run].failure});
      }
    }
    if (2 * result.failed.size() > runs.size()) {
      result.central.warnings.push_back(
          fmt::format("most of the runs failed, {} of {}: the intervals are of the few that did "
                      "not. The first failed so: {}",
                      result.failed.size(), runs.size(), result.failed.front().reason));
    }
    result.numbers = numbers(result.central.scalars, runs);
    result.bands = bands(result.central.series, runs, &KeptRun::series);
    result.test_bands = bands(result.central.tests, runs, &KeptRun::tests);
  }

  static std::vector<RunValues> numbers(const std::vector<Scalar>& central,
                                        const std::vector<KeptRun>& runs) {
    std::vector<RunValues> numbers;
    for (const Scalar& scalar : central) {
      RunValues& number = numbers.emplace_back();
      number.name = scalar.name;
      number.unit = scalar.unit;
      number.long_name = scalar.long_name;
      for (const KeptRun& run : runs) {
        const auto found = std::ranges::find(run.scalars, scalar.name, &Scalar::name);
        const bool there = found != run.scalars.end();
        number.values.push_back(there ? found->value : missing);
        number.reasons.push_back(there ? found->reason : "the run failed");
      }
    }
    return numbers;
  }

  std::vector<Band> bands(const std::vector<Series>& central, const std::vector<KeptRun>& runs,
                          std::vector<std::vector<float>> KeptRun::*kept) const {
    std::vector<Band> bands(central.size());
    engine::run_pool(central.size(), options_.threads, [&](std::size_t s) {
      Band& band = bands[s];
      band.name = central[s].name;
      band.unit = central[s].unit;
      band.long_name = central[s].long_name;
      std::vector<double> values;
      for (std::size_t t = 0; t < central[s].values.size(); ++t) {
        values.clear();
        for (const KeptRun& run : runs) {
          if (run.failure.empty()) {
            const float value = (run.*kept).at(s).at(t);
            if (!std::isnan(value)) {
              values.push_back(static_cast<double>(value));
            }
          }
        }
        const Spread points = spread(values);
        band.low.push_back(points.low);
        band.mid.push_back(points.mid);
        band.high.push_back(points.high);
      }
    });
    return bands;
  }

  Piles piles_;
  const EnsembleOptions& options_;
  std::vector<std::vector<WeatherYear>> years_;
  SharedProgress progress_;
  std::vector<EnsembleResult> results_;
  std::vector<std::vector<KeptRun>> kept_;
};

} // namespace

Spread spread(std::vector<double> values) {
  Spread result;
  for (double& value : values) {
    if (std::isnan(value)) {
      value = std::numeric_limits<double>::infinity();
      ++result.missing;
    }
  }
  if (values.empty()) {
    return {missing, missing, missing, 0};
  }
  std::ranges::sort(values);
  result.low = sorted_point(values, spread_shares[0]);
  result.mid = sorted_point(values, spread_shares[1]);
  result.high = sorted_point(values, spread_shares[2]);
  return result;
}

std::string EnsembleResult::reason(const RunValues& number) const {
  for (std::size_t run = 0; run < number.values.size(); ++run) {
    if (std::isnan(number.values[run]) && failure(run) == nullptr) {
      return number.reasons[run];
    }
  }
  return failed.size() < runs() ? "" : "the runs failed";
}

const RunFailure* EnsembleResult::failure(std::size_t run) const {
  const auto found = std::ranges::find(failed, run, &RunFailure::run);
  return found == failed.end() ? nullptr : &*found;
}

const RunValues* EnsembleResult::find(const std::string& name) const {
  const auto found = std::ranges::find(numbers, name, &RunValues::name);
  return found == numbers.end() ? nullptr : &*found;
}

const Band* EnsembleResult::band(const std::string& name) const {
  for (const auto* all : {&bands, &test_bands}) {
    const auto found = std::ranges::find(*all, name, &Band::name);
    if (found != all->end()) {
      return &*found;
    }
  }
  return nullptr;
}

Spread EnsembleResult::spread_of(const RunValues& number) const {
  std::vector<double> values;
  for (std::size_t run = 0; run < number.values.size(); ++run) {
    if (failure(run) == nullptr) {
      values.push_back(number.values[run]);
    }
  }
  return spread(std::move(values));
}

ForecastResult medians(const EnsembleResult& ensemble) {
  ForecastResult result = ensemble.central;
  const auto put = [](const std::vector<Band>& bands, std::vector<Series>& series) {
    for (std::size_t i = 0; i < bands.size(); ++i) {
      series[i].values = bands[i].mid;
    }
  };
  put(ensemble.bands, result.series);
  put(ensemble.test_bands, result.tests);
  for (std::size_t i = 0; i < ensemble.numbers.size(); ++i) {
    const RunValues& number = ensemble.numbers[i];
    const double mid = ensemble.spread_of(number).mid;
    result.scalars[i].value = std::isfinite(mid) ? mid : missing;
    result.scalars[i].reason = std::isfinite(mid) ? "" : ensemble.reason(number);
  }
  return result;
}

std::vector<EnsembleResult>
run_ensembles(std::span<const std::shared_ptr<const PileDescription>> piles,
              const EnsembleOptions& options, const Progress& progress) {
  return Ensemble(piles, options, progress).compute();
}

} // namespace heapcast::models
