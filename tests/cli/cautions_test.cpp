#include "cli/report/cautions.hpp"

#include "tests/cli/synthetic_results.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace heapcast::cli {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

Caution find(const engine::Dataset& data, const std::string& title) {
  const ResultsReader reader(data);
  const auto all = cautions(reader);
  const auto found = std::find_if(all.begin(), all.end(), [&](const auto& caution) {
    return caution.title.find(title) != std::string::npos;
  });
  return found == all.end() ? Caution{} : *found;
}

void set_values(engine::Dataset& data, const std::string& name, double value) {
  for (auto& variable : data.variables) {
    if (variable.name == name) {
      std::fill(variable.values.begin(), variable.values.end(), value);
    }
  }
}

TEST(Cautions, NameEveryDangerEvenWithoutResults) {
  const engine::Dataset nothing;
  for (const std::string title :
       {"Fire", "Steam", "Dust", "Manure", "Machinery", "Run-off", "Herbicide", "Hygiene"}) {
    const auto caution = find(nothing, title);
    EXPECT_FALSE(caution.advice.empty()) << title;
    EXPECT_EQ(caution.finding, "") << title;
    // Only that hygiene is an estimate holds whatever the pile.
    EXPECT_EQ(caution.applies, title == "Hygiene") << title;
  }
}

TEST(Cautions, PutThoseThatApplyFirst) {
  const auto data = test::synthetic_results(10);
  const auto all = cautions(ResultsReader(data));
  EXPECT_TRUE(std::is_partitioned(all.begin(), all.end(),
                                  [](const auto& caution) { return caution.applies; }));
  EXPECT_TRUE(all.front().applies);
}

TEST(Cautions, WarnOfFireInAVeryHotPile) {
  auto data = test::synthetic_results(10);
  EXPECT_FALSE(find(data, "Fire").applies);
  set_values(data, "max_temperature", 78.0);
  const auto fire = find(data, "Fire");
  EXPECT_TRUE(fire.applies);
  EXPECT_THAT(fire.finding, HasSubstr("hottest place 78 °C"));
}

TEST(Cautions, WarnOfFireWhereItIsWarmAndDryAtOnce) {
  auto data = test::synthetic_results(10);
  set_values(data, "max_temperature", 64.0);
  set_values(data, "temperature", 64.0);
  set_values(data, "moisture_wet_basis_field", 38.0);
  EXPECT_TRUE(find(data, "Fire").applies);
  EXPECT_THAT(find(data, "Fire").finding, HasSubstr("moisture down to 38 % where it is above 60"));
  // As dry, but never warm at the same place and time.
  set_values(data, "temperature", 40.0);
  EXPECT_FALSE(find(data, "Fire").applies);
}

TEST(Cautions, WarnOfFireByTheWholePileWithoutPictures) {
  auto data = test::synthetic_results(10);
  test::remove_variable(data, "temperature");
  set_values(data, "max_temperature", 64.0);
  set_values(data, "moisture_wet_basis", 38.0);
  EXPECT_TRUE(find(data, "Fire").applies);
}

TEST(Cautions, WarnOfFireInATallPile) {
  auto data = test::synthetic_results(10);
  set_values(data, "cell_corner_z", 4.0); // field.csv sc_height: 3.66 m
  EXPECT_TRUE(find(data, "Fire").applies);
  EXPECT_THAT(find(data, "Fire").finding, HasSubstr("4.0 m high"));
}

TEST(Cautions, GiveTheCoreAtTheHottestTurn) {
  auto data = test::synthetic_results(10); // one turn, on day 7
  set_values(data, "core_temperature", 61.0);
  EXPECT_THAT(find(data, "Steam").finding, HasSubstr("turned while the core is at 61 °C"));
  EXPECT_TRUE(find(data, "Steam").applies);
  set_values(data, "core_temperature", 30.0);
  EXPECT_FALSE(find(data, "Steam").applies);
}

TEST(Cautions, CountTurnsForDustAndMachinery) {
  auto data = test::synthetic_results(10);
  EXPECT_EQ(find(data, "Dust").finding, "1 turn");
  set_values(data, "turns", 0.0);
  EXPECT_FALSE(find(data, "Dust").applies);
  EXPECT_FALSE(find(data, "Machinery").applies);
}

TEST(Cautions, GiveTheLitresThatDrainOut) {
  auto data = test::synthetic_results(10);
  set_values(data, "cumulative_leachate_nitrogen", 0.0043);
  EXPECT_EQ(find(data, "Run-off").finding, "14 litres drain out; 4.3 g of nitrogen in it");
  set_values(data, "cumulative_leachate_nitrogen", 1.25e-5);
  EXPECT_EQ(find(data, "Run-off").finding, "14 litres drain out");
  set_values(data, "leachate", 0.0);
  EXPECT_FALSE(find(data, "Run-off").applies);
}

TEST(Cautions, NameTheRiskyMaterialsOfThePile) {
  auto data = test::synthetic_results(10);
  EXPECT_THAT(find(data, "Manure").finding, HasSubstr("the pile file names manure"));
  EXPECT_EQ(find(data, "Herbicide").finding, "the pile file names straw, manure");
  test::set_attribute(data, "pile_file", std::string("[[material]]\nname = \"oak leaves\"\n"));
  EXPECT_FALSE(find(data, "Manure").applies);
  EXPECT_FALSE(find(data, "Herbicide").applies);
}

TEST(Cautions, CountTheWorseEndOfSeveralRuns) {
  // Runs are 0.9 to 1.1 times as warm; at the turn on day 7 the core of the warmest is about
  // 0.2 × 58 × exp(-0.1) = 10 K hotter than that of the coolest.
  const auto one = find(test::synthetic_results(10, 1), "Steam").finding;
  const auto many = find(test::synthetic_results(10, 20), "Steam").finding;
  EXPECT_GT(many, one); // "turned while the core is at 51 …" against "… 46 …"
}

TEST(Cautions, HygieneCountsTheCoolerEndOfSeveralRuns) {
  // Two runs, 17.5 - 6 and 17.5 + 6 days above 55: a tenth of the way from the lower one.
  EXPECT_EQ(find(test::synthetic_results(10, 2), "Hygiene").finding,
            "no more than 12.7 days above 55 °C in one run of ten");
  EXPECT_EQ(find(test::synthetic_results(10), "Hygiene").finding, "17.5 days above 55 °C computed");
}

TEST(WordsInPileFile, IgnoresCommentsAndParts) {
  EXPECT_THAT(words_in_pile_file("# no manure\nname = \"strawberry tops\"\n", {"manure", "straw"}),
              IsEmpty());
}

TEST(WordsInPileFile, FindsAnyCaseAndThePlural) {
  EXPECT_THAT(words_in_pile_file("name = \"Fresh MANURES\" # x", {"manure"}),
              ElementsAre("manure"));
}

} // namespace
} // namespace heapcast::cli
