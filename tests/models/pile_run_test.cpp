#include "models/pile_run.hpp"

#include "engine/errors.hpp"
#include "models/forecast.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace heapcast::models {
namespace {

using testing::HasSubstr;

TEST(PileRun, NamesAStartThatIsNoTime) {
  PileDescription pile = tests::mild_heap(1.0);
  for (const std::string start : {"", "2021-04-05", "5 April 2021, 09", "2021-04-05T9:00"}) {
    pile.start = start;
    try {
      (void)run_forecast(pile);
      ADD_FAILURE() << start << " was taken";
    } catch (const InputError& error) {
      EXPECT_THAT(error.what(), HasSubstr('"' + start + '"'));
      EXPECT_THAT(error.what(), HasSubstr("2025-03-01T09:00"));
    }
  }
}

} // namespace
} // namespace heapcast::models
