#include "cli/output/cf_unit.hpp"

#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

// Every right-hand side is accepted by the udunits2 program, version 2.2.28.
TEST(CfUnit, WritesFractionsWithNegativePowers) {
  EXPECT_EQ(cf_unit("m3/h"), "m3 h-1");
  EXPECT_EQ(cf_unit("m³/h"), "m3 h-1");
  EXPECT_EQ(cf_unit("W/m2/K"), "W m-2 K-1");
  EXPECT_EQ(cf_unit("kg/m3"), "kg m-3");
  EXPECT_EQ(cf_unit("1/d"), "d-1");
}

TEST(CfUnit, LeavesOutWhatTheAmountIsOf) {
  EXPECT_EQ(cf_unit("kg C"), "kg");
  EXPECT_EQ(cf_unit("kg N"), "kg");
  EXPECT_EQ(cf_unit("vol %"), "%");
  EXPECT_EQ(cf_unit("mmol O2/kg OM/h"), "mmol kg-1 h-1");
  EXPECT_EQ(cf_unit("mg CO2/g VS/d"), "mg g-1 d-1");
  EXPECT_EQ(cf_unit("mg CO2-C/g OM/d"), "mg g-1 d-1");
}

TEST(CfUnit, NoUnitIsOne) {
  EXPECT_EQ(cf_unit(""), "1");
  EXPECT_EQ(cf_unit("-"), "1");
  EXPECT_EQ(cf_unit("1"), "1");
  EXPECT_EQ(cf_unit("log10"), "1");
}

TEST(CfUnit, NamesNoUnitThatXarrayTakesForATimeSpan) {
  EXPECT_EQ(cf_unit("days"), "day");
  EXPECT_EQ(cf_unit("hours"), "h");
  EXPECT_EQ(cf_unit("minutes"), "min");
  EXPECT_EQ(cf_unit("seconds"), "s");
}

TEST(CfUnit, ChangesOnlyWhatUdunitsDoesNotKnow) {
  for (const char* unit : {"degC", "%", "kg", "m3", "litre", "day", "h", "m3 h-1", "kPa"}) {
    EXPECT_EQ(cf_unit(unit), unit);
  }
  EXPECT_EQ(cf_unit("°C"), "degC");
  EXPECT_EQ(cf_unit("kWh"), "kW h");
  EXPECT_EQ(cf_unit("kg/kWh"), "kg kW-1 h-1");
}

} // namespace
} // namespace heapcast::cli
