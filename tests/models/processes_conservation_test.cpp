// Two checks that every process must pass, whatever it models: what it moves it neither makes nor
// loses, and where there is nothing to live on nothing lives.

#include "models/pile_system.hpp"
#include "tests/models/pile_bench.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>
#include <span>
#include <string>
#include <vector>

namespace heapcast::models {
namespace {

using F = CellField;
using tests::Bench;

/// A sum over cell fields and totals that no process may change.
struct Invariant {
  const char* name;
  std::vector<F> fields;
  std::vector<Total> left;    ///< counts what left the cells, or was never in them
  std::vector<Total> entered; ///< counts what came into the cells
};

/// Everything that is conserved in rates. Ash is not integrated: no process can change it.
const std::vector<Invariant>& invariants() {
  static const std::vector<Invariant> all = {
      // Carbon is in six pools and leaves as two gases.
      {"carbon",
       {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass},
       {Total::carbon_dioxide_carbon, Total::methane_carbon},
       {}},
      // The organic nitrogen includes that of the microbes; it leaves as three gases or dissolved.
      {"nitrogen",
       {F::organic_nitrogen, F::ammonium_nitrogen, F::nitrate_nitrogen},
       {Total::ammonia_nitrogen, Total::nitrous_oxide_nitrogen, Total::dinitrogen_nitrogen,
        Total::leachate_nitrogen},
       {}},
      // Ice and liquid are one; vapour in the pores is not stored. Snow lies on the pile, not in
      // it.
      {"water",
       {F::water},
       {Total::evaporation, Total::leachate},
       {Total::rain, Total::metabolic_water}},
      // Enthalpy travels with every mass; reactions are booked as heat made.
      {"energy", {F::enthalpy}, {Total::heat_lost}, {Total::heat_made}},
  };
  return all;
}
static_assert(static_cast<std::size_t>(F::ash) >= integrated_fields);

/// One of each mesh, and everything that lets something in or out: wind, slats, pipes, a fan, snow.
std::vector<Bench> benches() {
  constexpr double days = 10.0;
  const tests::Climate showery{
      .mean_C = 6.0, .slow_swing_K = 10.0, .shower_kg_m2_h = 3.0, .shower_every_h = 10};
  std::vector<Bench> all;
  PileDescription long_row = tests::windrow(days, showery);
  long_row.shape.wind_exposed = true;
  all.emplace_back(long_row);
  PileDescription blown = tests::mild_heap(days, showery);
  blown.aeration.pipes = true;
  blown.aeration.fan_m3_h = 20.0;
  all.emplace_back(blown);
  PileDescription bin = tests::slatted_bin(days, showery);
  bin.cover.kind = CoverKind::breathable;
  all.emplace_back(bin);
  all.emplace_back(tests::lumped_heap(days, showery));
  return all;
}

/// What a process does to an invariant, and the size of what it moves.
struct Defect {
  double sum = 0.0;
  double gross = 0.0;
};

Defect defect(const Invariant& invariant, const Rates& rates) {
  Defect d;
  const auto count = [&](double value, double sign) {
    d.sum += sign * value;
    d.gross += std::abs(value);
  };
  for (const F f : invariant.fields) {
    for (std::size_t i = 0; i < rates.layout.cells(); ++i) {
      count(rates.field(f)[i], 1.0);
    }
  }
  for (const Total t : invariant.left) {
    count(rates.total(t), 1.0);
  }
  for (const Total t : invariant.entered) {
    count(rates.total(t), -1.0);
  }
  return d;
}

/// Rates of one process alone in the state of `bench`.
std::vector<double> rates_of(const Process& process, const Bench& bench, PileSystem& system) {
  std::vector<double> dydt(bench.state.layout.integrated_size(), 0.0);
  process.rates(system.lane_site(),
                {bench.state.layout, bench.state.y.data(), bench.state.y.data()},
                system.workspace(), {bench.state.layout, dydt});
  return dydt;
}

TEST(Processes, EachAloneKeepsCarbonNitrogenWaterAndEnergy) {
  std::mt19937 random(20210405);
  for (Bench& bench : benches()) {
    const PileState start = bench.state;
    for (int trial = 0; trial < 24; ++trial) {
      bench.state = start;
      bench.randomise(random);
      PileSystem system(bench.site, bench.state);
      system.workspace().fan_on = true;
      std::vector<double> all(bench.state.layout.integrated_size());
      system.end_step(3600.0 * trial, bench.integrated());
      system.rates(3600.0 * trial + 600.0, bench.integrated(), all);
      for (const Process& process : processes()) {
        std::vector<double> dydt = rates_of(process, bench, system);
        for (const Invariant& invariant : invariants()) {
          const Defect d = defect(invariant, {bench.state.layout, dydt});
          // At most 200 terms, each rounded to 1e-16 of what flows through its cell, which in a
          // random state is no larger than what stays there by more than some tens.
          EXPECT_LE(std::abs(d.sum), 1e-12 * d.gross)
              << process.name << ' ' << invariant.name << " of " << bench.site.mesh.cells()
              << " cells, trial " << trial;
        }
      }
    }
  }
}

TEST(Processes, BetweenThemEveryInvariantIsMoved) {
  // Else the test above could pass on zeros.
  std::mt19937 random(1);
  for (Bench& bench : benches()) {
    bench.randomise(random);
    PileSystem system(bench.site, bench.state);
    std::vector<double> dydt(bench.state.layout.integrated_size());
    system.rates(600.0, bench.integrated(), dydt);
    for (const Invariant& invariant : invariants()) {
      EXPECT_GT(defect(invariant, {bench.state.layout, dydt}).gross, 0.0) << invariant.name;
    }
    for (const double rate : dydt) {
      EXPECT_TRUE(std::isfinite(rate));
    }
  }
}

/// Leaves ash, humus and water, and no mineral nitrogen to be turned over.
void make_inert(PileState& state, std::size_t i) {
  state.field(F::humus)[i] += state.field(F::fast)[i] + state.field(F::medium)[i] +
                              state.field(F::slow)[i] + state.field(F::resistant)[i] +
                              state.field(F::biomass)[i];
  for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::biomass, F::ammonium_nitrogen,
                    F::nitrate_nitrogen}) {
    state.field(f)[i] = 0.0;
  }
}

