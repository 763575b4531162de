#include "cli/comparison.hpp"

#include "tests/cli/sample_comparison.hpp"
#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;
using tests::columns;
using tests::lines_of;
using tests::said;

std::string table_text(const std::vector<ComparedPile>& piles, bool utf8 = false) {
  return comparison_text("An invented heap", piles, {}, utf8);
}

/// The first line that begins with `label`.
std::string line_of(const std::string& text, const std::string& label) {
  for (const std::string& line : lines_of(text)) {
    if (line.starts_with(label)) {
      return line;
    }
  }
  return "no line " + label;
}

void expect_fits(const std::string& text) {
  for (const std::string& line : lines_of(text)) {
    EXPECT_LE(columns(line), 80U) << line;
  }
}

void expect_ascii(const std::string& text) {
  EXPECT_TRUE(std::ranges::all_of(text, [](char c) {
    return static_cast<unsigned char>(c) < 0x80;
  })) << text;
}

/// 100 runs of a pile ready on day 20, 21, …, 119 after 5 h of work, and of the same pile `later`
/// days later with 2 h more.
std::vector<ComparedPile> hundred_and(const std::vector<double>& later) {
  std::vector<RunNumbers> first;
  std::vector<RunNumbers> other;
  for (std::size_t run = 0; run < later.size(); ++run) {
    const double day = 20.0 + static_cast<double>(run);
    first.push_back({.ready_day = day, .labour_h = 5.0, .nitrogen_kept_kg = 2.0});
    other.push_back({.ready_day = day + later[run], .labour_h = 7.0, .nitrogen_kept_kg = 2.0});
  }
  return {runs_of("one", first), runs_of("other", other)};
}

TEST(Comparison, OneRunEachIsANumberEachAndSaysHowToGetMore) {
  const std::string text = table_text(
      {one_run_of("weekly", {.ready_day = 34.4, .labour_h = 6.25, .nitrogen_kept_kg = 2.5}),
       one_run_of("never", {.ready_day = 46.4, .labour_h = 2.0, .nitrogen_kept_kg = 2.25})});
  EXPECT_THAT(text, HasSubstr("one run each; --runs 100"));
  // A label of 19 columns, then (80 - 19)/2 = 30 columns each.
  EXPECT_EQ(line_of(text, "ready, day"), "ready, day         34                            46");
  EXPECT_EQ(line_of(text, "nitrogen kept, kg"),
            "nitrogen kept, kg  2.50                          2.25");
  EXPECT_THAT(said(text), HasSubstr("never: 12 days later; 4.2 h less work; 0.25 kg less nitrogen "
                                    "kept."));
  EXPECT_THAT(text, Not(HasSubstr("runs)")));
}

TEST(Comparison, SeveralRunsGiveMiddleAndEndsAndHowManyRunsAgree) {
  // 97 runs 12 days later, 3 runs 2 days sooner: sorted, places 9.9, 49.5 and 89.1 are all 12.
  std::vector<double> later(97, 12.0);
  later.insert(later.end(), 3, -2.0);
  const std::string text = table_text(hundred_and(later));
  EXPECT_THAT(text, HasSubstr("100 runs each with the same draws"));
  // Day 20 to 119: places 9.9, 49.5, 89.1 give 29.9, 69.5, 109.1.
  EXPECT_THAT(line_of(text, "ready, day"), HasSubstr("70 (30-109)"));
  EXPECT_THAT(said(text),
              HasSubstr("other: 12 days later (12 to 12; later in 97 of 100 runs); 2.0 h more work "
                        "(2.0 to 2.0; more work in 100 of 100 runs)."));
}

TEST(Comparison, DaysBeyondTheHorizonAreLater) {
  EXPECT_THAT(
      line_of(table_text({one_run_of("a", {}), one_run_of("b", {.ready_day = 30})}), "ready"),
      HasSubstr("later                         30"));
  std::vector<double> later(100, 5.0);
  std::fill(later.begin() + 80, later.end(), models::unset); // 20 of 100 never
  const std::string text = table_text(hundred_and(later));
  EXPECT_THAT(line_of(text, "ready, day"), HasSubstr("-later)"));
  EXPECT_THAT(said(text), HasSubstr("5 days later (5 to beyond the time computed; later in 100 of "
                                    "100 runs)"));
}

TEST(Comparison, RunsInWhichNeitherIsReadyAreNotCountedAsAgreement) {
  std::vector<ComparedPile> piles = hundred_and(std::vector<double>(100, 5.0));
  for (std::size_t run = 0; run < 40; ++run) {
    piles[0].result.numbers[0].values[run] = models::unset;
    piles[1].result.numbers[0].values[run] = models::unset;
  }
  EXPECT_THAT(said(table_text(piles)), HasSubstr("later in 60 of 60 runs"));
}

