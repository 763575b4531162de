#include "models/ensemble/ensemble.hpp"

#include "engine/errors.hpp"
#include "models/weather/calendar.hpp"
#include "tests/models/pile_fixture.hpp"
#include "tests/same_bits.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <map>
#include <memory>
#include <numeric>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::models {
namespace {

/// A run made side by side with others solves pore oxygen, to 1e-7 mol/mol, by other iterates than
/// one made alone. At the smallest half-saturation, 3e-3, that is 3e-5 of the uptake, and so of the
/// warming of at most 60 K.
constexpr double side_by_side_K = 60.0 * 3e-5;

using testing::ElementsAre;
using testing::HasSubstr;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double nan = unset;

TEST(Spread, IsLinearBetweenTheSortedValues) {
  // Eleven values: places 1, 5 and 9.
  const Spread eleven = spread({11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1});
  EXPECT_EQ(eleven.low, 2);
  EXPECT_EQ(eleven.mid, 6);
  EXPECT_EQ(eleven.high, 10);
  // Two values: a tenth, a half and nine tenths of the way.
  const Spread two = spread({10, 20});
  EXPECT_DOUBLE_EQ(two.low, 11);
  EXPECT_DOUBLE_EQ(two.mid, 15);
  EXPECT_DOUBLE_EQ(two.high, 19);
  const Spread one = spread({4});
  EXPECT_EQ(one.low, 4);
  EXPECT_EQ(one.high, 4);
}

TEST(Spread, ARunWithoutTheNumberIsLargerThanAll) {
  // Ten of eleven: place 9 is the last value. Nine of eleven: place 9 is a missing one.
  const Spread ten = spread({nan, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10});
  EXPECT_EQ(ten.mid, 6);
  EXPECT_EQ(ten.high, 10);
  EXPECT_EQ(ten.missing, 1U);
  const Spread nine = spread({nan, 1, 2, 3, 4, 5, nan, 6, 7, 8, 9});
  EXPECT_EQ(nine.mid, 6);
  EXPECT_EQ(nine.high, infinity);
  EXPECT_EQ(nine.missing, 2U);
  // Four values, one missing: place 2.7 lies between a value and a missing one.
  EXPECT_EQ(spread({1, 2, 3, nan}).high, infinity);
  const Spread none = spread({nan, nan});
  EXPECT_EQ(none.low, infinity);
  EXPECT_EQ(none.missing, 2U);
  EXPECT_TRUE(std::isnan(spread({}).mid));
}

TEST(EnsembleResult, CountsRunsThatAreNotReadyAndLeavesOutThoseThatFailed) {
  EnsembleResult result;
  result.numbers = {{"ready_day", "d", "", {40, nan, nan, 42, 41}, {"", "failed", "late", "", ""}}};
  result.start.assign(5, "2021-04-05T09:00");
  result.failed = {{1, "too small"}};
  const Spread days = result.spread_of(*result.find("ready_day"));
  EXPECT_EQ(days.missing, 1U); // of four
  // 40, 41, 42, none: place 1.5.
  EXPECT_EQ(days.mid, 41.5);
  EXPECT_EQ(days.high, infinity);
  EXPECT_EQ(result.reason(result.numbers[0]), "late");
  EXPECT_EQ(result.failure(1)->reason, "too small");
  EXPECT_EQ(result.failure(0), nullptr);
  EXPECT_EQ(result.find("no such"), nullptr);
}

/// Hourly weather of `days` days from 5 April 2021, 9:00, no two years alike.
std::shared_ptr<const Weather> long_weather(double days) {
  return tests::weather(days, {.slow_swing_K = 5.0, .shower_kg_m2_h = 1.0});
}

std::vector<std::string> starts(const PileDescription& pile) {
  std::vector<std::string> found;
  for (const WeatherYear& year : weather_years(pile)) {
    found.push_back(year.start);
    EXPECT_EQ(year.start_hour_in_weather, hours_from_start(*year.weather, year.start));
  }
  return found;
}

TEST(WeatherYears, AreTheSameDatesInEveryYearThatHasThemAll) {
  PileDescription pile = tests::lumped_heap(20.0);
  // Three years and 30 days: 5 April 2021 to 5 May 2024.
  pile.weather = long_weather(3 * 365 + 1 + 30);
  EXPECT_THAT(starts(pile), ElementsAre("2021-04-05T09:00", "2022-04-05T09:00", "2023-04-05T09:00",
                                        "2024-04-05T09:00"));
  // The last of them ends before a longer pile does.
  pile.horizon_days = 31;
  EXPECT_THAT(starts(pile),
              ElementsAre("2021-04-05T09:00", "2022-04-05T09:00", "2023-04-05T09:00"));
  // Earlier years than the pile's own, but none before the weather begins.
  pile.horizon_days = 20;
  pile.start = "2023-04-01T09:00";
  pile.start_hour_in_weather = hours_from_start(*pile.weather, pile.start);
  EXPECT_THAT(starts(pile),
              ElementsAre("2022-04-01T09:00", "2023-04-01T09:00", "2024-04-01T09:00"));
  pile.all_weather_years = false;
  EXPECT_THAT(starts(pile), ElementsAre("2023-04-01T09:00"));
}

TEST(WeatherYears, TakeThe28thForThe29thOfFebruary) {
  PileDescription pile = tests::lumped_heap(20.0);
  pile.weather = long_weather(3 * 365 + 1 + 30);
  pile.start = "2024-02-29T09:00";
  pile.start_hour_in_weather = hours_from_start(*pile.weather, pile.start);
  EXPECT_THAT(starts(pile),
              ElementsAre("2022-02-28T09:00", "2023-02-28T09:00", "2024-02-29T09:00"));
}

std::shared_ptr<const PileDescription> shared(PileDescription pile) {
  return std::make_shared<const PileDescription>(std::move(pile));
}

EnsembleResult run_one(const PileDescription& pile, const EnsembleOptions& options,
                       const Progress& progress = {}) {
  const auto one = shared(pile);
  return run_ensembles({&one, 1}, options, progress).front();
}

EnsembleOptions runs(std::size_t count, std::uint64_t seed = 1) {
  EnsembleOptions options;
  options.runs = count;
  options.seed = seed;
  return options;
}

TEST(RunEnsembles, TheSeedDecidesTheNumbers) {
  const PileDescription pile = tests::lumped_heap(5.0);
  const EnsembleResult a = run_one(pile, runs(5));
  const EnsembleResult b = run_one(pile, runs(5));
  const EnsembleResult other = run_one(pile, runs(5, 2));
  const EnsembleResult more = run_one(pile, runs(8));
  ASSERT_FALSE(a.numbers.empty());
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    EXPECT_TRUE(tests::same_bits(a.numbers[i].values, b.numbers[i].values)) << a.numbers[i].name;
    // A run is the same however many come after it.
    std::vector<double> first = more.numbers[i].values;
    first.resize(5);
    EXPECT_TRUE(tests::same_bits(a.numbers[i].values, first)) << a.numbers[i].name;
  }
  EXPECT_FALSE(
      tests::same_bits(a.find("peak_temperature")->values, other.find("peak_temperature")->values));
}

