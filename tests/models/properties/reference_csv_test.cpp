#include "tests/reference_csv.hpp"

namespace heapcast::tests {
namespace {

TEST(ReferenceCsv, QuotedFieldsHoldCommasQuotesAndLineEnds) {
  const CsvTable table("text",
                       "# note, with comma\r\nid,what\r\na,\"one, \"\"two\"\"\nthree\"\r\n");
  ASSERT_EQ(table.size(), 1U);
  EXPECT_EQ(table.field(0, "what"), "one, \"two\"\nthree");
}

TEST(ReferenceCsv, ShortRecordIsAnError) {
  EXPECT_THROW(CsvTable("text", "id,what\na\n"), std::runtime_error);
}

TEST(ReferenceCsv, UnknownRowOrColumnIsAnError) {
  const CsvTable table("text", "id,what\na,b");
  EXPECT_THROW(static_cast<void>(table.find("id", "b")), std::runtime_error);
  EXPECT_THROW(static_cast<void>(table.field(0, "who")), std::runtime_error);
}

TEST(ReferenceCsv, TolerancesAreReadAsWritten) {
  const auto width = [](double value, const std::string& text) {
    return own_tolerance({"x", value, "-", text})->high - value;
  };
  EXPECT_DOUBLE_EQ(width(200.0, "0.5 %"), 1.0);
  EXPECT_DOUBLE_EQ(width(200.0, "1e-2 rel (but see another)"), 2.0);
  EXPECT_DOUBLE_EQ(width(200.0, "0.5"), 0.5);    // bare: absolute is the tighter
  EXPECT_DOUBLE_EQ(width(0.5, "0.25"), 0.125);   // bare: the share of the value is the tighter
  EXPECT_DOUBLE_EQ(width(17.0, "16-19.5"), 2.5); // a range
  EXPECT_DOUBLE_EQ(width(0.6, ".4-.8"), 0.8 - 0.6);
  EXPECT_DOUBLE_EQ(width(15.5, "4-27 (as printed)"), 11.5);
  EXPECT_DOUBLE_EQ(width(80.0, "8 abs"), 8.0);
  EXPECT_DOUBLE_EQ(width(82.0, "+-6"), 6.0);
  EXPECT_FALSE(own_tolerance({"x", 1.0, "-", "exact"}));
  EXPECT_FALSE(own_tolerance({"x", 1.0, "-", "typ."}));
  EXPECT_FALSE(own_tolerance({"x", 1.0, "-", "3-fold"}));
  EXPECT_FALSE(own_tolerance({"x", 1.0, "-", "prints 3.5"}));
}

TEST(ReferenceCsv, LastDigitIsThatOfThePrintedNumber) {
  EXPECT_DOUBLE_EQ(half_last_digit("19"), 0.5);
  EXPECT_DOUBLE_EQ(half_last_digit("2.40"), 0.005);
}

} // namespace
} // namespace heapcast::tests
