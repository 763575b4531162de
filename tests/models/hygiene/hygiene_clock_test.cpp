#include "models/hygiene/hygiene_clock.hpp"

#include "models/properties/moist_air.hpp"

#include <gmock/gmock.h>

#include <cmath>
#include <set>

namespace heapcast::models {
namespace {

using testing::HasSubstr;

constexpr MixFacts fine_mix{.carbon_nitrogen_ratio = 30.0, .largest_particle_m = 0.01};
constexpr double rounding_h = 1e-8; ///< sums of hours, and the clock's own slack of 1e-9

/// A thermometer log: stretches at one temperature and turns.
class Log {
public:
  explicit Log(const char* key, MixFacts mix = fine_mix) : clock_(*find_hygiene_rule(key), mix) {}
  Log& hours(double hours, double degC, double moisture = 0.55) {
    clock_.pass({.hours = hours,
                 .lowest_degC = degC,
                 .highest_degC = degC,
                 .mean_degC = degC,
                 .moisture_wet_basis = moisture});
    last_degC_ = degC;
    return *this;
  }
  Log& days(double days, double degC, double moisture = 0.55) {
    return hours(24.0 * days, degC, moisture);
  }
  /// A turn that finds what was read last.
  Log& turn() { return turn_at(last_degC_); }
  Log& turn_at(double degC) {
    clock_.turn(degC);
    return *this;
  }
  /// Turns after as many days each, at one temperature.
  Log& turned(int times, double days_between, double degC) {
    for (int i = 0; i < times; ++i) {
      days(days_between, degC).turn();
    }
    return *this;
  }
  Log& begin_again() {
    clock_.begin_again();
    return *this;
  }
  [[nodiscard]] bool met() const { return clock_.met(); }
  [[nodiscard]] double day() const { return clock_.met_hour() / 24.0; }
  [[nodiscard]] std::string missing() const { return clock_.missing(); }

private:
  HygieneClock clock_;
  double last_degC_ = 0.0;
};

TEST(HygieneRules, HaveKeysOfTheirOwnAndSayWhatTheyAsk) {
  std::set<std::string_view> keys;
  for (const HygieneRule& rule : hygiene_rules()) {
    EXPECT_TRUE(keys.insert(rule.key).second) << rule.key;
    EXPECT_FALSE(rule.title.empty() || rule.asks.empty() || rule.source.empty()) << rule.key;
    EXPECT_TRUE(rule.provenance == "read" || rule.provenance == "memory") << rule.key;
    EXPECT_NE(rule.profiles[0].hours > 0.0, rule.line.hours > 0.0) << rule.key;
    EXPECT_EQ(find_hygiene_rule(rule.key), &rule);
  }
  EXPECT_EQ(find_hygiene_rule("no_such_rule"), nullptr);
  EXPECT_EQ(find_hygiene_rule(""), nullptr);
}

TEST(HygieneClock, IsMetAtTheMomentWithinALongStretch) {
  EXPECT_NEAR(Log("us503_pfrp_vessel").days(1.5, 20.0).days(30.0, 60.0).day(), 1.5 + 3.0,
              rounding_h);
}

TEST(HygieneClock, CountsTheLimitItselfAndItsRoundingFromKelvin) {
  EXPECT_TRUE(Log("us503_pfrp_vessel").days(3.0, 55.0).met());
  EXPECT_TRUE(Log("us503_pfrp_vessel").days(3.0, (freezing_K + 55.0) - freezing_K).met());
  EXPECT_FALSE(Log("us503_pfrp_vessel").days(30.0, 54.999).met());
  EXPECT_FALSE(Log("us503_pfrp_vessel").hours(71.99, 55.0).met());
}

TEST(HygieneClock, CountsManyShortStretchesLikeALongOne) {
  Log log("us503_pfrp_vessel");
  for (int i = 0; i < 720; ++i) {
    log.hours(0.1, 55.0);
  }
  EXPECT_NEAR(log.day(), 3.0, rounding_h);
}

TEST(HygieneClock, ABreakStartsWhatIsMaintainedAgain) {
  EXPECT_FALSE(Log("us503_pfrp_vessel").hours(71.0, 60.0).hours(1.0, 54.9).hours(71.0, 60.0).met());
  EXPECT_NEAR(Log("us503_pfrp_vessel").days(2.0, 60.0).hours(24.0, 54.9).days(4.0, 60.0).day(),
              2.0 + 1.0 + 3.0, rounding_h);
}

TEST(HygieneClock, AStretchThatCrossesTheLimitDoesNotCount) {
  HygieneClock clock(*find_hygiene_rule("us503_pfrp_vessel"), fine_mix);
  clock.pass({.hours = 100.0,
              .lowest_degC = 54.0,
              .highest_degC = 70.0,
              .mean_degC = 65.0,
              .moisture_wet_basis = 0.5});
  EXPECT_FALSE(clock.met());
}

TEST(HygieneClock, AWindrowNeedsItsTurnsInsideTheHotPeriod) {
  // Turns on days 2, 5, 8, 11, 14 of 15 hot ones.
  const auto four = [] { return Log("us503_pfrp_windrow").days(2.0, 57.0).turn(); };
  EXPECT_NEAR(four().turned(4, 3.0, 57.0).days(1.0, 57.0).day(), 15.0, rounding_h);
  EXPECT_FALSE(four().turned(3, 3.0, 57.0).days(4.0, 57.0).met());
  // The fifth before it was hot, or after it had cooled.
  EXPECT_FALSE(
      Log("us503_pfrp_windrow").days(2.0, 50.0).turn().turned(4, 3.0, 57.0).days(3.0, 57.0).met());
  EXPECT_FALSE(four().turned(3, 3.0, 57.0).days(4.0, 57.0).days(1.0, 50.0).turn().met());
  // At the beginning, before a first hot hour, though the probe is at 57 by then.
  EXPECT_FALSE(Log("us503_pfrp_windrow").turn_at(57.0).turned(4, 3.0, 57.0).days(3.0, 57.0).met());
}

TEST(HygieneClock, LateTurnsMakeALongerHotPeriodCount) {
  EXPECT_NEAR(Log("us503_pfrp_windrow").turned(5, 4.0, 57.0).day(), 20.0, rounding_h);
}

TEST(HygieneClock, CoolingByATurnNeitherCountsNorBreaks) {
  const auto dipped = [](double hours) {
    Log log("us503_pfrp_windrow");
    log.turned(5, 2.0, 60.0);
    return log.hours(hours, 45.0).days(5.0, 60.0);
  };
  EXPECT_NEAR(dipped(24.0).day(), 10.0 + 1.0 + 5.0, rounding_h);
  EXPECT_FALSE(dipped(24.1).met());
}

TEST(HygieneClock, CoolingWithoutATurnBreaksAWindrowsStretch) {
  Log log("us503_pfrp_windrow");
  log.turned(5, 2.0, 60.0).days(2.0, 60.0).hours(1.0, 54.0).days(5.0, 60.0);
  EXPECT_FALSE(log.met());
}

TEST(HygieneClock, TurningAColdPileDoesNotProlongItsRecovery) {
  Log log("us503_pfrp_windrow");
  log.turned(5, 2.0, 60.0).hours(20.0, 45.0).turn().hours(20.0, 45.0).days(5.0, 60.0);
  EXPECT_FALSE(log.met());
}

TEST(HygieneClock, ATurnForgivesNoCoolingWhereTheRuleAsksForAVessel) {
  EXPECT_FALSE(
      Log("us503_pfrp_vessel").days(2.0, 60.0).turn().hours(1.0, 50.0).days(2.0, 60.0).met());
}

TEST(HygieneClock, TurnsTooCloseTogetherCountOnce) {
  const auto turned_on = [](const std::vector<double>& days) {
    Log log("uk_windrow60");
    double now = 0.0;
    for (const double day : days) {
      log.days(day - now, 60.0).turn();
      now = day;
    }
    return log.days(8.0 - now, 60.0).met();
  };
  EXPECT_TRUE(turned_on({2.0, 4.0, 6.0}));
  EXPECT_FALSE(turned_on({2.0, 3.0, 4.0}));
  EXPECT_FALSE(turned_on({2.0, 4.0, 5.9}));
  EXPECT_TRUE(turned_on({2.0, 3.0, 4.0, 6.0})); // three of them are two days apart
}

TEST(HygieneClock, TheMixMustFit) {
  const auto ratio = [](const char* key, double value) {
    return Log(key, {.carbon_nitrogen_ratio = value, .largest_particle_m = 0.01})
        .turned(5, 3.0, 60.0)
        .days(1.0, 60.0)
        .met();
  };
  for (const char* key : {"nop_vessel", "nop_windrow"}) {
    EXPECT_FALSE(ratio(key, 24.0));
    EXPECT_TRUE(ratio(key, 25.0));
    EXPECT_TRUE(ratio(key, 40.0));
    EXPECT_FALSE(ratio(key, 41.0));
    EXPECT_FALSE(ratio(key, unset));
  }
  const auto length = [](const char* key, double metres) {
    return Log(key, {.carbon_nitrogen_ratio = 30.0, .largest_particle_m = metres})
        .days(9.0, 75.0)
        .met();
  };
  EXPECT_TRUE(length("abp", 0.012));
  EXPECT_FALSE(length("abp", 0.0121));
  EXPECT_FALSE(length("de_pasteurisation", 0.013));
  EXPECT_FALSE(length("uk_closed70", 0.061));
  EXPECT_FALSE(length("uk_closed60", 0.41));
  EXPECT_FALSE(length("efsa_alt_55", 0.21));
  EXPECT_FALSE(length("abp", unset));
}

TEST(HygieneClock, TooHotIsOutsideANopPilesRange) {
  const double degC_170F = (170.0 - 32.0) * 5.0 / 9.0;
  EXPECT_TRUE(Log("nop_vessel").days(3.0, degC_170F).met());
  EXPECT_FALSE(Log("nop_vessel").days(3.0, 76.7).met());
  EXPECT_FALSE(Log("nop_vessel").days(2.0, 70.0).hours(1.0, 77.0).days(2.0, 70.0).met());
  // a turn is no excuse for it
  EXPECT_FALSE(Log("nop_windrow").turned(5, 2.0, 70.0).hours(1.0, 77.0).days(5.0, 70.0).met());
}

TEST(HygieneClock, DryTimeDoesNotCount) {
  EXPECT_TRUE(Log("de_bioabfv").days(6.0, 60.0, 0.40).met());
  EXPECT_FALSE(Log("de_bioabfv").days(6.0, 60.0, 0.39).met());
  EXPECT_FALSE(Log("de_bioabfv").days(5.0, 60.0, 0.45).days(1.0, 60.0, 0.39).met());
}

TEST(HygieneClock, AnyOneProfileIsEnough) {
  EXPECT_NEAR(Log("eu1009_cmc3").days(20.0, 55.0).day(), 14.0, rounding_h);
  EXPECT_NEAR(Log("eu1009_cmc3").days(20.0, 60.0).day(), 7.0, rounding_h);
  EXPECT_NEAR(Log("eu1009_cmc3").days(20.0, 65.0).day(), 5.0, rounding_h);
  EXPECT_NEAR(Log("eu1009_cmc3").days(20.0, 70.0).day(), 3.0, rounding_h);
  EXPECT_FALSE(Log("eu1009_cmc3").days(13.9, 55.0).met());
  // The cooler profile runs on while the hotter one is broken: 4 + 4 + 6 days above 55.
  EXPECT_NEAR(Log("eu1009_cmc3").days(4.0, 66.0).days(4.0, 56.0).days(9.0, 59.0).day(), 14.0,
              rounding_h);
}

TEST(HygieneClock, AnAverageMustBeAboveItsLimit) {
  EXPECT_TRUE(Log("us503_var5").days(7.0, 44.0).days(7.0, 46.1).met());
  EXPECT_FALSE(Log("us503_var5").days(7.0, 44.0).days(7.0, 46.0).met());
  EXPECT_FALSE(Log("us503_var5").days(14.0, 45.0).met());
  EXPECT_FALSE(Log("us503_var5").days(7.0, 60.0).hours(1.0, 40.0).days(7.0, 60.0).met());
  // Hot first: on day 14 the average is (10 x 50 + 4 x 41) / 14 = 47.4 °C; it falls later.
  EXPECT_NEAR(Log("us503_var5").days(10.0, 50.0).days(100.0, 41.0).day(), 14.0, rounding_h);
  // Cool first: 14 days lack 4 K each; 5 K more than asked make up for it in 11.2 days.
  EXPECT_NEAR(Log("us503_var5").days(14.0, 41.0).days(30.0, 50.0).day(), 14.0 + 11.2, rounding_h);
}

TEST(HygieneClock, TheHotterHoursOfPsrpLieWithinFiveDays) {
  const auto log = [] { return Log("us503_psrp"); };
  EXPECT_NEAR(log().days(6.0, 41.0).hours(5.0, 56.0).day(), 6.0 + 4.0 / 24.0, rounding_h);
  EXPECT_NEAR(log().hours(2.0, 56.0).days(4.0, 41.0).hours(2.0, 56.0).days(2.0, 41.0).day(), 5.0,
              rounding_h);
  EXPECT_FALSE(log().hours(2.0, 56.0).days(6.0, 41.0).hours(2.0, 56.0).days(2.0, 41.0).met());
  // The second and third two hours are near enough.
  EXPECT_NEAR(log()
                  .hours(2.0, 56.0)
                  .days(6.0, 41.0)
                  .hours(2.0, 56.0)
                  .days(1.0, 41.0)
                  .hours(2.0, 56.0)
                  .day(),
              7.0 + 6.0 / 24.0, rounding_h);
  // Hotter hours before a break are not in these days.
  EXPECT_FALSE(log().hours(3.0, 56.0).hours(1.0, 39.0).hours(3.0, 56.0).days(6.0, 41.0).met());
  EXPECT_FALSE(log().days(4.0, 41.0).hours(23.0, 41.0).hours(4.0, 55.0).met());
}

TEST(HygieneClock, AnHourWithoutInterruptionIsOneHour) {
  EXPECT_TRUE(Log("abp").hours(0.5, 70.0).hours(0.5, 71.0).met());
  EXPECT_FALSE(Log("abp").hours(0.5, 70.0).hours(0.1, 69.9).hours(0.5, 70.0).met());
}

TEST(HygieneClock, PasHoursNeedNotBeConsecutive) {
  const auto cycle = [](Log& log) { log.days(3.5, 66.0).turn().days(3.0, 40.0); };
  Log log("pas100");
  cycle(log);
  log.days(2.0, 66.0, 0.49); // too dry to count
  EXPECT_FALSE(log.met());
  cycle(log); // the second turn is the last thing missing
  EXPECT_NEAR(log.day(), 6.5 + 2.0 + 3.5, rounding_h);
  Log unturned("pas100");
  EXPECT_FALSE(unturned.days(20.0, 66.0).met());
}

TEST(HygieneClock, AustralianTurnsComeAfterThreeDaysEach) {
  EXPECT_NEAR(Log("as4454").turned(3, 3.0, 56.0).day(), 9.0, rounding_h);
  EXPECT_FALSE(Log("as4454").turned(5, 2.9, 56.0).met());
  // Cold spells between make it later, not void.
  Log log("as4454");
  log.days(3.0, 56.0).turn().days(2.0, 45.0).days(3.0, 56.0).turn().days(2.0, 45.0);
  EXPECT_FALSE(log.met());
  EXPECT_NEAR(log.days(3.0, 56.0).turn().day(), 13.0, rounding_h);
}

TEST(HygieneClock, TheEquationAddsUpOverTemperatures) {
  // Time asked at 55 and 60 °C (us503_eq1_D_55, us503_eq1_D_60): half of each makes one, and the
  // cool days between add nothing.
  const double half_55 = 0.5 * 2.62776;
  const double half_60 = 0.5 * 0.524307;
  // Six published figures.
  EXPECT_NEAR(Log("us503_eq1").days(half_55, 55.0).days(5.0, 49.9).days(2.0, 60.0).day(),
              half_55 + 5.0 + half_60, 1e-5);
  EXPECT_FALSE(Log("us503_eq1").days(half_55, 55.0).days(0.99 * half_60, 60.0).met());
}

TEST(HygieneClock, TheEquationAsksForTwentyMinutesHoweverHot) {
  EXPECT_FALSE(Log("us503_eq1").hours(19.0 / 60.0, 90.0).met());
  EXPECT_NEAR(Log("us503_eq1").hours(1.0, 90.0).day() * 24.0 * 60.0, 20.0, 1e-6);
}

TEST(HygieneClock, AddedMaterialBeginsAgain) {
  Log log("us503_pfrp_vessel");
  EXPECT_TRUE(log.days(4.0, 60.0).met());
  EXPECT_FALSE(log.begin_again().met());
  EXPECT_NEAR(log.days(4.0, 60.0).day(), 4.0 + 3.0, rounding_h);
}

TEST(HygieneClock, SaysWhatIsMissing) {
  EXPECT_EQ(Log("us503_pfrp_vessel").days(5.0, 60.0).missing(), "");
  EXPECT_EQ(Log("us503_pfrp_windrow").turned(3, 2.0, 60.0).hours(5.0, 60.0).missing(),
            "longest unbroken stretch at 55 degC or more 6.2 of 15 days; 3 of 5 turns in it");
  EXPECT_EQ(Log("us503_pfrp_windrow").turned(4, 4.0, 60.0).missing(),
            "longest unbroken stretch at 55 degC or more 16.0 days, 15 days asked; 4 of 5 turns in "
            "it");
  // Never as complete as it is not.
  EXPECT_EQ(Log("us503_pfrp_vessel").hours(71.99, 60.0).missing(),
            "longest unbroken stretch at 55 degC or more 2.9 of 3 days");
  EXPECT_EQ(Log("us503_pfrp_vessel").days(9.0, 48.37).missing(),
            "never at 55 degC or more; 48.3 degC at most");
  EXPECT_EQ(Log("eu1009_cmc3").days(13.0, 56.0).missing(),
            "longest unbroken stretch at 55 degC or more 13.0 of 14 days");
  EXPECT_EQ(Log("us503_eq1").days(1.0, 55.0).missing(), "score 0.38 of 1"); // 1 / 2.62776
  EXPECT_EQ(Log("abp", {.carbon_nitrogen_ratio = 30.0, .largest_particle_m = 0.05})
                .hours(12.0, 20.0)
                .hours(2.0, 71.0)
                .missing(),
            "particles are up to 50 mm, 12 mm or less is asked; temperatures and time were met "
            "after 0.5 days");
  EXPECT_THAT(Log("nop_vessel", {.carbon_nitrogen_ratio = 21.0, .largest_particle_m = 0.01})
                  .days(1.0, 60.0)
                  .missing(),
              HasSubstr("C:N of the mix is 21.0 at the build, 25 to 40 is asked; longest unbroken "
                        "stretch at 55 to 76.7 degC 1.0 of 3 days"));
  EXPECT_THAT(Log("us503_var5").days(15.0, 44.0).missing(),
              HasSubstr("its average 44.0 degC, above 45 degC is asked"));
  EXPECT_THAT(Log("us503_psrp").days(6.0, 50.0).missing(), HasSubstr("4 hours above 55 degC"));
  EXPECT_EQ(Log("as4454").turned(2, 3.0, 56.0).missing(),
            "2 of 3 turns that followed 3 days at 55 degC or more without a break");
}

TEST(MixFacts, AreThoseOfTheMixAtTheBuild) {
  PileDescription pile;
  Material straw;
  straw.moisture_wet_basis = 0.1;
  straw.carbon_dry_basis = 0.45;
  straw.nitrogen_dry_basis = 0.005;
  straw.chop_size_m = 0.05;
  Material grass;
  grass.moisture_wet_basis = 0.8;
  grass.carbon_dry_basis = 0.44;
  grass.nitrogen_dry_basis = 0.03;
  grass.chop_size_m = 0.03;
  Material branch = grass;
  branch.chop_size_m = 0.5;
  // 90 kg and 100 kg dry: C 40.5 + 44 kg, N 0.45 + 3 kg.
  pile.ingredients = {{straw, 100.0, 0}, {grass, 500.0, 0}};
  EXPECT_NEAR(mix_facts(pile).carbon_nitrogen_ratio, 84.5 / 3.45, 1e-12);
  EXPECT_EQ(mix_facts(pile).largest_particle_m, 0.05);
  // 1.9 kg of 191.9 dry is a few stalks, 2 kg of 192 is not.
  pile.ingredients.push_back({branch, 9.5, 0});
  EXPECT_EQ(mix_facts(pile).largest_particle_m, 0.05);
  pile.ingredients.back().wet_mass_kg = 10.0;
  EXPECT_EQ(mix_facts(pile).largest_particle_m, 0.5);
  // What is added later counts for the length, not for C:N at the build.
  pile.ingredients.pop_back();
  pile.additions.push_back({{}, {{branch, 5.0, 0}}});
  EXPECT_NEAR(mix_facts(pile).carbon_nitrogen_ratio, 84.5 / 3.45, 1e-12);
  EXPECT_EQ(mix_facts(pile).largest_particle_m, 0.5);
}

} // namespace
} // namespace heapcast::models