TEST(RunEnsembles, GiveEveryRunWhatItsParametersAndWeatherGive) {
  PileDescription pile = tests::lumped_heap(4.0);
  pile.weather = long_weather(3 * 365 + 10);
  const EnsembleResult result = run_one(pile, runs(6));
  std::set<std::string> used;
  for (std::size_t run = 0; run < 6; ++run) {
    PileDescription again = pile;
    again.parameters = result.parameters[run];
    again.start_hour_in_weather = hours_from_start(*pile.weather, result.start[run]);
    const ForecastResult alone = run_forecast(again);
    EXPECT_NEAR(result.find("peak_temperature")->values[run],
                alone.find_scalar("peak_temperature")->value, side_by_side_K);
    used.insert(result.start[run]);
  }
  EXPECT_GT(used.size(), 1U); // six draws of four years
  const ForecastResult central = run_forecast(pile);
  EXPECT_EQ(result.central.find_scalar("peak_temperature")->value,
            central.find_scalar("peak_temperature")->value);
}

TEST(RunEnsembles, DrawYearsEvenlyAndApartFromTheParameters) {
  PileDescription pile = tests::lumped_heap(1.0);
  pile.weather = long_weather(3 * 365 + 10); // 2021 to 2024
  constexpr std::size_t count = 400;
  const EnsembleResult result = run_one(pile, runs(count));
  std::map<std::string, std::vector<double>> rate_by_year;
  for (std::size_t run = 0; run < count; ++run) {
    rate_by_year[result.start[run]].push_back(
        std::log(result.parameters[run][Parameter::fast_rate] / 0.5));
  }
  ASSERT_EQ(rate_by_year.size(), 4U);
  for (const auto& [year, rates] : rate_by_year) {
    // Binomial: 100 of 400 with a standard deviation of sqrt(400 1/4 3/4) = 8.7; four of them.
    EXPECT_NEAR(static_cast<double>(rates.size()), 100.0, 4 * 8.7) << year;
    // ln of the rate has mean 0 and at most the standard deviation ln(4)/4 = 0.35; four standard
    // errors of a mean of 65 or more.
    const double mean =
        std::accumulate(rates.begin(), rates.end(), 0.0) / static_cast<double>(rates.size());
    EXPECT_NEAR(mean, 0.0, 4 * 0.35 / std::sqrt(65.0)) << year;
  }
}

