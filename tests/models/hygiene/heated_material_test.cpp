#include "models/hygiene/heated_material.hpp"

#include "models/pile_run.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

namespace heapcast::models {
namespace {

/// So many hours at one temperature in one cell.
void pass(HeatedMaterial& material, double degC, int hours, double& share) {
  const std::vector<double> at = {freezing_K + degC};
  for (int hour = 0; hour < hours; ++hour) {
    material.hour(at, at, {&share, 1});
  }
}

TEST(HeatedMaterial, ThreeDaysInARowMakeIt) {
  HeatedMaterial material(1);
  double share = 0.25; // was heated before it came here
  pass(material, 55.0, 71, share);
  EXPECT_EQ(share, 0.25);
  pass(material, 54.9, 1, share);
  pass(material, 60.0, 71, share);
  EXPECT_EQ(share, 0.25) << "a cool hour begins the count again";
  pass(material, 60.0, 1, share);
  EXPECT_EQ(share, 1.0);
  pass(material, 10.0, 500, share);
  EXPECT_EQ(share, 1.0) << "what was heated stays so";
}

TEST(HeatedMaterial, TheHourThatWarmsUpDoesNotCount) {
  HeatedMaterial material(1);
  const std::vector<double> before = {freezing_K + 54.0};
  const std::vector<double> after = {freezing_K + 56.0};
  double share = 0.0;
  material.hour(before, after, {&share, 1});
  pass(material, 56.0, 71, share);
  EXPECT_EQ(share, 0.0);
  pass(material, 56.0, 1, share);
  EXPECT_EQ(share, 1.0);
}

TEST(HeatedMaterial, MovingBeginsTheCountAgain) {
  HeatedMaterial material(1);
  double share = 0.0;
  pass(material, 60.0, 71, share);
  material.moved();
  pass(material, 60.0, 71, share);
  EXPECT_EQ(share, 0.0);
}

double heated_fraction(const PileDescription& pile) {
  return run_forecast(pile).find_scalar("heated_fraction")->value;
}

TEST(HeatedFraction, TurningBringsTheSkinToTheHeat) {
  PileDescription pile = tests::windrow(30.0);
  for (Ingredient& i : pile.ingredients) {
    i.wet_mass_kg *= 3.0;
  }
  pile.shape.height_m = 1.8;
  const double still = heated_fraction(pile);
  pile.turning = tests::turning(TurnMethod::windrow_turner, 6.0, 6.0);
  const double turned = heated_fraction(pile);
  pile.turning = tests::turning(TurnMethod::windrow_turner, 2.0, 2.0);
  EXPECT_GT(still, 0.2);
  EXPECT_LT(still, 0.95); // never the skin
  EXPECT_GT(turned, still);
  EXPECT_LE(turned, 1.0 + 1e-12);
  // Nothing lies still for three days.
  EXPECT_EQ(heated_fraction(pile), 0.0);
}

TEST(HeatedFraction, CountsWhatThePicturesShowWhereNothingMoves) {
  PileDescription pile = tests::mild_heap(12.0);
  pile.field_output_hours = 1.0;
  PileRun run(pile);
  while (run.day() < pile.horizon_days - 1e-9) {
    run.do_events();
    run.advance_hour();
  }
  const std::span<const double> heated = run.state().of_cells(CellField::heated);
  const std::vector<double> shares(heated.begin(), heated.end());
  const std::vector<double> dry = run.system().workspace().dry_kg;
  const ForecastResult result = run.finish();
  const auto temperature = std::ranges::find(result.fields, "temperature", &Field::name);
  double hot_kg = 0.0;
  double all_kg = 0.0;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    int row = -1; // hours between records
    int longest = 0;
    for (std::size_t t = 0; t < result.field_time_h.size(); ++t) {
      row = temperature->values[t * shares.size() + i] >= 55.0 ? row + 1 : -1;
      longest = std::max(longest, row);
    }
    EXPECT_EQ(shares[i], longest >= 72 ? 1.0 : 0.0) << i;
    hot_kg += shares[i] * dry[i];
    all_kg += dry[i];
  }
  EXPECT_GT(hot_kg, 0.0);
  EXPECT_LT(hot_kg, all_kg);
  const double share = result.find_scalar("heated_fraction")->value;
  EXPECT_NEAR(share, hot_kg / all_kg, 1e-12); // sums of some dozen terms
  EXPECT_EQ(result.find_series("heated_share")->values.back(), 100.0 * share);
}

} // namespace
} // namespace heapcast::models
