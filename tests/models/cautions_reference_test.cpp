// From where on a caution applies, against field.csv: found by asking, not read from the source.

#include "models/cautions.hpp"
#include "tests/reference_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <string>
#include <vector>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::reference_row;
using tests::ReferenceRow;
using tests::within;

bool fire_applies(const CautionFigures& figures) {
  const std::vector<Caution> all = cautions(figures);
  const auto fire = std::ranges::find(all, Danger::fire, &Caution::danger);
  return fire != all.end() && fire->applies;
}

/// Where the caution of fire begins or ends to apply as one figure goes from `low` to `high`.
double edge(double low, double high, const std::function<CautionFigures(double)>& with) {
  const bool at_low = fire_applies(with(low));
  EXPECT_NE(at_low, fire_applies(with(high)));
  while (high - low > 1e-6) {
    const double middle = 0.5 * (low + high);
    (fire_applies(with(middle)) == at_low ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

ReferenceRow field_row(const std::string& id) {
  static const CsvTable field("field.csv");
  return reference_row(field, id);
}

constexpr double found = 1e-5; // of the bisection

TEST(CautionsReference, FireIsWarnedOfFromThePublishedHeightOn) {
  expect_row(field_row("sc_height"),
             edge(1.0, 10.0,
                  [](double height_m) {
                    CautionFigures f;
                    f.height_m = height_m;
                    return f;
                  }),
             within(field_row("sc_height"), found));
}

TEST(CautionsReference, FireIsWarnedOfAtTheUpperLimitOfBiologicalHeat) {
  // 75 to 82 degC, the row's own range.
  expect_row(field_row("sc_bio_max"),
             edge(20.0, 120.0,
                  [](double hottest_degC) {
                    CautionFigures f;
                    f.hottest_degC = hottest_degC;
                    return f;
                  }),
             {75.0, 82.0});
}

TEST(CautionsReference, HotMaterialIsTooDryBelowThePublishedMoisture) {
  expect_row(field_row("sc_moist_hi"),
             edge(10.0, 90.0,
                  [](double moisture_percent) {
                    CautionFigures f;
                    f.hottest_degC = 75.0;
                    f.driest_where_warm_percent = moisture_percent;
                    return f;
                  }),
             within(field_row("sc_moist_hi"), found));
}

} // namespace
} // namespace heapcast::models