TEST(RunEnsembles, TheMedianLiesNearTheCentralRun) {
  const EnsembleResult result = run_one(tests::lumped_heap(12.0), runs(60));
  for (const char* name : {"peak_temperature", "carbon_lost_fraction", "volume_fraction"}) {
    const Spread points = result.spread_of(*result.find(name));
    const double central = result.central.find_scalar(name)->value;
    // The priors are not all centred on their values (flow_size_scale, shrink, oxygen_half_scale),
    // so that the median need not be the central run: nearer to it than either end is enough.
    EXPECT_GT(central, points.low) << name;
    EXPECT_LT(central, points.high) << name;
    EXPECT_LT(std::abs(points.mid - central), 0.5 * (points.high - points.low)) << name;
  }
}

TEST(RunEnsembles, TheIntervalGrowsWithWhatIsUnknownAndVanishesWhenNothingIs) {
  PileDescription pile = tests::lumped_heap(6.0);
  const auto width = [&](const EnsembleResult& result) {
    const Spread points = result.spread_of(*result.find("peak_temperature"));
    return points.high - points.low;
  };
  const double all_unknown = width(run_one(pile, runs(30)));

  pile.given_parameters.resize(parameter_count);
  std::iota(pile.given_parameters.begin(), pile.given_parameters.end(), 0U);
  const EnsembleResult known = run_one(pile, runs(5));
  EXPECT_EQ(width(known), 0.0);
  for (std::size_t s = 0; s < known.bands.size(); ++s) {
    const std::vector<double>& central = known.central.series[s].values;
    for (std::size_t t = 0; t < central.size(); ++t) {
      EXPECT_EQ(known.bands[s].low[t], known.bands[s].high[t]) << known.bands[s].name;
      // Kept in single precision, 6e-8 of the value, and made side by side.
      EXPECT_NEAR(known.bands[s].mid[t], central[t], 1e-6 * std::abs(central[t]) + side_by_side_K)
          << known.bands[s].name;
    }
  }

  std::erase(pile.given_parameters, static_cast<std::size_t>(Parameter::fast_rate));
  const double one_unknown = width(run_one(pile, runs(30)));
  EXPECT_GT(one_unknown, 0.0);
  EXPECT_GT(all_unknown, one_unknown);
}

TEST(RunEnsembles, RunsOfSeveralPilesArePaired) {
  PileDescription first = tests::lumped_heap(3.0);
  first.weather = long_weather(3 * 365 + 20);
  PileDescription turned = first;
  turned.turning = tests::turning(TurnMethod::fork, 1.0, 1.0);
  PileDescription later = first; // 20 days later: no fourth year for it
  later.start = "2021-04-25T09:00";
  later.start_hour_in_weather = hours_from_start(*later.weather, later.start);
  const std::vector<std::shared_ptr<const PileDescription>> piles = {shared(first), shared(turned),
                                                                     shared(first), shared(later)};
  const std::vector<EnsembleResult> results = run_ensembles(piles, runs(12));
  ASSERT_EQ(results.size(), 4U);
  const auto peaks = [&](std::size_t p) { return results[p].find("peak_temperature")->values; };
  EXPECT_TRUE(tests::same_bits(peaks(0), peaks(2)));
  EXPECT_FALSE(tests::same_bits(peaks(0), peaks(1)));
  EXPECT_EQ(results[0].start, results[1].start);
  for (std::size_t run = 0; run < 12; ++run) {
    EXPECT_EQ(results[0].start[run].substr(0, 4), results[3].start[run].substr(0, 4));
    EXPECT_NE(results[0].start[run].substr(0, 4), "2024");
    for (std::size_t p = 0; p < parameter_count; ++p) {
      EXPECT_EQ(results[0].parameters[run][static_cast<Parameter>(p)],
                results[1].parameters[run][static_cast<Parameter>(p)]);
    }
  }
}

