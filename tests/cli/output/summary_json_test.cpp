#include "cli/output/summary_json.hpp"

#include "tests/cli/output/sample_forecast.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace heapcast::cli {
namespace {

TEST(SummaryJson, SaysEverythingInAFixedOrder) {
  EXPECT_EQ(summary_json(sample_pile(), sample_forecast(), sample_context()).dump(1), R"json({
 "schema_version": 1,
 "program_version": "0.1.0",
 "title": "An invented heap, 3 °C at the start",
 "start": "2025-02-28T09:00",
 "resolution": "standard",
 "horizon_days": 60.0,
 "seed": 42,
 "results": {
  "peak_temperature": {
   "value": 61.25,
   "unit": "degC"
  },
  "ready_day": {
   "value": null,
   "unit": "d",
   "reason": "not within 60 days, \"hot\""
  },
  "water_added": {
   "value": 120.0,
   "unit": "litre"
  },
  "labour_hours": {
   "value": 7.5,
   "unit": "hours"
  }
 },
 "events": {
  "turn": 2,
  "water": 0,
  "add": 0,
  "cover": 0,
  "refused": 1
 },
 "warnings": [
  "Very wet at the start.",
  "Hot and dry: measure."
 ],
 "weather": {
  "source": "weather.csv",
  "checksum": "00ff00ff00ff00ff",
  "estimates": [
   {
    "column": "humidity",
    "method": "dew point equals tmin (FAO-56 eq. 48)"
   },
   {
    "column": "wind",
    "method": "2 m/s (FAO-56)"
   }
  ]
 }
})json");
}

TEST(SummaryJson, SeveralRunsGiveMedianIntervalAndWhatIsMissing) {
  const auto json = summary_json(sample_pile(), sample_ensemble(), sample_context());
  EXPECT_EQ(json["runs"], 4);
  EXPECT_EQ(json["failed_runs"], 1);
  // Three runs that did not fail, 60, 65, 70: places 0.2, 1 and 1.8.
  EXPECT_EQ(json["results"]["peak_temperature"].dump(),
            R"({"value":65.0,"low":61.0,"high":69.0,"missing_runs":0,"unit":"degC"})");
  // 40, 50 and one beyond: nothing is at place 1.8.
  EXPECT_EQ(json["results"]["ready_day"].dump(),
            R"({"value":50.0,"low":42.0,"high":null,"missing_runs":1,"unit":"d",)"
            R"("reason":"not within 60 days"})");
  EXPECT_EQ(json["warnings"].size(), 2U);
}

TEST(SummaryJson, EmptyListsAndObjectsStayListsAndObjects) {
  models::PileDescription pile = sample_pile();
  pile.weather = nullptr;
  const auto json = summary_json(pile, models::ForecastResult{}, sample_context());
  EXPECT_EQ(json["results"].dump(), "{}");
  EXPECT_EQ(json["warnings"].dump(), "[]");
  EXPECT_EQ(json["weather"]["estimates"].dump(), "[]");
}

TEST(SummaryJson, WhatJsonCannotWriteIsNull) {
  models::ForecastResult result;
  result.scalars = {
      {"ratio", "1", "a ratio", std::numeric_limits<double>::infinity(), "no nitrogen"}};
  const auto json = summary_json(sample_pile(), result, sample_context());
  EXPECT_TRUE(json["results"]["ratio"]["value"].is_null());
  EXPECT_EQ(json["results"]["ratio"]["reason"], "no nitrogen");
}

} // namespace
} // namespace heapcast::cli
