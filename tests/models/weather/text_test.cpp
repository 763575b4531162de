#include "engine/nearest.hpp"
#include "models/weather/checksum.hpp"
#include "models/weather/text.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace {

using namespace heapcast::models;
using Fields = std::vector<std::string>;

TEST(CsvLine, SplitsPlainAndQuotedFields) {
  EXPECT_EQ(split_csv_line("a, b ,,c", ','), (Fields{"a", "b", "", "c"}));
  EXPECT_EQ(split_csv_line(R"("a,b", "say ""x""",c)", ','), (Fields{"a,b", R"(say "x")", "c"}));
  EXPECT_EQ(split_csv_line("", ','), (Fields{""}));
  EXPECT_EQ(split_csv_line(",", ','), (Fields{"", ""}));
  EXPECT_EQ(split_csv_line("1,5;2", ';'), (Fields{"1,5", "2"}));
  EXPECT_EQ(split_csv_line("1\t2", '\t'), (Fields{"1", "2"}));
}

TEST(CsvLine, AnOpenQuoteIsNoLine) {
  EXPECT_EQ(split_csv_line(R"(a,"b)", ','), std::nullopt);
  EXPECT_EQ(split_csv_line(R"(")", ','), std::nullopt);
}

TEST(ParseNumber, TakesAllOfTheTextOrNothing) {
  EXPECT_EQ(parse_number("12.5"), 12.5);
  EXPECT_EQ(parse_number("-3"), -3.0);
  EXPECT_EQ(parse_number("+1e-3"), 1e-3);
  EXPECT_TRUE(std::isnan(parse_number("nan").value()));
  for (const char* text : {"", "+", "+-1", "1x", "1 2", "0x10", "1,5", "--1", "1e999"}) {
    EXPECT_EQ(parse_number(text), std::nullopt) << text;
  }
}

TEST(Shown, KeepsMessagesPrintable) {
  EXPECT_EQ(shown("a\x01\xC3\xA9"), "a???");
  EXPECT_EQ(shown(std::string(50, 'x')), std::string(40, 'x') + "...");
}

TEST(NearestName, FindsASlipAndNothingElse) {
  const Fields names{"tmin", "tmax", "rain", "humidity"};
  EXPECT_EQ(heapcast::engine::nearest("humdity", names), "humidity");
  EXPECT_EQ(heapcast::engine::nearest("rian", names), "rain");
  EXPECT_EQ(heapcast::engine::nearest("rain", {}), "");
  EXPECT_EQ(heapcast::engine::nearest("RAINS", names), "rain");
  EXPECT_EQ(heapcast::engine::nearest("tmn", names), "tmin");
  EXPECT_EQ(heapcast::engine::nearest("location", names), "");
  EXPECT_EQ(heapcast::engine::nearest(std::string(100000, 'x'), names), "");
}

TEST(Listed, CutsALongList) {
  EXPECT_EQ(listed(Fields{"a", "b"}), "a, b");
  EXPECT_EQ(listed(Fields(21, "a")), listed(Fields(20, "a")) + ", ...");
}

TEST(Checksum, IsFnv1aOf64Bits) {
  // Test vectors of the hash's authors, from memory; the first is the offset basis itself.
  EXPECT_EQ(fnv1a64_hex(""), "cbf29ce484222325");
  EXPECT_EQ(fnv1a64_hex("a"), "af63dc4c8601ec8c");
  EXPECT_EQ(fnv1a64_hex("foobar"), "85944171f73967e8");
}

} // namespace
