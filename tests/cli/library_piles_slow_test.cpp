// Every material of the library by itself as a small pile: what the numbers of a data file mean
// together shows in a forecast only.

#include "cli/input/material_file.hpp"
#include "cli/input/pile_file.hpp"
#include "models/materials/material_property.hpp"
#include "models/pile_run.hpp"

#include <cmath>
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

/// One cubic metre for 20 days of a mild month, watered to 60 % where it is drier. Invented.
std::string pile_of(const std::string& material) {
  const auto twelve = [](const std::string& value, const std::string& unit) {
    std::string text = "\"";
    for (int month = 0; month < 12; ++month) {
      text += value + ' ';
    }
    return text + unit + '"';
  };
  return fmt::format("[site]\nlatitude = \"47.5 deg\"\nstart = \"2021-05-01\"\n"
                     "[site.normals]\ntmin = {}\ntmax = {}\nrain = {}\nwet_days = {}\n"
                     "[run]\ndays = \"20 days\"\nresolution = \"coarse\"\n"
                     "[pile]\nshape = \"heap\"\nwater_to = \"60 %\"\n"
                     "[[material]]\nname = \"{}\"\namount = \"1 m3\"\n",
                     twelve("8", "degC"), twelve("18", "degC"), twelve("60", "mm"),
                     "\"10 10 10 10 10 10 10 10 10 10 10 10\"", material);
}

class LibraryPile : public ::testing::TestWithParam<std::string> {};

TEST_P(LibraryPile, IsAcceptedAndRunsToTheEndWithoutNan) {
  const PileFile file = parse_pile_file(pile_of(GetParam()), {});
  const models::ForecastResult result = models::run_forecast(*file.pile);
  ASSERT_FALSE(result.time_h.empty());
  EXPECT_EQ(result.time_h.back(), 480);
  for (const models::Series& series : result.series) {
    ASSERT_EQ(series.values.size(), result.time_h.size()) << series.name;
    for (const double value : series.values) {
      ASSERT_TRUE(std::isfinite(value)) << series.name;
    }
  }
  for (const models::Field& field : result.fields) {
    for (const double value : field.values) {
      ASSERT_TRUE(std::isfinite(value)) << field.name;
    }
  }
  for (const models::Scalar& scalar : result.scalars) {
    EXPECT_TRUE(std::isfinite(scalar.value) || !scalar.reason.empty()) << scalar.name;
  }
}

/// As the pile above, but after half a year of waiting.
TEST_P(LibraryPile, AgedForHalfAYearIsSoundAndRunsToTheEnd) {
  const std::string text = pile_of(GetParam()) + "age = \"180 days\"\n";
  const PileFile file = parse_pile_file(text, {});
  for (const models::Ingredient& ingredient : file.pile->ingredients) {
    for (const Fault& fault : models::material_faults(ingredient.material, GetParam())) {
      ADD_FAILURE() << fault.what;
    }
  }
  EXPECT_EQ(models::run_forecast(*file.pile).time_h.back(), 480);
}

INSTANTIATE_TEST_SUITE_P(Every, LibraryPile, ::testing::ValuesIn(load_builtin_library().names()),
                         [](const auto& one) { return one.param; });

} // namespace
} // namespace heapcast::cli
