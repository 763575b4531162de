#include "cli/input/expression.hpp"

#include "cli/input/units.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
const std::vector<std::string> known = {"ready_day", "turns", "pile.height", "peak_temperature"};

double value(const std::string& text, const std::vector<double>& values = {}) {
  return Expression(text, known).value(values);
}

std::string fault(const std::string& text) {
  try {
    const Expression read(text, known);
  } catch (const UnitError& error) {
    return std::string(error.what()) + " - " + error.remedy();
  }
  return "";
}

TEST(Expression, ComputesAsArithmeticIsWritten) {
  EXPECT_EQ(value("1 + 2 * 3"), 7.0);
  EXPECT_EQ(value("(1 + 2) * 3 / 4"), 2.25);
  EXPECT_EQ(value("2 ^ 3 - 1e1"), -2.0);
  EXPECT_EQ(value("-3 + abs(-3) + sqrt(4) + min(3, 1, 2) + max(1, 5)"), 8.0);
  EXPECT_EQ(value("exp(0) + ln(1) + log10(100)"), 3.0);
}

TEST(Expression, TakesValuesInTheAlphabeticalOrderOfItsNames) {
  const Expression read("turns - ready_day * pile.height + turns", known);
  EXPECT_THAT(read.names(), ElementsAre("pile.height", "ready_day", "turns"));
  EXPECT_EQ(read.value(std::vector<double>{2.0, 10.0, 3.0}), 3.0 - 20.0 + 3.0);
  const std::vector<Expression> copies(2, read);
  EXPECT_EQ(copies.back().value(std::vector<double>{1.0, 1.0, 1.0}), 1.0);
}

TEST(Expression, JoinsComparisonsByWordsAndSigns) {
  EXPECT_EQ(value("1 < 2 and 2 <= 2"), 1.0);
  EXPECT_EQ(value("1 > 2 or 3 != 3"), 0.0);
  EXPECT_EQ(value("1 > 2 || 3 == 3 && 2 >= 1"), 1.0);
  EXPECT_EQ(value("not 1 > 2"), 1.0) << "not is weaker than a comparison";
  EXPECT_EQ(value("!(1 < 2) or 0"), 0.0);
  EXPECT_EQ(value("1 > 2 and 1 > 2 or 1"), 1.0) << "and binds before or";
}

TEST(Expression, NothingIsTrueOfWhatIsMissing) {
  for (const char* text : {"turns < 5", "turns > 5", "turns == turns", "turns and 1",
                           "turns > 5 or turns < 5", "max(1, turns) >= 0", "min(turns, 1) <= 1"}) {
    EXPECT_FALSE(Expression(text, known).holds(std::vector<double>{missing})) << text;
  }
  EXPECT_FALSE(Expression("turns + 1", known).holds(std::vector<double>{missing}));
  EXPECT_TRUE(Expression("turns < 5 or 1 < 2", known).holds(std::vector<double>{missing}));
}

TEST(Expression, SaysWhereAndWhatIsWrong) {
  EXPECT_THAT(fault("ready_dya <= 60"), HasSubstr("character 1: there is no \"ready_dya\" here - "
                                                  "did you mean \"ready_day\"?"));
  EXPECT_THAT(fault("turns > xyzzy_plugh"), HasSubstr("there are ready_day, turns, pile.height"));
  EXPECT_THAT(fault("turns = 3"), HasSubstr("character 7: \"=\" compares nothing"));
  EXPECT_THAT(fault("1 < turns < 5"), HasSubstr("character 11: two comparisons in a row"));
  EXPECT_THAT(fault("(1 < turns) < 5"), "");
  EXPECT_THAT(fault("peak_temperature > 55 degC"), HasSubstr("character 23: \"degC\" behind a"));
  EXPECT_THAT(fault("turns > 60 %"), HasSubstr("character 12: a formula has no units"));
  EXPECT_THAT(fault("sin(turns)"), HasSubstr("character 1: \"sin\" is no function"));
  EXPECT_THAT(fault("(turns > 1"), HasSubstr("a \"(\" is not closed"));
  EXPECT_THAT(fault("turns > 1)"), HasSubstr("character 10: \")\" closes nothing"));
  EXPECT_THAT(fault("turns >"), HasSubstr("ends where a value is needed"));
  EXPECT_THAT(fault(""), HasSubstr("without anything in it"));
  EXPECT_THAT(fault("turns; 1"), HasSubstr("\";\" stands in no formula"));
  EXPECT_THAT(fault("turns > 1, turns < 2"), HasSubstr("-"));
  EXPECT_THAT(fault("turns turns"), HasSubstr("not expected here"));
  EXPECT_THAT(fault("min()"), HasSubstr("-"));
  EXPECT_THAT(fault("abs(1, 2)"), HasSubstr("another number of values"));
  EXPECT_THAT(fault("\xe2\x89\xa4 3"), HasSubstr("a character that no formula has"));
  EXPECT_THAT(fault("_pi > turns"), HasSubstr("there is no \"_pi\" here"));
  EXPECT_THAT(fault("turns > 1 ? 2 : 3"), HasSubstr("\"?\" stands in no formula"));
  EXPECT_THAT(fault("\"turns\""), HasSubstr("stands in no formula"));
}

TEST(Expression, RefusesWhatWouldRunTheParserOutOfItsStack) {
  EXPECT_THAT(fault(std::string(100, '(') + "1" + std::string(100, ')')),
              HasSubstr("too many brackets"));
  EXPECT_THAT(fault(std::string(5000, '-') + "1"), HasSubstr("longer than 2000"));
  EXPECT_NE(fault("1 2"), "");
  std::string sum = "1";
  for (int i = 0; i < 900; ++i) {
    sum += "+1";
  }
  EXPECT_EQ(value(sum), 901.0);
  std::string powers = "1";
  for (int i = 0; i < 900; ++i) {
    powers += "^1";
  }
  EXPECT_EQ(value(powers), 1.0);
}

} // namespace
} // namespace heapcast::cli
