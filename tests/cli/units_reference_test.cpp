// Units of files against the reference values.

#include "cli/input/units.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <string>

namespace heapcast::cli {
namespace {

TEST(UnitsReference, PoundPerCubicYardIsThatOfItsRow) {
  const tests::ReferenceRow row =
      tests::reference_row(tests::CsvTable("recipe.csv"), std::string("lbyd3"));
  expect_row(row, parse_quantity("1 lb/yd3", Dimension::mass_density));
}

} // namespace
} // namespace heapcast::cli
