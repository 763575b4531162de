// Whole runs against SUNDIALS CVODE: another method (BDF of orders 1 to 5, all implicit), another
// step control, and pore oxygen as one more differential equation a cell instead of an algebraic
// one with its storage beside it. Both see the same events through the same PileRun.

#include "models/pile_run.hpp"
#include "tests/models/pile_fixture.hpp"

#include <cvode/cvode.h>
#include <gtest/gtest.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_spgmr.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <exception>
#include <functional>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::models {
namespace {

constexpr int hours_of_sixty_days = 60 * 24;

/// Takes a PileRun through its hours with CVODE. It starts anew when an event changed the state or
/// the rain jumps; else it goes on with its history.
class CvodeHours {
public:
  /// `relative` tolerance; the absolute ones are a ten-thousandth of what a forecast allows per
  /// step and 1e-8 in oxygen, both scaled with `relative` over 1e-9.
  explicit CvodeHours(double relative) : relative_(relative) {
    check(SUNContext_Create(nullptr, &context_), "SUNContext_Create");
  }
  ~CvodeHours() {
    SUNLinSolFree(solver_);
    CVodeFree(&memory_);
    N_VDestroy(y_);
    N_VDestroy(allowed_);
    SUNContext_Free(&context_);
  }
  CvodeHours(const CvodeHours&) = delete;
  CvodeHours& operator=(const CvodeHours&) = delete;

  void operator()(PileSystem& system, std::vector<double>& y, double t_s, double t_end_s) {
    system_ = &system;
    const std::vector<double>& oxygen = system.workspace().oxygen_before;
    std::vector<double> now = y;
    now.insert(now.end(), oxygen.begin(), oxygen.end());
    if (memory_ == nullptr) {
      create(y.size(), oxygen.size(), t_s);
    }
    if (now != last_ || system.jumps_at(t_s)) {
      restart(now, t_s);
    }
    check(CVodeSetStopTime(memory_, t_end_s), "CVodeSetStopTime");
    double reached_s = t_s;
    check(CVode(memory_, t_end_s, y_, &reached_s, CV_NORMAL), "CVode");
    const double* end = N_VGetArrayPointer(y_);
    std::copy(end, end + states_, y.begin());
    std::vector<double> rates(states_ + cells_);
    evaluate(t_end_s, end, rates.data());
    system.end_step(t_end_s, y);
    last_.assign(end, end + states_);
    last_.insert(last_.end(), oxygen.begin(), oxygen.end());
  }

private:
  static void check(int flag, const char* what) {
    if (flag < 0) {
      throw std::runtime_error(std::string(what) + " gave " + std::to_string(flag));
    }
  }

  void evaluate(double t_s, const double* y, double* rates) {
    system_->rates_with_oxygen(t_s, {y, states_}, {y + states_, cells_}, {rates, states_},
                               {rates + states_, cells_});
  }

  static int rates(double t_s, N_Vector y, N_Vector dydt, void* self) {
    try {
      static_cast<CvodeHours*>(self)->evaluate(t_s, N_VGetArrayPointer(y),
                                               N_VGetArrayPointer(dydt));
      return 0;
    } catch (const std::exception&) {
      return 1; // asks for a smaller step
    }
  }

  void create(std::size_t states, std::size_t cells, double t_s) {
    states_ = states;
    cells_ = cells;
    const auto size = static_cast<sunindextype>(states + cells);
    y_ = N_VNew_Serial(size, context_);
    allowed_ = N_VNew_Serial(size, context_);
    memory_ = CVodeCreate(CV_BDF, context_);
    check(CVodeInit(memory_, &CvodeHours::rates, t_s, y_), "CVodeInit");
    check(CVodeSetUserData(memory_, this), "CVodeSetUserData");
    check(CVodeSetMaxNumSteps(memory_, 1'000'000), "CVodeSetMaxNumSteps");
    constexpr int krylov_vectors = 20;
    solver_ = SUNLinSol_SPGMR(y_, SUN_PREC_NONE, krylov_vectors, context_);
    check(CVodeSetLinearSolver(memory_, solver_, nullptr), "CVodeSetLinearSolver");
  }