TEST(Processes, InertPileHasNoBiologicalRates) {
  for (Bench& bench : benches()) {
    for (std::size_t i = 0; i < bench.site.mesh.cells(); ++i) {
      make_inert(bench.state, i);
      bench.set_temperature(i, freezing_K + 35.0);
    }
    PileSystem system(bench.site, bench.state);
    std::vector<double> dydt(bench.state.layout.integrated_size());
    system.rates(600.0, bench.integrated(), dydt);
    const Rates rates{bench.state.layout, dydt};
    for (std::size_t i = 0; i < bench.site.mesh.cells(); ++i) {
      for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass,
                        F::organic_nitrogen, F::ammonium_nitrogen, F::nitrate_nitrogen}) {
        EXPECT_EQ(rates.field(f)[i], 0.0);
      }
      EXPECT_EQ(system.workspace().oxygen_demand_mol_s[i], 0.0);
      // With no uptake the pores hold the oxygen of the air, to the solver's 1e-7.
      EXPECT_NEAR(system.workspace().oxygen[i], oxygen_in_dry_air, 1e-6);
    }
    for (const Total t : {Total::carbon_dioxide_carbon, Total::methane_carbon,
                          Total::ammonia_nitrogen, Total::nitrous_oxide_nitrogen,
                          Total::dinitrogen_nitrogen, Total::metabolic_water, Total::heat_made}) {
      EXPECT_EQ(rates.total(t), 0.0);
    }
  }
}

TEST(Processes, InertCellAmongLivingOnesDoesNotDecompose) {
  for (Bench& bench : benches()) {
    make_inert(bench.state, 0);
    PileSystem system(bench.site, bench.state);
    std::vector<double> dydt(bench.state.layout.integrated_size());
    system.rates(600.0, bench.integrated(), dydt);
    dydt = rates_of(processes()[0], bench, system);
    ASSERT_EQ(processes()[0].name, "decomposition");
    const Rates rates{bench.state.layout, dydt};
    for (std::size_t f = 0; f < integrated_fields; ++f) {
      EXPECT_EQ(rates.field(static_cast<F>(f))[0], 0.0);
    }
  }
}

