#include "models/hygiene/hygiene_watch.hpp"

#include "models/operations/build.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gmock/gmock.h>

#include <cmath>

namespace heapcast::models {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

const Scalar& scalar(const ForecastResult& result, const std::string& name) {
  const Scalar* found = result.find_scalar(name);
  if (found == nullptr) {
    throw std::invalid_argument("no number " + name);
  }
  return *found;
}

const Scalar& met_day(const ForecastResult& result, const std::string& rule) {
  return scalar(result, "hygiene_met_day_" + rule);
}

const Scalar& share(const ForecastResult& result, const std::string& rule) {
  return scalar(result, "hygiene_volume_share_" + rule);
}

/// The obvious slow way to a clock: hours of a curve with both ends at the limit or above, counted
/// until enough follow each other. NaN when they never do.
double day_of_unbroken(const Series& curve, double degC, double hours) {
  double run = 0.0;
  for (std::size_t i = 1; i < curve.values.size(); ++i) {
    run = std::min(curve.values[i - 1], curve.values[i]) >= degC ? run + 1.0 : 0.0;
    if (run >= hours) {
      return static_cast<double>(i) / 24.0;
    }
  }
  return unset;
}

TEST(HygieneWatch, ANeverTurnedHeapMeetsAStaticPilesRuleWhenItsThermometerSays) {
  PileDescription pile = tests::mild_heap(20.0);
  pile.probes = {{"Deep one", 0.5}};
  const ForecastResult result = run_forecast(pile);
  const Series* curve = result.find_series("temperature_at_deep_one");
  ASSERT_NE(curve, nullptr);
  const double expected = day_of_unbroken(*curve, 55.0, 72.0);
  ASSERT_TRUE(std::isfinite(expected));
  // hours are summed without loss, days are hours over 24
  EXPECT_NEAR(met_day(result, "us503_pfrp_vessel").value, expected, 1e-9);
  EXPECT_EQ(met_day(result, "us503_pfrp_vessel").reason, "");
  // Its skin never is so hot.
  EXPECT_GT(share(result, "us503_pfrp_vessel").value, 0.1);
  EXPECT_LT(share(result, "us503_pfrp_vessel").value, 0.95);
}

TEST(HygieneWatch, ATurnedWindrowMeetsAWindrowsRule) {
  PileDescription pile = tests::windrow(45.0);
  pile.shape.height_m = 1.8; // of usual size: smaller ones cool before the fifteenth day
  for (Ingredient& i : pile.ingredients) {
    i.wet_mass_kg *= 3.0;
  }
  pile.turning = tests::turning(TurnMethod::windrow_turner, 3.0, 3.0);
  const ForecastResult result = run_forecast(pile);
  const Scalar& met = met_day(result, "us503_pfrp_windrow");
  // Not before 15 hot days, which begin after the first day.
  EXPECT_GT(met.value, 15.0) << met.reason;
  EXPECT_LT(met.value, 45.0);
  EXPECT_EQ(met.reason, "");
  EXPECT_GT(share(result, "us503_pfrp_windrow").value, 0.0);
}

TEST(HygieneWatch, EveryProbeMustMeetARule) {
  PileDescription pile = tests::mild_heap(20.0);
  pile.probes = {{"inside", 0.5}, {"skin", 0.01}};
  const ForecastResult result = run_forecast(pile);
  EXPECT_TRUE(std::isnan(met_day(result, "us503_pfrp_vessel").value));
  EXPECT_THAT(met_day(result, "us503_pfrp_vessel").reason, StartsWith("skin: "));
  EXPECT_THAT(met_day(result, "us503_pfrp_vessel").reason, HasSubstr("never at 55 degC or more"));
}

TEST(HygieneWatch, SaysWhenARuleIsAboutOtherPiles) {
  PileDescription turned = tests::windrow(2.0);
  turned.turning = tests::turning(TurnMethod::loader, 3.0, 3.0);
  const ForecastResult windrow = run_forecast(turned);
  const ForecastResult still = run_forecast(tests::windrow(2.0));
  const ForecastResult bin = run_forecast(tests::slatted_bin(2.0));
  for (const Scalar* one :
       {&met_day(windrow, "us503_pfrp_vessel"), &share(windrow, "us503_pfrp_vessel"),
        &met_day(windrow, "abp"), &met_day(still, "us503_pfrp_windrow"),
        &share(bin, "us503_pfrp_windrow")}) {
    EXPECT_TRUE(std::isnan(one->value)) << one->name;
  }
  EXPECT_EQ(met_day(windrow, "us503_pfrp_vessel").reason,
            "a rule for vessels and static piles: this pile stands free and is turned");
  EXPECT_EQ(met_day(windrow, "abp").reason, "a rule for closed vessels: this pile stands free");
  EXPECT_EQ(met_day(still, "us503_pfrp_windrow").reason,
            "a rule for turned windrows: this pile is never turned");
  EXPECT_EQ(share(bin, "us503_pfrp_windrow").reason,
            "a rule for turned windrows: this pile stands in a bin");
  // A rule for these piles says what is missing instead.
  EXPECT_THAT(met_day(windrow, "us503_pfrp_windrow").reason, StartsWith("core: "));
  EXPECT_THAT(met_day(still, "us503_pfrp_vessel").reason, StartsWith("core: "));
  EXPECT_THAT(met_day(bin, "abp").reason, HasSubstr("particles are up to 50 mm"));
  EXPECT_EQ(share(bin, "abp").value, 0.0);
}

TEST(HygieneWatch, EveryRuleHasItsNumbersAndNoneReadsAsACertificate) {
  const ForecastResult result = run_forecast(tests::lumped_heap(3.0));
  for (const HygieneRule& rule : hygiene_rules()) {
    const std::string key(rule.key);
    for (const Scalar* one : {&met_day(result, key), &share(result, key)}) {
      EXPECT_THAT(one->long_name, HasSubstr("measure, and follow local rules")) << one->name;
      EXPECT_EQ(std::isnan(one->value), !one->reason.empty()) << one->name;
    }
    EXPECT_EQ(met_day(result, key).unit, "day");
  }
}

TEST(HygieneWatch, ProbesHaveCurvesAsLongAsTheRecord) {
  PileDescription pile = tests::slatted_bin(4.0);
  pile.output_hours = 6.0;
  pile.probes = {{"Top, north", 0.1}, {"top north", 0.3}};
  const ForecastResult result = run_forecast(pile);
  ASSERT_EQ(result.time_h.size(), 17U); // 96 hours in sixes, and the beginning
  for (const char* name : {"temperature_at_top_north", "temperature_at_top_north_"}) {
    const Series* curve = result.find_series(name);
    ASSERT_NE(curve, nullptr) << name;
    EXPECT_EQ(curve->values.size(), result.time_h.size());
    EXPECT_EQ(curve->unit, "degC");
    EXPECT_NEAR(curve->values.front(), 15.0, 1e-6); // built at the air's 15 °C
    EXPECT_GT(curve->values.back(), 20.0);
  }
}

TEST(HygieneWatch, AddedMaterialBeginsAgain) {
  PileDescription pile = tests::mild_heap(12.0);
  const double before = met_day(run_forecast(pile), "us503_eq1").value;
  ASSERT_LT(before, 9.0);
  Addition addition = tests::weekly_addition();
  addition.schedule.from_day = 9.0;
  pile.additions = {addition};
  const ForecastResult added = run_forecast(pile);
  const Scalar& met = met_day(added, "us503_eq1");
  EXPECT_TRUE(std::isnan(met.value) || met.value > 9.0) << met.value;
  EXPECT_THAT(met_day(added, "us503_pfrp_vessel").reason,
              HasSubstr("counted from day 9, when material was last added"));
}

TEST(HygieneWatch, ARuleThatIsNotInTheTableIsNeverMet) {
  const PileDescription pile = tests::lumped_heap(1.0);
  const PileSite site(pile, build_mesh(complete_shape(pile.shape, 2.0), 2.0, pile.resolution));
  const HygieneWatch watch(pile, site);
  EXPECT_TRUE(std::isnan(watch.met_day("")));
  EXPECT_TRUE(std::isnan(watch.met_day("no_such_rule")));
  EXPECT_TRUE(std::isnan(watch.met_day("us503_pfrp_windrow")));
}

} // namespace
} // namespace heapcast::models