  void restart(const std::vector<double>& now, double t_s) {
    std::copy(now.begin(), now.end(), N_VGetArrayPointer(y_));
    const double tightness = relative_ / 1e-9;
    const std::span<const double> scale = system_->error_scale({now.data(), states_});
    double* allowed = N_VGetArrayPointer(allowed_);
    constexpr double never = 1e30; // totals that feed nothing back
    std::transform(scale.begin(), scale.end(), allowed,
                   [&](double s) { return std::isinf(s) ? never : tightness * 1e-4 * s; });
    std::fill(allowed + states_, allowed + states_ + cells_, tightness * 1e-8);
    check(CVodeReInit(memory_, t_s, y_), "CVodeReInit");
    check(CVodeSVtolerances(memory_, relative_, allowed_), "CVodeSVtolerances");
  }

  double relative_;
  SUNContext context_ = nullptr;
  void* memory_ = nullptr;
  N_Vector y_ = nullptr, allowed_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
  PileSystem* system_ = nullptr;
  std::size_t states_ = 0, cells_ = 0;
  std::vector<double> last_; ///< as the last hour left it
};

struct Largest {
  double value = 0.0;
  int hour = 0;
  void see(double difference, int at) {
    if (!(std::abs(difference) <= std::abs(value))) {
      value = difference;
      hour = at;
    }
  }
};

struct Comparison {
  Largest core_K, any_cell_K, carbon, water; ///< the latter two relative
  std::string curve;                         ///< "hour first second;" of the cores in K, each 6 h
};

/// Runs both hour by hour. `second` advances the run that the first is compared with.
Comparison compare(const PileDescription& pile, int hours, PileRun& first, PileRun& second,
                   const std::function<void(PileRun&)>& advance_first,
                   const std::function<void(PileRun&)>& advance_second) {
  const auto carbon = [](const PileRun& run) {
    double sum = 0.0;
    for (const CellField f : {CellField::fast, CellField::medium, CellField::slow,
                              CellField::resistant, CellField::humus, CellField::biomass}) {
      sum += run.state().sum(f);
    }
    return sum;
  };
  EXPECT_GE(24.0 * pile.horizon_days, hours); // the weather lasts
  Comparison c;
  for (int hour = 1; hour <= hours; ++hour) {
    first.do_events();
    advance_first(first);
    second.do_events();
    advance_second(second);
    c.core_K.see(first.readings().core_temperature_K - second.readings().core_temperature_K, hour);
    const std::vector<double>& t = first.system().workspace().temperature_K;
    for (std::size_t i = 0; i < t.size(); ++i) {
      c.any_cell_K.see(t[i] - second.system().workspace().temperature_K[i], hour);
    }
    c.carbon.see(carbon(first) / carbon(second) - 1.0, hour);
    c.water.see(first.state().sum(CellField::water) / second.state().sum(CellField::water) - 1.0,
                hour);
    if (hour % 6 == 0) {
      c.curve += std::to_string(hour) + " " + std::to_string(first.readings().core_temperature_K) +
                 " " + std::to_string(second.readings().core_temperature_K) + ";";
    }
  }
  return c;
}

/// For reports: what was compared, in the test's results file.
void record(const std::string& name, std::size_t cells, const Comparison& c) {
  const auto text = [](const Largest& l) {
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.6e at %d", l.value, l.hour);
    return std::string(buffer.data());
  };
  testing::Test::RecordProperty("pile " + name, "cells " + std::to_string(cells) + "|core_K " +
                                                    text(c.core_K) + "|any_cell_K " +
                                                    text(c.any_cell_K) + "|carbon " +
                                                    text(c.carbon) + "|water " + text(c.water));
  testing::Test::RecordProperty("curve " + name, c.curve);
}

void print(const std::string& name, const Comparison& c) {
  std::printf("%-28s core %+.4f K at hour %d, any cell %+.3f K at %d, carbon %+.1e at %d, water "
              "%+.1e at %d\n",
              name.c_str(), c.core_K.value, c.core_K.hour, c.any_cell_K.value, c.any_cell_K.hour,
              c.carbon.value, c.carbon.hour, c.water.value, c.water.hour);
}

/// Nothing is done to them.
std::vector<std::pair<std::string, PileDescription>> untended_piles() {
  constexpr double days = 60.0;
  const tests::Climate showery{.shower_kg_m2_h = 2.0};
  return {{"one cell, untouched", tests::lumped_heap(days, showery)},
          {"windrow, untouched", tests::windrow(days, showery)},
          {"slatted bin, untouched", tests::slatted_bin(days, showery)}};
}

std::vector<std::pair<std::string, PileDescription>> tended_piles() {
  constexpr double days = 60.0;
  const tests::Climate showery{.shower_kg_m2_h = 2.0};
  std::vector<std::pair<std::string, PileDescription>> all;
  {
    PileDescription p = tests::lumped_heap(days, showery);
    p.turning = tests::turning(TurnMethod::loader, 7.0, 7.0);
    all.emplace_back("one cell, turned", p);
  }
  {
    PileDescription p = tests::mild_heap(days, showery);
    p.turning = tests::turning(TurnMethod::fork, 7.0, 7.0);
    p.turning->water_to_moisture = 0.62;
    all.emplace_back("heap, forked and watered", p);
  }
  {
    PileDescription p = tests::slatted_bin(days, showery);
    p.additions = {tests::weekly_addition()};
    p.turning = tests::turning(TurnMethod::fork, 14.0, 14.0);
    all.emplace_back("slatted bin, fed weekly", p);
  }
  {
    PileDescription p = tests::windrow(days);
    p.ingredients = {tests::ingredient(tests::grass(), 5000.0),
                     tests::ingredient(tests::horse_manure(), 6000.0),
                     tests::ingredient(tests::straw(), 400.0)};
    p.turning = tests::turning(TurnMethod::windrow_turner, 3.0, 3.0);
    all.emplace_back("wet windrow, turned often", p);
  }
  {
    PileDescription p =
        tests::mild_heap(days, {.mean_C = -2.0, .slow_swing_K = 8.0, .shower_kg_m2_h = 1.0});
    p.build_temperature_K = freezing_K + 10.0;
    p.turning = tests::turning(TurnMethod::loader, 14.0, 14.0);
    all.emplace_back("heap in frost and snow", p);
  }
  return all;
}

/// Sixty days by both; the core within a tenth of a kelvin.
void expect_agreement(const std::vector<std::pair<std::string, PileDescription>>& piles) {
  for (const auto& [name, pile] : piles) {
    PileRun run(pile);
    PileRun reference(pile);
    CvodeHours cvode(1e-9);
    const Comparison c = compare(
        pile, hours_of_sixty_days, run, reference, [](PileRun& r) { r.advance_hour(); },
        [&](PileRun& r) { r.advance_hour(std::ref(cvode)); });
    print(name, c);
    record(name, run.site().mesh.cells(), c);
    // The promise of a forecast's step control: a thousandth of what each quantity goes through,
    // some 50 K here, is half of this; carbon and water go through a fifth of their amount.
    EXPECT_LE(std::abs(c.core_K.value), 0.1) << name;
    EXPECT_LE(std::abs(c.carbon.value), 2e-4) << name;
    EXPECT_LE(std::abs(c.water.value), 2e-4) << name;
  }
}

TEST(PileCvode, CoreStaysWithinATenthOfAKelvinForSixtyDays) {
  expect_agreement(tended_piles());
}

TEST(PileCvode, CoreStaysWithinATenthOfAKelvinForSixtyDaysUntouched) {
  expect_agreement(untended_piles());
}

TEST(PileCvode, ItselfHardlyMovesWithATighterTolerance) {
  // Else it would be no reference.
  PileDescription pile = tests::windrow(6.0, {.shower_kg_m2_h = 2.0});
  pile.turning = tests::turning(TurnMethod::windrow_turner, 3.0, 3.0);
  PileRun loose(pile);
  PileRun tight(pile);
  CvodeHours at_1e9(1e-9);
  CvodeHours at_1e10(1e-10);
  const Comparison c = compare(
      pile, 6 * 24, loose, tight, [&](PileRun& r) { r.advance_hour(std::ref(at_1e9)); },
      [&](PileRun& r) { r.advance_hour(std::ref(at_1e10)); });
  print("CVODE at 1e-9 and at 1e-10", c);
  record("CVODE at 1e-9 and at 1e-10", loose.site().mesh.cells(), c);
  EXPECT_LE(std::abs(c.core_K.value), 1e-3);
  EXPECT_LE(std::abs(c.carbon.value), 1e-6);
  EXPECT_LE(std::abs(c.water.value), 1e-6);
}

} // namespace
} // namespace heapcast::models
