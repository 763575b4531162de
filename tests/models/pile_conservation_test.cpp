// Balances of whole runs, and of everything that is done to a pile.

#include "models/operations/mix.hpp"
#include "models/pile_run.hpp"
#include "tests/models/pile_bench.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <functional>
#include <numeric>
#include <random>
#include <string>
#include <vector>

namespace heapcast::models {
namespace {

using F = CellField;
using tests::Bench;
using tests::Climate;

constexpr std::array methods = {TurnMethod::fork, TurnMethod::loader, TurnMethod::windrow_turner};

struct Story {
  const char* name;
  PileDescription pile;
  /// What must have happened, else the balance of it was not tested.
  std::vector<std::string> events;
  std::vector<std::string> grown; ///< series that end above zero
};

std::vector<Story> stories() {
  constexpr double days = 10.0;
  const Climate wet{.shower_kg_m2_h = 4.0, .shower_every_h = 24, .shower_hours = 8};
  const Climate thaw{
      .mean_C = 0.5, .slow_swing_K = 6.0, .shower_kg_m2_h = 1.0, .shower_every_h = 12};
  std::vector<Story> all;
  for (const TurnMethod method : methods) {
    PileDescription p = tests::mild_heap(days, wet);
    p.turning = tests::turning(method, 2.0, 2.0);
    p.turning->water_to_moisture = 0.7;
    all.push_back({"heap, rained on, turned and watered", p, {"turn"}, {"cumulative_rain"}});
  }
  {
    PileDescription p = tests::slatted_bin(days, wet);
    tests::Addition weekly = tests::weekly_addition();
    weekly.schedule.every_days = 3.0;
    p.additions = {weekly};
    p.watering = Watering{};
    p.watering->schedule.every_days = 2.0;
    p.watering->litres = 60.0;
    p.cover_changes = {{4.0, {.kind = CoverKind::tarp}}, {6.0, {.kind = CoverKind::none}}};
    all.push_back({"bin, fed, watered from above, covered",
                   p,
                   {"add", "water", "cover"},
                   {"cumulative_leachate", "cumulative_leachate_nitrogen"}});
  }
  {
    PileDescription p = tests::windrow(days, wet);
    p.shape.wind_exposed = true;
    p.watering = Watering{};
    p.watering->schedule.every_days = 3.0;
    p.watering->to_moisture = 0.75;
    p.turning = tests::turning(TurnMethod::windrow_turner, 4.0, 4.0);
    all.push_back({"windrow in wind, watered to a moisture", p, {"turn", "water"}, {}});
  }
  {
    PileDescription p = tests::mild_heap(days, thaw);
    p.build_temperature_K = freezing_K - 12.0;
    p.turning = tests::turning(TurnMethod::loader, 4.0, 4.0);
    all.push_back({"frozen heap under snow", p, {"turn"}, {"snow_cover", "frozen_share"}});
  }
  {
    PileDescription p = tests::layered_heap(days, wet);
    p.aeration.pipes = true;
    p.aeration.fan_m3_h = 15.0;
    p.aeration.on_above_K = freezing_K + 45.0;
    p.aeration.on_minutes_h = 20.0;
    all.push_back({"layered heap on pipes with a fan", p, {}, {"cumulative_ammonia_nitrogen"}});
  }
  all.push_back({"one cell", tests::lumped_heap(days, wet), {}, {"cumulative_rain"}});
  return all;
}

TEST(PileRun, WaterCarbonNitrogenAshAndEnergyCloseToRounding) {
  for (const Story& story : stories()) {
    PileRun run(story.pile);
    const long hours = std::lround(24.0 * story.pile.horizon_days);
    for (long hour = 0; hour < hours; ++hour) {
      run.do_events();
      run.advance_hour();
    }
    const std::vector<double> closure = run.closure();
    std::printf("%-40s water %.1e carbon %.1e nitrogen %.1e ash %.1e energy %.1e\n", story.name,
                closure[0], closure[1], closure[2], closure[3], closure[4]);
    // The rates close to rounding (Processes) and the integrator keeps linear invariants. A step
    // rounds each entry about ten times by 1e-16; 500 steps that all round the same way give 5e-13
    // of the throughput. Through the energy balance more heat passes than is made or was there:
    // sun, vapour and air at the surface, some ten times as much.
    for (std::size_t i = 0; i < 4; ++i) {
      EXPECT_LE(closure[i], 1e-12) << story.name << ", quantity " << i;
    }
    EXPECT_LE(closure[4], 1e-11) << story.name;

    const ForecastResult result = run.finish();
    for (const std::string& kind : story.events) {
      EXPECT_TRUE(std::any_of(result.events.begin(), result.events.end(),
                              [&](const EventRecord& e) { return e.kind == kind; }))
          << story.name << ": no " << kind;
    }
    for (const std::string& name : story.grown) {
      const std::vector<double>& values = result.find_series(name)->values;
      EXPECT_GT(*std::max_element(values.begin(), values.end()), 0.0)
          << story.name << ": no " << name;
    }
  }
}

/// One of each mesh, every cell different.
std::vector<Bench> random_piles() {
  std::mt19937 random(7);
  std::vector<Bench> all;
  all.emplace_back(tests::mild_heap(1.0));
  all.emplace_back(tests::windrow(1.0));
  all.emplace_back(tests::slatted_bin(1.0));
  all.emplace_back(tests::lumped_heap(1.0));
  for (Bench& bench : all) {
    bench.randomise(random);
  }
  return all;
}

Parcel all_of(const PileState& state) {
  Parcel sum;
  for (const Parcel& p : take_apart(state)) {
    sum.add(p, 1.0);
  }
  return sum;
}

/// Each amount of `now` is that of `before`, but for `changed` by what it says. Amounts are sums of
/// at most 50 cells taken apart and put together with some ten roundings each: 1e-13.
void expect_kept(const Parcel& before, const Parcel& now,
                 const std::vector<std::pair<F, double>>& changed, const std::string& where) {
  for (std::size_t f = 0; f < cell_fields; ++f) {
    double wanted = before.amount[f];
    bool skipped = false;
    for (const auto& [field, change] : changed) {
      if (static_cast<std::size_t>(field) == f) {
        wanted += change;
        skipped = std::isnan(change);
      }
    }
    if (!skipped) {
      EXPECT_NEAR(now.amount[f], wanted, 1e-13 * std::max(std::abs(before.amount[f]), 1e-6))
          << where << ": " << pile_layout(1).field_name(f);
    }
  }
}

Forcing cool_air() {
  return ForcingSeries(*tests::weather(1.0, {.mean_C = 10.0}), 0.0).at(0.0);
}

TEST(TurnPile, KeepsEveryAmountButWhatItReports) {
  for (const Bench& start : random_piles()) {
    for (const TurnMethod method : methods) {
      Bench bench = start;
      const Parcel before = all_of(bench.state);
      const Exchange e =
          turn_pile(bench.site.mesh, bench.site.coefficients, method, cool_air(), bench.state);
      // The structure springs back, particles and lumps break: those are meant to change.
      const auto broken = [&](F lump) { return -mixing_share(method) * before[lump]; };
      expect_kept(before, all_of(bench.state),
                  {{F::water, -e.water_out_kg},
                   {F::ammonium_nitrogen, -e.ammonia_out_kgN},
                   {F::enthalpy, -e.heat_out_J},
                   {F::settling, unset},
                   {F::log_particle_size, unset},
                   {F::lump_fast, broken(F::lump_fast)},
                   {F::lump_medium, broken(F::lump_medium)},
                   {F::lump_slow, broken(F::lump_slow)}},
                  std::to_string(bench.cells()) + " cells");
      EXPECT_GT(before[F::lump_fast], 0.0);
      EXPECT_GT(e.water_out_kg, 0.0);
      EXPECT_GT(e.heat_out_J, 0.0);
      EXPECT_GT(e.ammonia_out_kgN, 0.0);
      EXPECT_EQ(e.water_in_kg + e.carbon_in_kgC + e.nitrogen_in_kgN + e.ash_in_kg + e.heat_in_J,
                0.0);
    }
  }
}

TEST(TurnPile, BreaksParticlesByTheSameShareEverywhere) {
  for (Bench& bench : random_piles()) {
    const Parcel before = all_of(bench.state);
    (void)turn_pile(bench.site.mesh, bench.site.coefficients, TurnMethod::loader, cool_air(),
                    bench.state);
    const Parcel after = all_of(bench.state);
    // Mass times ln of the length: the mean of ln falls by -ln(1 - 0.03).
    EXPECT_NEAR((after[F::log_particle_size] - before[F::log_particle_size]) /
                    parcel_dry_mass_kg(before),
                std::log(1.0 - 0.03), 1e-12);
  }
}

TEST(TurnPile, ColdOrFrozenPileLosesNoHeat) {
  for (const double temperature_C : {-15.0, -0.5, 5.0}) {
    Bench bench(tests::mild_heap(1.0));
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      bench.set_temperature(i, freezing_K + temperature_C);
    }
    const Exchange e = turn_pile(bench.site.mesh, bench.site.coefficients, TurnMethod::loader,
                                 cool_air(), bench.state);
    EXPECT_EQ(e.heat_out_J, 0.0);
    EXPECT_EQ(e.water_out_kg, 0.0);
  }
}

TEST(TurnPile, SurvivorsMixByMassNotByLogarithm) {
  // Everything dead but the skin: a tenth of the dry mass, say, at s = 1 and the rest at 1e-12.
  // What survives in the pile is then that tenth, before and after; the mean of the logarithm would
  // say 1e-11.
  Bench bench(tests::mild_heap(1.0));
  const std::size_t n = bench.cells();
  std::vector<double> dry(n);
  double total = 0.0;
  double skin = 0.0;
  const double skin_depth_m =
      *std::min_element(bench.site.mesh.depth_m.begin(), bench.site.mesh.depth_m.end()) * 1.5;
  for (std::size_t i = 0; i < n; ++i) {
    dry[i] = bench.heat_content(i).dry_mass_kg;
    const bool outside = bench.site.mesh.depth_m[i] < skin_depth_m;
    bench.state.survivors(0)[i] = outside ? 0.0 : std::log(1e-12);
    total += dry[i];
    skin += outside ? dry[i] : 0.0;
  }
  ASSERT_GT(skin, 0.0);
  ASSERT_LT(skin, 0.5 * total);
  const double wanted = (skin + 1e-12 * (total - skin)) / total;
  for (const TurnMethod method : methods) {
    Bench turned = bench;
    (void)turn_pile(turned.site.mesh, turned.site.coefficients, method, cool_air(), turned.state);
    double mean = 0.0;
    double smallest = 1.0;
    for (std::size_t i = 0; i < n; ++i) {
      const double s = std::exp(turned.state.survivors(0)[i]);
      mean += turned.heat_content(i).dry_mass_kg * s / total;
      smallest = std::min(smallest, s);
    }
    EXPECT_NEAR(mean, wanted, 1e-12); // rounding, as above
    // The mixed share carries the pile's mean into every cell.
    EXPECT_GE(smallest, 0.99 * mixing_share(method) * wanted);
  }
}

/// Mean depth of nitrate, put into the outermost third of the volume and then turned.
struct TracerDepth {
  double before_m, after_m, pile_m;
};

TracerDepth outside_tracer(const Bench& start, TurnMethod method) {
  Bench bench = start;
  const engine::Mesh& mesh = bench.site.mesh;
  std::vector<std::size_t> order(bench.cells());
  std::iota(order.begin(), order.end(), 0U);
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return mesh.depth_m[a] < mesh.depth_m[b]; });
  double taken = 0.0;
  for (const std::size_t i : order) {
    const bool outside = taken < mesh.total_volume_m3() / 3.0;
    bench.state.field(F::nitrate_nitrogen)[i] = outside ? mesh.volume_m3[i] : 0.0;
    taken += mesh.volume_m3[i];
  }
  const auto mean_depth = [&](const double* weight) {
    double sum = 0.0;
    double total = 0.0;
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      sum += weight[i] * mesh.depth_m[i];
      total += weight[i];
    }
    return sum / total;
  };
  TracerDepth depth{};
  depth.before_m = mean_depth(bench.state.field(F::nitrate_nitrogen));
  depth.pile_m = mean_depth(mesh.volume_m3.data());
  (void)turn_pile(mesh, bench.site.coefficients, method, cool_air(), bench.state);
  depth.after_m = mean_depth(bench.state.field(F::nitrate_nitrogen));
  return depth;
}

