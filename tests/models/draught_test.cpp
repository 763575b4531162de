// A pile so loose that more air passes than it can warm.

#include "models/forecast.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace heapcast::models {
namespace {

TEST(Draught, NoPlaceIsColderThanTheAirOrHotterThanWhatLives) {
  // Air that leaves takes the cell's own warmth with it when there is much of it; were it to leave
  // at the temperature of a skin that only conduction reaches, cells would run away to hundreds of
  // degrees or far below the air.
  PileDescription pile = tests::mild_heap(10.0);
  pile.ingredients = {tests::ingredient(tests::straw(), 1500.0),
                      tests::ingredient(tests::grass(), 300.0)};
  pile.parameters.set(find_parameter("flow_size_scale"), 3.0);
  pile.turning = tests::turning(TurnMethod::fork, 2.0, 2.0);
  const ForecastResult r = run_forecast(pile);
  const auto& air = r.find_series("air_temperature")->values;
  const auto& core = r.find_series("core_temperature")->values;
  const auto& flow = r.find_series("air_flow")->values;
  const auto& volume = r.find_series("volume")->values;
  // Hundreds of changes of air a day: the case that is meant.
  EXPECT_GT(24.0 * *std::max_element(flow.begin(), flow.end()) / volume.front(), 100.0);
  const double coldest_air = *std::min_element(air.begin(), air.end());
  const double hottest_air = *std::max_element(air.begin(), air.end());
  for (const Field& field : r.fields) {
    if (field.name == "temperature") {
      // Evaporation and the night sky cool below the air, sun and life warm above it.
      EXPECT_GT(*std::min_element(field.values.begin(), field.values.end()), coldest_air - 10.0);
      EXPECT_LT(*std::max_element(field.values.begin(), field.values.end()), hottest_air + 30.0);
    }
  }
  EXPECT_LT(*std::max_element(core.begin(), core.end()), hottest_air + 30.0);
}

} // namespace
} // namespace heapcast::models
