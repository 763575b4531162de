// The `[[variant]]` tables of a pile file.

#include "cli/input/overrides.hpp"
#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"
#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace heapcast::cli {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

/// An invented pile with variants.
const std::string pile = tests::invented_site("Leaves and manure") + R"([pile]
shape = "heap"
[[material]]
name = "dry_leaves"
amount = "120 kg"
[[material]]
name = "cattle_manure"
amount = "420 kg"
[turning]
method = "fork"
every = "3 days"
from = "5 days"
[run]
days = 20
[[variant]]
name = "weekly"
set = { "turning.every" = "7 days", "material.1.amount" = "300 kg" }
[[variant]]
name = "by loader"
set = { turning = { method = "loader" } }
[[variant]]
name = "never"
without = ["turning"]
)";

PileFile variant(const std::string& name, const std::string& more = {},
                 std::vector<std::string> overrides = {}) {
  PileFileOptions options;
  options.overrides = std::move(overrides);
  options.variant = name;
  return parse_pile_file(pile + more, options);
}

std::string faults_of(const std::string& name, const std::string& more) {
  try {
    (void)variant(name, more);
  } catch (const InputError& error) {
    return error.what();
  }
  return "no fault";
}

TEST(Variants, AreListedInTheirOrder) {
  EXPECT_THAT(variant("").variants, ElementsAre("weekly", "by loader", "never"));
}

TEST(Variants, SetDottedKeysAndLeaveTheRest) {
  const PileFile weekly = variant("weekly");
  EXPECT_EQ(weekly.pile->turning->schedule.every_days, 7.0);
  EXPECT_EQ(weekly.pile->turning->schedule.from_day, 5.0);
  EXPECT_EQ(weekly.pile->ingredients[1].wet_mass_kg, 300.0);
  EXPECT_EQ(weekly.pile->ingredients[0].wet_mass_kg, 120.0);
  const PileFile written = variant("");
  EXPECT_EQ(written.pile->turning->schedule.every_days, 3.0);
  EXPECT_EQ(written.pile->ingredients[1].wet_mass_kg, 420.0);
}

TEST(Variants, MergeASectionWithTheOneThatIsThere) {
  const PileFile loader = variant("by loader");
  EXPECT_EQ(loader.pile->turning->method, models::TurnMethod::loader);
  EXPECT_EQ(loader.pile->turning->schedule.every_days, 3.0);
}

TEST(Variants, LeaveOutWhatTheyAreWithout) {
  EXPECT_FALSE(variant("never").pile->turning);
  EXPECT_TRUE(variant("").pile->turning);
}

TEST(Variants, LeaveOutSingleKeysToo) {
  const std::string more = R"([[variant]]
name = "from the start"
without = ["turning.from", "title"]
set = { "turning.every" = "4 days" }
)";
  const PileFile file = variant("from the start", more);
  ASSERT_TRUE(file.pile->turning);
  EXPECT_EQ(file.pile->turning->schedule.from_day, 0.0);
  EXPECT_EQ(file.pile->turning->schedule.every_days, 4.0);
  EXPECT_EQ(file.pile->title, "pile"); // the file's name
}

TEST(Variants, GiveWayToOptions) {
  const PileFile weekly = variant("weekly", {}, {"turning.every=10 days"});
  EXPECT_EQ(weekly.pile->turning->schedule.every_days, 10.0);
}

TEST(Variants, PointToTheirOwnLineWhenWrong) {
  const std::string more =
      "[[variant]]\nname = \"wrong\"\nset = { \"turning.evry\" = \"7 days\" }\n";
  const std::string fault = faults_of("wrong", more);
  EXPECT_THAT(fault, HasSubstr("pile.toml:35:")); // the file has 32 lines before
  EXPECT_THAT(fault, HasSubstr("did you mean \"every\"?"));
  EXPECT_EQ(faults_of("", more), "no fault"); // the pile as written is in order
}

TEST(Variants, SayWhatTheyCannotLeaveOut) {
  const std::string more = "[[variant]]\nname = \"wrong\"\nwithout = [\"cover.thickness\"]\n";
  EXPECT_THAT(faults_of("wrong", more), HasSubstr("the pile has no cover.thickness to leave out"));
}

TEST(Variants, MustChangeSomething) {
  EXPECT_THAT(faults_of("", "[[variant]]\nname = \"same\"\n"),
              HasSubstr("[[variant]] changes nothing"));
}

TEST(Variants, SayWhichOneIsAtFault) {
  const std::vector<Fault> faults = in_variant("weekly", {{"pile.toml:3:1", "is wrong", ""}});
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_EQ(faults[0].what, "variant \"weekly\": is wrong");
}

} // namespace
} // namespace heapcast::cli