TEST(TurnPile, ForkBringsOutsideInsideOthersOnlyMix) {
  for (const PileDescription& pile :
       {tests::mild_heap(1.0), tests::windrow(1.0), tests::slatted_bin(1.0)}) {
    const Bench bench(pile);
    const TracerDepth fork = outside_tracer(bench, TurnMethod::fork);
    EXPECT_LT(fork.before_m, fork.pile_m);
    EXPECT_GT(fork.after_m, fork.pile_m); // deeper than perfect mixing would put it
    for (const TurnMethod method : {TurnMethod::loader, TurnMethod::windrow_turner}) {
      const TracerDepth mixed = outside_tracer(bench, method);
      // A share goes to the mean depth, the rest stays: cells are filled by volume in proportion,
      // so the mean depth is exactly in between. Rounding as above.
      const double share = mixing_share(method);
      EXPECT_NEAR(mixed.after_m, share * mixed.pile_m + (1.0 - share) * mixed.before_m, 1e-12);
    }
  }
}

TEST(AddMaterial, KeepsWhatWasThereAndAddsWhatItReports) {
  const std::vector<Ingredient> fresh = tests::weekly_addition().ingredients;
  for (const Bench& start : random_piles()) {
    Bench bench = start;
    const Parcel before = all_of(bench.state);
    const Exchange e = add_material(fresh, bench.site.mesh, bench.site.coefficients,
                                    freezing_K + 12.0, bench.state);
    const Parcel lot = mixed_parcel(fresh, bench.site.coefficients, freezing_K + 12.0, 0.0);
    Parcel wanted = before;
    wanted.add(lot, 1.0);
    expect_kept(wanted, all_of(bench.state), {}, std::to_string(bench.cells()) + " cells");
    EXPECT_EQ(e.water_in_kg, lot[F::water]);
    EXPECT_EQ(e.carbon_in_kgC, parcel_carbon_kgC(lot));
    EXPECT_EQ(e.nitrogen_in_kgN,
              lot[F::organic_nitrogen] + lot[F::ammonium_nitrogen] + lot[F::nitrate_nitrogen]);
    EXPECT_EQ(e.ash_in_kg, lot[F::ash]);
    EXPECT_EQ(e.heat_in_J, lot[F::enthalpy]);
    EXPECT_EQ(e.water_out_kg + e.leachate_kg + e.ammonia_out_kgN + e.heat_out_J, 0.0);
  }
}

