// Time and memory of one forecast: the first example's windrow, turned and rained on.
//
//   cmake --preset release -D HEAPCAST_BENCHMARKS=ON
//   cmake --build --preset release --target heapcast_benchmarks
//   build/release/validation/heapcast_benchmarks

#include "cli/input/pile_file.hpp"
#include "models/forecast.hpp"

#include <benchmark/benchmark.h>

#include <sys/resource.h>

#include <string>

namespace heapcast {
namespace {

using models::PileDescription;
using models::Resolution;

PileDescription example(long days) {
  const auto file = cli::read_pile_file(std::string(HEAPCAST_EXAMPLES_DIR) +
                                            "/01_market_garden_windrow/pile.toml",
                                        {"run.days=" + std::to_string(days)});
  return *file.pile;
}

/// Largest memory the process has held so far, MB. It never falls, so a row shows the larger of its
/// own need and those before it.
double peak_memory_MB() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

void forecast(benchmark::State& state, Resolution resolution) {
  PileDescription pile = example(state.range(0));
  pile.resolution = resolution;
  models::ForecastResult result;
  for ([[maybe_unused]] auto _ : state) {
    result = models::run_forecast(pile);
    benchmark::DoNotOptimize(result.series.data());
  }
  state.counters["cells"] = static_cast<double>(result.cell_x_m.size());
  state.counters["steps"] = static_cast<double>(result.steps);
  state.counters["rate_calls"] = static_cast<double>(result.rate_calls);
  state.counters["peak_MB"] = peak_memory_MB();
}

BENCHMARK_CAPTURE(forecast, coarse, Resolution::coarse)
    ->ArgName("days")
    ->Arg(30)
    ->Arg(60)
    ->Arg(120)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(forecast, standard, Resolution::standard)
    ->ArgName("days")
    ->Arg(30)
    ->Arg(60)
    ->Arg(120)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(forecast, fine, Resolution::fine)
    ->ArgName("days")
    ->Arg(30)
    ->Arg(60)
    ->Arg(120)
    ->Unit(benchmark::kMillisecond);

} // namespace
} // namespace heapcast