TEST(Comparison, SaysWhenOnlyOneIsReadyOrNeither) {
  const ComparedPile ready = one_run_of("ready", {.ready_day = 30});
  const ComparedPile not_ready = one_run_of("slow", {});
  EXPECT_THAT(said(table_text({ready, not_ready})),
              HasSubstr("slow: not ready within the time computed, unlike it."));
  EXPECT_THAT(said(table_text({not_ready, ready})),
              HasSubstr("ready: ready within the time computed, unlike it."));
  EXPECT_THAT(said(table_text({not_ready, not_ready})),
              HasSubstr("slow: neither is ready within the time computed."));
}

TEST(Comparison, EqualPilesHaveNoDifference) {
  const RunNumbers same = {.ready_day = 30, .labour_h = 2, .nitrogen_kept_kg = 3};
  EXPECT_THAT(table_text({one_run_of("a", same), one_run_of("b", same)}),
              HasSubstr("b: no difference."));
  EXPECT_THAT(table_text(hundred_and(std::vector<double>(100, 0.0))), Not(HasSubstr("days")));
}

TEST(Comparison, AZeroHasNoMinus) {
  // Most runs do not differ; where they do the other is sooner.
  std::vector<double> later(100, 0.0);
  std::fill(later.begin(), later.begin() + 20, -3.0);
  const std::string text = table_text(hundred_and(later));
  EXPECT_THAT(said(text), HasSubstr("0 days sooner (0 to 3; sooner in 20 of 100 runs)"));
  EXPECT_THAT(text, Not(HasSubstr("-0")));
}

TEST(Comparison, LeavesOutWhatNoPileHas) {
  std::vector<ComparedPile> piles = {one_run_of("a", {.ready_day = 30}),
                                     one_run_of("b", {.ready_day = 30})};
  EXPECT_THAT(table_text(piles), Not(HasSubstr("C:N")));
  piles[1].result.central.scalars.push_back({"compost_carbon_nitrogen_ratio", "1", "", 14.2, ""});
  EXPECT_EQ(line_of(table_text(piles), "C:N"),
            "C:N                -                             14");
}

TEST(Comparison, CountsTheRunsThatMeetTheHygieneRuleAskedFor) {
  std::vector<RunNumbers> runs(10, {.ready_day = 30, .hygiene_day = 12});
  runs[4].hygiene_day = models::unset;
  std::vector<ComparedPile> piles = {runs_of("a", runs), runs_of("b", runs)};
  auto unasked = compared_pile(60.0);
  unasked->use.hygiene_rule.clear();
  piles[1].pile = unasked;
  EXPECT_EQ(line_of(table_text(piles), "hygiene rule"),
            "hygiene rule       met 9 of 10                   not asked");
  EXPECT_EQ(
      line_of(table_text({one_run_of("a", runs[0]), one_run_of("b", runs[4])}), "hygiene rule"),
      "hygiene rule       day 12                        not met");
}

TEST(Comparison, FailedRunsDoNotCount) {
  std::vector<RunNumbers> runs(10, {.ready_day = 30, .labour_h = 2, .hygiene_day = 12});
  ComparedPile first = runs_of("a", runs);
  for (RunNumbers& run : runs) {
    run.labour_h = 3;
  }
  ComparedPile other = runs_of("b", runs);
  fail(other, 2);
  fail(other, 7);
  const std::string text = table_text({first, other});
  EXPECT_THAT(line_of(text, "hygiene rule"), HasSubstr("met 10 of 10"));
  EXPECT_THAT(line_of(text, "hygiene rule"), HasSubstr("met 8 of 8"));
  EXPECT_THAT(line_of(text, "ready, day"), Not(HasSubstr("later")));
  EXPECT_EQ(line_of(text, "decided by"),
            "decided by         core above the air            core above the air");
  EXPECT_THAT(said(text), HasSubstr("b: 1.0 h more work (1.0 to 1.0; more work in 8 of 8 runs)."));
  EXPECT_THAT(said(text), HasSubstr("2 of the 10 runs of \"b\" failed and do not count; the "
                                    "first: the bin is too small"));
}