TEST(AddMaterial, LiesOnTheOutside) {
  // What was there is sterile, what comes is not: survivors show where it went.
  for (const PileDescription& pile :
       {tests::mild_heap(1.0), tests::windrow(1.0), tests::slatted_bin(1.0)}) {
    Bench bench(pile);
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      bench.state.survivors(0)[i] = std::log(1e-9);
    }
    (void)add_material(tests::weekly_addition().ingredients, bench.site.mesh,
                       bench.site.coefficients, freezing_K + 12.0, bench.state);
    const auto& depth = bench.site.mesh.depth_m;
    const auto deepest =
        static_cast<std::size_t>(std::max_element(depth.begin(), depth.end()) - depth.begin());
    EXPECT_NEAR(bench.state.survivors(0)[deepest], std::log(1e-9), 1e-9);
    double top = -1e9;
    for (std::size_t f = 0; f < bench.site.mesh.faces(); ++f) {
      if (bench.site.mesh.kind[f] == engine::FaceKind::surface) {
        top = std::max(
            top, bench.state.survivors(0)[static_cast<std::size_t>(bench.site.mesh.cell_a[f])]);
      }
    }
    EXPECT_GT(top, std::log(0.01)); // at least a hundredth of a surface cell is new
  }
}

TEST(Watering, BringsEveryDrierCellToTheMoistureAndNoMore) {
  constexpr double goal = 0.7;
  constexpr double water_K = freezing_K + 8.0;
  for (Bench& bench : random_piles()) {
    const Parcel before = all_of(bench.state);
    const std::vector<double> water_before(bench.state.field(F::water),
                                           bench.state.field(F::water) + bench.cells());
    const Exchange e = water_to_moisture(goal, water_K, bench.state);
    expect_kept(before, all_of(bench.state),
                {{F::water, e.water_in_kg}, {F::enthalpy, e.heat_in_J}},
                std::to_string(bench.cells()) + " cells");
    // 8 K of warmth in every kilogram.
    EXPECT_NEAR(e.heat_in_J, 8.0 * heat_capacity_water_J_kgK * e.water_in_kg,
                1e-12 * std::abs(e.heat_in_J));
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      const HeatContent content = bench.heat_content(i);
      const double moisture = content.water_mass_kg / (content.water_mass_kg + content.dry_mass_kg);
      const double was = water_before[i] / (water_before[i] + content.dry_mass_kg);
      EXPECT_NEAR(moisture, std::max(was, goal), 1e-14); // a few roundings
    }
  }
}

