// The order in time of the whole pile, observed with fixed steps.

#include "models/pile_run.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

namespace heapcast::models {
namespace {

constexpr int hours = 8;

struct Scheme {
  double step_s;
  bool oxygen_storage;
  engine::Scheme method = engine::Scheme::predictor_corrector; ///< that of forecasts
};

/// Temperature of every cell after eight hours of fixed steps.
std::vector<double> temperatures_K(const PileDescription& pile, const Scheme& scheme) {
  engine::StepControl control = PileRun::step_control();
  control.fixed_step_s = scheme.step_s;
  control.scheme = scheme.method;
  PileRun run(pile, control);
  run.system().set_oxygen_storage(scheme.oxygen_storage);
  for (int hour = 0; hour < hours; ++hour) {
    run.advance_hour();
  }
  return run.system().workspace().temperature_K;
}

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double largest = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
  }
  return largest;
}

/// Order from the errors at `coarse_s` and at the last of `halvings` halved steps whose error is
/// above 2e-6 K, against a step of 3600/512 s. Oxygen is solved to 1e-7 mol/mol, where it is scarce
/// 1e-5 to 3e-5 of the uptake (K 0.3 to 1 %), and uptake warms by up to 1 K/h: some 1e-6 K remain.
double observed_order(const std::string& name, const PileDescription& pile, double coarse_s,
                      bool oxygen_storage, int halvings = 3,
                      engine::Scheme method = engine::Scheme::predictor_corrector) {
  constexpr double floor_K = 2e-6;
  const std::vector<double> exact =
      temperatures_K(pile, {3600.0 / 512.0, oxygen_storage, engine::Scheme::rosenbrock});
  std::printf("%-8s oxygen %-7s step %4.0f s and halved:", name.c_str(),
              oxygen_storage ? "stored" : "steady", coarse_s);
  double first_K = 0.0;
  double order = 0.0;
  for (int halved = 0; halved <= halvings; ++halved) {
    const double step_s = std::ldexp(coarse_s, -halved);
    const double error_K =
        largest_difference(temperatures_K(pile, {step_s, oxygen_storage, method}), exact);
    std::printf(" %.2e", error_K);
    if (halved == 0) {
      first_K = error_K;
    } else if (error_K > floor_K) {
      order = std::log2(first_K / error_K) / halved;
    }
  }
  std::printf(" K, order %.2f\n", order);
  return order;
}

/// Warm and open from the start: the draught is strong, upwards everywhere and keeps its direction.
PileDescription warm(PileDescription pile) {
  pile.build_temperature_K = freezing_K + 45.0;
  pile.parameters.set(find_parameter("flow_size_scale"), 1.0);
  return pile;
}

TEST(PileConvergence, SecondOrderInTimeWhereTheDraughtKeepsItsDirection) {
  // Steps end on the corners of the weather, which is dry; oxygen is algebraic: nothing is left
  // that is not smooth. The predictor and corrector is of order 2; a tenth is left to the finite
  // steps. One cell has no draught; its errors are so small that only long steps rise above the
  // floor.
  for (const auto& [name, pile, step_s] : {std::tuple{"heap", warm(tests::mild_heap(1.0)), 1800.0},
                                           {"windrow", warm(tests::windrow(1.0)), 1800.0},
                                           {"one cell", tests::lumped_heap(1.0), 3600.0}}) {
    const double order = observed_order(name, pile, step_s, false);
    EXPECT_GT(order, 1.8) << name;
    EXPECT_LT(order, 2.3) << name;
  }
}

TEST(PileConvergence, ThirdOrderByRosenbrockWhereTheDraughtKeepsItsDirection) {
  // One cell is left out: steps of an hour, the longest there are, err by 3e-6 K, at the floor.
  for (const auto& [name, pile] :
       {std::pair{"heap", warm(tests::mild_heap(1.0))}, {"windrow", warm(tests::windrow(1.0))}}) {
    const double order = observed_order(name, pile, 1800.0, false, 3, engine::Scheme::rosenbrock);
    EXPECT_GT(order, 2.8) << name;
    EXPECT_LT(order, 3.3) << name;
  }
}

TEST(PileConvergence, AboutSecondOrderInTimeWhileTheDraughtTurns) {
  // A pile built at air temperature has air passing both ways, and each face whose flow turns takes
  // its heat, moisture and oxygen from the other cell from then on: a kink, which costs any method
  // an error of second order in the step it falls into. Where in a step it falls is chance: a
  // factor of three either way in the error, which over a factor of sixteen in the step scatters
  // what is observed by about half an order.
  for (const auto& [name, pile] :
       {std::pair{"heap", tests::mild_heap(1.0)}, {"windrow", tests::windrow(1.0)}}) {
    EXPECT_GT(observed_order(name, pile, 1800.0, false, 4), 1.5) << name;
  }
}

TEST(PileConvergence, SecondOrderInTimeWithOxygenStored) {
  // The storage of oxygen in the pores is integrated by BDF2 beside the trapezoidal rule. Pores
  // empty within an hour, so the order shows from steps of some minutes on.
  for (const auto& [name, pile] :
       {std::pair{"heap", warm(tests::mild_heap(1.0))}, {"windrow", warm(tests::windrow(1.0))}}) {
    const double order = observed_order(name, pile, 450.0, true);
    EXPECT_GT(order, 1.8) << name;
    EXPECT_LT(order, 2.3) << name;
  }
}

} // namespace
} // namespace heapcast::models