TEST(Comparison, MoreThanFourPilesStandInBlocks) {
  std::vector<ComparedPile> piles;
  piles.reserve(6);
  for (int i = 0; i < 6; ++i) {
    piles.push_back(one_run_of("pile " + std::to_string(i), {.ready_day = 20.0 + i}));
  }
  const std::string text = table_text(piles);
  expect_fits(text);
  // (80 - 19)/4 = 15 columns each, and two blocks of "ready".
  EXPECT_EQ(line_of(text, "ready"),
            "ready, day         20             21             22             23");
  const auto lines = lines_of(text);
  EXPECT_EQ(std::ranges::count_if(lines, [](const auto& l) { return l.starts_with("ready"); }), 2);
  EXPECT_THAT(text, HasSubstr("pile 5: 5 days later"));
}

TEST(Comparison, FitsTheScreenAndSeparatesItsColumns) {
  const std::string name = "turned every other day until the heat is gone, then weekly";
  for (const std::size_t count : {2U, 3U, 4U, 9U}) {
    for (const bool utf8 : {false, true}) {
      std::vector<ComparedPile> piles;
      for (std::size_t i = 0; i < count; ++i) {
        ComparedPile& pile =
            piles.emplace_back(one_run_of(name + " " + std::to_string(i), {.ready_day = 1000}));
        pile.result.central.decided_by = "a_criterion_with_a_name_of_some_length";
        pile.result.central.scalars.push_back({"days_above_55", "day", "", 123.4, ""});
        pile.result.central.scalars.push_back({"peak_temperature", "degC", "", 61.0, ""});
      }
      const std::string text = comparison_text(
          "An invented heap with a title that goes on for longer than a screen of eighty columns",
          piles, {}, utf8);
      expect_fits(text);
      EXPECT_THAT(line_of(text, "hot days"), HasSubstr(utf8 ? ", 55 °C " : ", 55 degC  123.4 "));
    }
  }
}

TEST(Comparison, IsAsciiWithoutUtf8) {
  std::vector<ComparedPile> piles = {
      one_run_of("wöchentlich gewendet äöüäöüäöü", {.ready_day = 30}),
      one_run_of("nie", {.ready_day = 30})};
  piles.front().result.central.scalars.push_back({"peak_temperature", "degC", "", 61.0, ""});
  const std::string ascii = comparison_text("Haufen bei der Küche", piles, {"größe.h5"}, false);
  expect_ascii(ascii);
  EXPECT_THAT(ascii, StartsWith("Haufen bei der K?che\n"));
  EXPECT_THAT(ascii, HasSubstr("peak, degC"));
  EXPECT_THAT(comparison_text("Küche", piles, {}, true), HasSubstr("peak, °C"));
}

TEST(Comparison, LongNamesAreNotBrokenWithinACharacter) {
  const std::string name = "aäöüäöüäöüäöüäöüäöüäöüäöü";
  const std::string text = table_text(
      {one_run_of(name, {}), one_run_of("b", {}), one_run_of("c", {}), one_run_of("d", {})}, true);
  // A line must not begin with the second byte of a character nor hold a first byte before a space.
  for (std::size_t i = 0; i + 1 < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    const auto next = static_cast<unsigned char>(text[i + 1]);
    if (byte >= 0xC0U) {
      EXPECT_EQ(next & 0xC0U, 0x80U) << text;
    } else if (byte < 0x80U) {
      EXPECT_NE(next & 0xC0U, 0x80U) << text;
    }
  }
}

TEST(Comparison, DefersToMeasurementAndLocalRulesAndNamesTheFile) {
  const std::string text = comparison_text(
      "An invented heap", {one_run_of("a", {}), one_run_of("b", {})}, {"a.h5"}, false);
  EXPECT_THAT(said(text), HasSubstr("measure, and follow local rules"));
  EXPECT_THAT(text, HasSubstr("Saved      a.h5"));
}

TEST(Comparison, IsInUsUnitsWhereAsked) {
  const std::string text = comparison_text(
      "An invented heap",
      {one_run_of("weekly", {.ready_day = 34.4, .labour_h = 6.25, .nitrogen_kept_kg = 2.5}),
       one_run_of("never", {.ready_day = 46.4, .labour_h = 2.0, .nitrogen_kept_kg = 2.25})},
      {}, false, DisplayUnits::us);
  // 2.5 and 0.25 kg over 0.45359 kg/lb.
  EXPECT_EQ(line_of(text, "nitrogen kept, lb"),
            "nitrogen kept, lb  5.51                          4.96");
  EXPECT_THAT(said(text), HasSubstr("0.55 lb less nitrogen kept"));
  EXPECT_THAT(text, Not(HasSubstr("kg")));
  expect_fits(text);
}

} // namespace
} // namespace heapcast::cli
