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

/// Order from the errors at `coarse_s` and an eighth of it, against a step of 3600/512 s.
double observed_order(const std::string& name, const PileDescription& pile, double coarse_s,
                      bool oxygen_storage,
                      engine::Scheme method = engine::Scheme::predictor_corrector) {
  const std::vector<double> exact =
      temperatures_K(pile, {3600.0 / 512.0, oxygen_storage, engine::Scheme::rosenbrock});
  std::vector<double> error_K;
  for (const double part : {1.0, 2.0, 4.0, 8.0}) {
    error_K.push_back(
        largest_difference(temperatures_K(pile, {coarse_s / part, oxygen_storage, method}), exact));
  }
  const double order = std::log2(error_K.front() / error_K.back()) / 3.0;
  std::printf("%-8s oxygen %-7s step %4.0f s and halved: %.2e %.2e %.2e %.2e K, order %.2f\n",
              name.c_str(), oxygen_storage ? "stored" : "steady", coarse_s, error_K[0], error_K[1],
              error_K[2], error_K[3], order);
  return order;
}

/// Warm from the start: the draught is upwards everywhere and keeps its direction.
PileDescription warm(PileDescription pile) {
  pile.build_temperature_K = freezing_K + 45.0;
  return pile;
}

TEST(PileConvergence, SecondOrderInTimeWhereTheDraughtKeepsItsDirection) {
  // Weather has no kinks and is dry, oxygen is algebraic: nothing is left that is not smooth. The
  // predictor and corrector is of order 2; a tenth is left to the finite steps. One cell has no
  // draught; its errors are so small that only long steps rise above the 1e-7 to which oxygen is
  // solved.
  for (const auto& [name, pile, step_s] : {std::tuple{"heap", warm(tests::mild_heap(1.0)), 1800.0},
                                           {"windrow", warm(tests::windrow(1.0)), 1800.0},
                                           {"one cell", tests::lumped_heap(1.0), 3600.0}}) {
    const double order = observed_order(name, pile, step_s, false);
    EXPECT_GT(order, 1.8) << name;
    EXPECT_LT(order, 2.3) << name;
  }
}

TEST(PileConvergence, ThirdOrderByRosenbrockWhereTheDraughtKeepsItsDirection) {
  for (const auto& [name, pile, step_s] : {std::tuple{"heap", warm(tests::mild_heap(1.0)), 1800.0},
                                           {"windrow", warm(tests::windrow(1.0)), 1800.0},
                                           {"one cell", tests::lumped_heap(1.0), 3600.0}}) {
    const double order = observed_order(name, pile, step_s, false, engine::Scheme::rosenbrock);
    EXPECT_GT(order, 2.8) << name;
    EXPECT_LT(order, 3.3) << name;
  }
}

TEST(PileConvergence, AboutSecondOrderInTimeWhileTheDraughtTurns) {
  // A pile built at air temperature has air passing both ways, and each face whose flow turns takes
  // its heat, moisture and oxygen from the other cell from then on: a kink, which costs any method
  // an error of second order in the step it falls into. Where in a step it falls is chance, which
  // scatters what is observed over a factor of eight in the step by about half an order.
  for (const auto& [name, pile] :
       {std::pair{"heap", tests::mild_heap(1.0)}, {"windrow", tests::windrow(1.0)}}) {
    EXPECT_GT(observed_order(name, pile, 1800.0, false), 1.5) << name;
  }
}

TEST(PileConvergence, SecondOrderInTimeWithOxygenStored) {
  // The storage of oxygen in the pores is integrated by BDF2 beside the method of order 3. Pores
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