TEST(Watering, LitresFromAboveAllArriveAtTheSurface) {
  for (Bench& bench : random_piles()) {
    const Parcel before = all_of(bench.state);
    const std::vector<double> water_before(bench.state.field(F::water),
                                           bench.state.field(F::water) + bench.cells());
    const Exchange e = water_from_above(40.0, bench.site.mesh, freezing_K + 8.0, bench.state);
    EXPECT_NEAR(e.water_in_kg, 40.0, 1e-12); // the shares of at most 24 faces add up to rounding
    expect_kept(before, all_of(bench.state),
                {{F::water, e.water_in_kg}, {F::enthalpy, e.heat_in_J}},
                std::to_string(bench.cells()) + " cells");
    std::vector<bool> open(bench.cells(), false);
    for (std::size_t f = 0; f < bench.site.mesh.faces(); ++f) {
      if (bench.site.mesh.plan_area_m2[f] > 0.0) {
        open[static_cast<std::size_t>(bench.site.mesh.cell_a[f])] = true;
      }
    }
    for (std::size_t i = 0; i < bench.cells(); ++i) {
      EXPECT_EQ(bench.state.field(F::water)[i] > water_before[i], open[i]);
    }
  }
}

TEST(Watering, LitresToAMoistureBringTheWholePileThere) {
  const auto moisture = [](const Parcel& p) {
    return p[F::water] / (p[F::water] + parcel_dry_mass_kg(p));
  };
  for (Bench& bench : random_piles()) {
    const double now = moisture(all_of(bench.state));
    const double goal = now + 0.05;
    EXPECT_EQ(litres_to_moisture(now - 0.05, bench.state), 0.0);
    const double litres = litres_to_moisture(goal, bench.state);
    (void)water_from_above(litres, bench.site.mesh, freezing_K + 8.0, bench.state);
    EXPECT_NEAR(moisture(all_of(bench.state)), goal, 1e-13); // rounding of sums over the cells
  }
}