TEST(Processes, CellWithHardlyAnyMatterHasHardlyAnyRate) {
  // A speck of matter rots as fast, per mass, as its neighbours: no pool can lose more than its
  // content times the fastest rate there is (decay by heat at 80 degC, about 30 per day).
  constexpr double speck = 1e-12;
  constexpr double fastest_1_s = 30.0 / 86400.0;
  for (Bench& bench : benches()) {
    for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass, F::water,
                      F::enthalpy, F::organic_nitrogen, F::ammonium_nitrogen, F::ash,
                      F::loose_volume, F::start_dry, F::start_fast, F::grain_volume}) {
      bench.state.field(f)[0] *= speck;
    }
    double carbon = 0.0;
    for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass}) {
      carbon += bench.state.field(f)[0];
    }
    ASSERT_GT(carbon, 0.0);
    PileSystem system(bench.site, bench.state);
    std::vector<double> all(bench.state.layout.integrated_size());
    system.rates(600.0, bench.integrated(), all);
    for (const double rate : all) {
      ASSERT_TRUE(std::isfinite(rate));
    }
    std::vector<double> dydt = rates_of(processes()[0], bench, system);
    const Rates rates{bench.state.layout, dydt};
    for (const F f : {F::fast, F::medium, F::slow, F::resistant, F::humus, F::biomass}) {
      EXPECT_LE(std::abs(rates.field(f)[0]), fastest_1_s * carbon);
    }
  }
}

TEST(Processes, ExtremeStatesGiveFiniteRates) {
  struct Extreme {
    const char* name;
    double water; ///< times what was there
    double temperature_C;
  };
  constexpr std::array extremes = {Extreme{"bone dry and hot", 0.0, 80.0},
                                   Extreme{"bone dry and cold", 0.0, -45.0},
                                   Extreme{"drowned and hot", 30.0, 80.0},
                                   Extreme{"drowned and frozen", 30.0, -45.0},
                                   Extreme{"half frozen", 1.0, -0.5},
                                   Extreme{"at freezing", 1.0, 0.0},
                                   Extreme{"steaming", 1.0, 99.0},
                                   Extreme{"cold", 1.0, -45.0},
                                   Extreme{"drowned in ice water", 30.0, 0.0}};
  const auto all_finite = [](const std::vector<double>& v) {
    for (const double x : v) {
      if (!std::isfinite(x)) {
        return false;
      }
    }
    return true;
  };
  for (Bench& bench : benches()) {
    const PileState start = bench.state;
    const std::size_t cells = bench.site.mesh.cells();
    // The whole pile in one state, and one cell in it.
    for (const std::size_t changed : {cells, std::size_t{1}}) {
      for (const Extreme& extreme : extremes) {
        bench.state = start;
        for (std::size_t i = 0; i < changed; ++i) {
          bench.state.field(F::water)[i] *= extreme.water;
          bench.set_temperature(i, freezing_K + extreme.temperature_C);
        }
        PileSystem system(bench.site, bench.state);
        const std::string where = std::string(extreme.name) + ", " + std::to_string(changed) +
                                  " of " + std::to_string(cells) + " cells";
        for (const double since_s : {0.0, 60.0, 3600.0}) {
          std::vector<double> dydt(bench.state.layout.integrated_size());
          system.rates(since_s, bench.integrated(), dydt);
          EXPECT_TRUE(all_finite(dydt)) << where;
          for (std::size_t i = 0; i < cells; ++i) {
            EXPECT_GE(system.workspace().oxygen[i], 0.0) << where;
            EXPECT_LE(system.workspace().oxygen[i], oxygen_in_dry_air + 1e-6) << where;
            // The floor under the pore space, to rounding of 1 - (1 - 0.001).
            EXPECT_GE(system.workspace().free_air_space[i], 1e-3 - 1e-12) << where;
          }
        }
        std::vector<engine::StiffBlock> blocks(2);
        blocks[0].resize(cells, bench.site.mesh.faces(), true);
        blocks[1].resize(cells, bench.site.mesh.faces(), false);
        system.stiff_blocks(blocks);
        for (const engine::StiffBlock& block : blocks) {
          for (const engine::NeighbourMatrix* matrix : {&block.level, &block.follower}) {
            EXPECT_TRUE(all_finite(matrix->diagonal)) << where;
            EXPECT_TRUE(all_finite(matrix->from_a)) << where;
            EXPECT_TRUE(all_finite(matrix->from_b)) << where;
          }
          EXPECT_TRUE(all_finite(block.weight)) << where;
        }
        std::vector<double> dxdt(cells);
        std::vector<double> dydt(bench.state.layout.integrated_size());
        system.rates_with_oxygen(3600.0, bench.integrated(), system.workspace().oxygen_before, dydt,
                                 dxdt);
        EXPECT_TRUE(all_finite(dydt) && all_finite(dxdt)) << where;
      }
    }
  }
}

} // namespace
} // namespace heapcast::models