TEST(RunEnsembles, ARunThatFailsIsKeptWithItsReasonAndStopsNothing) {
  const PileDescription pile = tests::lumped_heap(2.0);
  EnsembleOptions options = runs(5);
  options.year = [&pile](std::size_t, std::size_t run) {
    if (run == 1) {
      throw InputError("weather", "is invented", "try another");
    }
    if (run == 3) {
      throw NumericsError("the step size collapsed");
    }
    return WeatherYear{pile.weather, pile.start_hour_in_weather, pile.start};
  };
  const EnsembleResult result = run_one(pile, options);
  const EnsembleResult whole = run_one(pile, runs(5));
  ASSERT_EQ(result.failed.size(), 2U);
  EXPECT_EQ(result.failed[0].run, 1U);
  EXPECT_THAT(result.failed[0].reason, HasSubstr("is invented"));
  EXPECT_EQ(result.failed[1].reason, "the step size collapsed");
  EXPECT_TRUE(result.central.warnings.empty());
  const RunValues& peak = *result.find("peak_temperature");
  EXPECT_TRUE(std::isnan(peak.values[1]));
  EXPECT_EQ(peak.values[2], whole.find("peak_temperature")->values[2]);
  EXPECT_EQ(result.spread_of(peak).missing, 0U);
  // Bands are of the three others, kept in single precision.
  std::vector<double> last;
  for (const std::size_t run : {0U, 2U, 4U}) {
    PileDescription again = pile;
    again.parameters = result.parameters[run];
    const double value = run_forecast(again).find_series("core_temperature")->values.back();
    last.push_back(static_cast<double>(static_cast<float>(value)));
  }
  const Band& core = *result.band("core_temperature");
  EXPECT_NEAR(core.low.back(), spread(last).low, side_by_side_K);
  EXPECT_NEAR(core.mid.back(), spread(last).mid, side_by_side_K);
  EXPECT_NEAR(core.high.back(), spread(last).high, side_by_side_K);
}

TEST(RunEnsembles, SayWhenMostRunsFailed) {
  const PileDescription pile = tests::lumped_heap(1.0);
  EnsembleOptions options = runs(3);
  options.year = [&pile](std::size_t, std::size_t run) {
    if (run != 1) {
      throw NumericsError("the step size collapsed");
    }
    return WeatherYear{pile.weather, pile.start_hour_in_weather, pile.start};
  };
  const EnsembleResult result = run_one(pile, options);
  ASSERT_EQ(result.central.warnings.size(), 1U);
  EXPECT_THAT(result.central.warnings[0], HasSubstr("most of the runs failed, 2 of 3"));
  EXPECT_THAT(result.central.warnings[0], HasSubstr("the step size collapsed"));
}

TEST(RunEnsembles, AFailureOfTheCentralRunIsPassedOn) {
  PileDescription pile = tests::slatted_bin(1.0);
  pile.shape.height_m = 0.2; // holds a fifth of a cubic metre; two thirds of one go in
  const auto one = shared(pile);
  EXPECT_THROW((void)run_ensembles({&one, 1}, runs(2)), InputError);
}

TEST(RunEnsembles, ADrawForWhichABinIsTooSmallIsAFailureOfThatRun) {
  // 0.66 m3 with the central values, in a bin that holds as much: it overflows where the materials
  // nest less than that.
  PileDescription pile = tests::slatted_bin(1.0);
  pile.shape.height_m = 0.66 / 1.05;
  const EnsembleResult result = run_one(pile, runs(20));
  EXPECT_GT(result.failed.size(), 0U);
  EXPECT_LT(result.failed.size(), 20U);
  EXPECT_THAT(result.failed.front().reason, HasSubstr("m3"));
}

TEST(RunEnsembles, ProgressRisesToOneAndStopsThemWhenItSaysSo) {
  const PileDescription pile = tests::lumped_heap(2.0);
  std::vector<double> shares;
  const EnsembleResult done = run_one(pile, runs(3), [&](double share) {
    shares.push_back(share);
    return true;
  });
  EXPECT_FALSE(done.stopped);
  EXPECT_TRUE(std::ranges::is_sorted(shares));
  // Sums of shares in another order than their differences: a few roundings.
  EXPECT_NEAR(shares.back(), 1.0, 1e-12);

  // Stopped after the central run, a quarter of the work.
  EnsembleOptions one_thread = runs(3);
  one_thread.threads = 1;
  const EnsembleResult stopped =
      run_one(pile, one_thread, [](double share) { return share < 0.3; });
  EXPECT_TRUE(stopped.stopped);
  EXPECT_EQ(stopped.central.time_h, done.central.time_h);
  EXPECT_TRUE(stopped.numbers.empty());
  EXPECT_TRUE(stopped.bands.empty());
}

TEST(Medians, StandInForTheCentralRun) {
  const EnsembleResult result = run_one(tests::lumped_heap(3.0), runs(4));
  const ForecastResult middle = medians(result);
  EXPECT_EQ(middle.series[0].values, result.bands[0].mid);
  EXPECT_EQ(middle.find_scalar("peak_temperature")->value,
            result.spread_of(*result.find("peak_temperature")).mid);
  // Three days: none of the runs can be hot for weeks; the reason is kept.
  for (const Scalar& scalar : middle.scalars) {
    EXPECT_EQ(scalar.reason.empty(), !std::isnan(scalar.value)) << scalar.name;
  }
}

} // namespace
} // namespace heapcast::models
