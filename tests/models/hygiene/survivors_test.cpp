#include "models/operations/mix.hpp"

#include "models/forecast.hpp"
#include "tests/models/pile_bench.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace heapcast::models {
namespace {

using tests::Bench;

constexpr auto organism = static_cast<std::size_t>(Organism::salmonella);

Forcing mild_air() {
  Forcing air{};
  air.air_temperature_K = freezing_K + 15.0;
  return air;
}

/// Surviving share of the whole pile: the mean of s over dry matter, not of ln s.
double survivors(const Bench& bench) {
  double alive = 0.0;
  double dry = 0.0;
  for (std::size_t i = 0; i < bench.cells(); ++i) {
    const double mass = bench.heat_content(i).dry_mass_kg;
    alive += mass * std::exp(bench.state.survivors(organism)[i]);
    dry += mass;
  }
  return alive / dry;
}

TEST(Survivors, ATurnedPileGoesTowardsThePowersOfItsColdShare) {
  Bench bench(tests::windrow(1.0));
  std::vector<bool> hot(bench.cells());
  double dry = 0.0;
  double dry_hot = 0.0;
  for (std::size_t i = 0; i < bench.cells(); ++i) {
    const double mass = bench.heat_content(i).dry_mass_kg;
    hot[i] = bench.site.mesh.depth_m[i] > 0.15;
    dry += mass;
    dry_hot += hot[i] ? mass : 0.0;
  }
  const double phi = dry_hot / dry;
  ASSERT_GT(phi, 0.5);
  ASSERT_LT(phi, 0.9);
  const double cold = 1.0 - phi;
  const auto heat = [&] { // kills everything where it is hot
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      bench.state.survivors(organism)[i] =
          hot[i] ? std::log(1e-30) : bench.state.survivors(organism)[i];
    }
  };
  heat();
  for (int turns = 0; turns <= 5; ++turns) {
    // A turner mixes 90 % through and leaves 10 % where it was: the cold places keep a tenth and
    // get 0.9 of the mean, so that every turn leaves 0.1 + 0.9 (1 - phi). With all mixed it would
    // be (1 - phi)^(n+1).
    const double expected = cold * std::pow(0.1 + 0.9 * cold, turns);
    EXPECT_NEAR(survivors(bench) / expected, 1.0, 1e-9) << turns; // rounding over five turns
    const double ideal = std::pow(cold, turns + 1);
    EXPECT_GE(survivors(bench), 0.999 * ideal);
    EXPECT_LE(survivors(bench), 10.0 * ideal) << turns; // the order of magnitude
    (void)turn_pile(bench.site.mesh, bench.site.coefficients, TurnMethod::windrow_turner,
                    mild_air(), bench.state);
    heat();
  }
}

TEST(Survivors, MixingAveragesTheShareThatLivesNotItsLogarithm) {
  Bench bench(tests::windrow(1.0));
  const auto n = bench.cells();
  for (std::size_t i = 0; i < n; ++i) {
    bench.state.survivors(organism)[i] = i % 2 == 0 ? 0.0 : std::log(1e-12);
  }
  const double before = survivors(bench);
  double mean_ln = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    mean_ln += bench.state.survivors(organism)[i] / static_cast<double>(n);
  }
  ASSERT_GT(before, 0.1);
  ASSERT_LT(std::exp(mean_ln), 1e-5); // what a mean of ln s would say
  (void)turn_pile(bench.site.mesh, bench.site.coefficients, TurnMethod::windrow_turner, mild_air(),
                  bench.state);
  EXPECT_NEAR(survivors(bench), before, 1e-12); // rounding
  for (std::size_t i = 0; i < n; ++i) {
    // nine tenths of every cell are the mix
    EXPECT_GE(std::exp(bench.state.survivors(organism)[i]), 0.9 * before - 1e-12);
  }
}

double log10_survivors(const ForecastResult& result) {
  return result.find_scalar("log10_survivors_salmonella")->value;
}

TEST(Survivors, ANeverTurnedHeapKeepsThoseOfItsColdSkin) {
  const ForecastResult never = run_forecast(tests::mild_heap(25.0));
  PileDescription pile = tests::mild_heap(25.0);
  pile.turning = tests::turning(TurnMethod::fork, 4.0, 3.0);
  const ForecastResult turned = run_forecast(pile);
  // Both cores are hot long enough for a ten-thousandth and less: 5 days at 55 °C are 60 log.
  ASSERT_GT(never.find_scalar("days_above_55")->value, 5.0);
  // The skin's survivors are a few hundredths of the whole pile and stay: slow death when cool,
  // 0.04 a day of ln, takes 0.43 log in 25 days.
  EXPECT_GT(log10_survivors(never), -2.5);
  // The turned heap's skin has been inside: another tenth is left at most.
  EXPECT_LT(log10_survivors(turned), log10_survivors(never) - 1.0);
}

TEST(Survivors, SayThatNoMoreThanFourToFiveLogCanBeClaimed) {
  const ForecastResult result = run_forecast(tests::lumped_heap(1.0));
  for (const Inactivation& row : inactivation_table) {
    const Scalar* found = result.find_scalar("log10_survivors_" + std::string(row.key));
    ASSERT_NE(found, nullptr) << row.key;
    EXPECT_NE(found->long_name.find("no more than 4 to 5 log"), std::string::npos);
    EXPECT_NE(found->long_name.find(row.name), std::string::npos);
  }
}

} // namespace
} // namespace heapcast::models