TEST(FillPile, LayersKeepTheirTotalsAndTheirOrder) {
  for (const Resolution resolution : {Resolution::coarse, Resolution::standard}) {
    PileDescription pile = tests::layered_heap(1.0);
    pile.resolution = resolution;
    const Bench bench(pile);
    Parcel wanted;
    for (const Ingredient& i : pile.ingredients) {
      wanted.add(mixed_parcel({i}, bench.site.coefficients, freezing_K + 20.0, 0.0), 1.0);
    }
    expect_kept(wanted, all_of(bench.state), {}, "layered heap");
    // Straw is the driest and lies lowest, grass the wettest and lies on top.
    const std::vector<double>& z = bench.site.mesh.z_m;
    const auto ratio = [&](std::size_t i) {
      const HeatContent content = bench.heat_content(i);
      return content.water_mass_kg / content.dry_mass_kg;
    };
    const auto low = static_cast<std::size_t>(std::min_element(z.begin(), z.end()) - z.begin());
    const auto high = static_cast<std::size_t>(std::max_element(z.begin(), z.end()) - z.begin());
    EXPECT_NEAR(ratio(low), 0.11 / 0.89, 1e-12);
    EXPECT_NEAR(ratio(high), 0.78 / 0.22, 1e-12);
  }
}

TEST(FillPile, MixedPileIsTheSameEverywhere) {
  const Bench bench(tests::windrow(1.0));
  Parcel wanted =
      mixed_parcel(bench.pile.ingredients, bench.site.coefficients, freezing_K + 20.0, 0.0);
  expect_kept(wanted, all_of(bench.state), {}, "windrow");
  const double* water = bench.state.field(F::water);
  for (std::size_t i = 0; i < bench.cells(); ++i) {
    EXPECT_NEAR(water[i] / bench.site.mesh.volume_m3[i],
                wanted[F::water] / bench.site.mesh.total_volume_m3(),
                1e-12 * water[i] / bench.site.mesh.volume_m3[i]);
  }
}

TEST(Parcel, MixOfTwoLotsIsTheirMassWeightedMean) {
  // 1 kg with everything alive and 3 kg with 1e-8 alive.
  Parcel a;
  Parcel b;
  a[F::volatile_per_carbon] = 1.0;
  b[F::volatile_per_carbon] = 3.0;
  a[F::log_survivors] = 1.0 * 1.0;
  b[F::log_survivors] = 3.0 * 1e-8;
  b[F::heated] = 3.0 * 1.0; // all of the three, none of the one
  a[F::slow] = b[F::slow] = 0.5;
  a[F::loose_volume] = b[F::loose_volume] = 0.01;
  Parcel both;
  both.add(a, 1.0);
  both.add(b, 1.0);
  PileState state(1);
  put_together({both}, state);
  EXPECT_NEAR(state.survivors(0)[0], std::log((1.0 + 3e-8) / 4.0), 1e-14);
  EXPECT_EQ(state.field(F::heated)[0], 0.75);
}

} // namespace
} // namespace heapcast::models
