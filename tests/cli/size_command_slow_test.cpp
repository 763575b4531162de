// `heapcast size` as people run it.

#include "engine/results_file.hpp"
#include "tests/cli/program.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <cstddef>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using testing::HasSubstr;

/// The hill farm's pile, coarse, with few runs and a short winter, for seconds.
class SizeCommand : public tests::Program {
protected:
  std::vector<std::string> words(const std::vector<std::string>& more) const {
    const std::string pile = HEAPCAST_EXAMPLES_DIR "/06_hill_farm_winter/pile.toml";
    std::vector<std::string> all = {
        "size", pile,    "--resolution", "coarse", "--runs",
        "10",   "--set", "run.days=8",   "--set",  "size.limit=turns == 0"};
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }
};

TEST_F(SizeCommand, FindsTheSmallestSizeAndItsShareStandsInTheFile) {
  // Materials of 15 degC in frost: the larger, the hotter in the first days.
  const std::string file = result("sizes.h5");
  ASSERT_EQ(run(words({"--goal", "highest(core_temperature) > 52", "--probability", "0.5", "--json",
                       "-o", file})),
            0)
      << err();
  const auto json = nlohmann::json::parse(out());
  const double size = json["smallest"]["size"];
  EXPECT_GT(size, 0.8);
  EXPECT_LE(size, 3.2);
  const auto& curve = json["curve"];
  ASSERT_GE(curve.size(), 5U);
  for (const auto& point : curve) {
    if (point["size"] == size) {
      EXPECT_GE(point["goal"]["probability"], 0.5);
    }
    EXPECT_EQ(point["limit"]["probability"], 1.0);
  }
  const engine::Dataset data = engine::read_results_file(file);
  const engine::Variable* sizes = data.variable("pile_size");
  const engine::Variable* met = data.variable("goal_met");
  const engine::Variable* peak = data.variable("peak_temperature");
  ASSERT_TRUE(sizes != nullptr && met != nullptr && peak != nullptr);
  ASSERT_EQ(sizes->values.size(), curve.size());
  for (std::size_t i = 0; i < curve.size(); ++i) {
    EXPECT_EQ(sizes->values[i], curve[i]["size"]);
    double count = 0.0;
    for (std::size_t r = 0; r < 10; ++r) {
      count += met->values[10 * i + r];
      // The same question, asked of the run's number.
      EXPECT_EQ(met->values[10 * i + r] == 1.0, peak->values[10 * i + r] > 52.0);
    }
    EXPECT_EQ(count, curve[i]["goal"]["runs"]);
  }
}

TEST_F(SizeCommand, ThreadsChangeNothing) {
  const auto asked = [&](const char* threads) {
    EXPECT_EQ(run(words({"--goal", "highest(core_temperature) > 52", "--probability", "0.5",
                         "--threads", threads, "--json"})),
              0);
    return out();
  };
  EXPECT_EQ(asked("1"), asked("3"));
}

TEST_F(SizeCommand, SaysWhenNoSizeDoesAndWhatWasTriedToHelp) {
  ASSERT_EQ(run(words({"--goal", "lowest(core_temperature) > 300", "--json"})), 0) << err();
  const auto json = nlohmann::json::parse(out());
  EXPECT_TRUE(json["smallest"]["size"].is_null());
  EXPECT_THAT(std::string(json["answer"]), HasSubstr("No height from 0.8 m to 3.2 m reaches"));
  EXPECT_GE(json["would_help"].size(), 5U);
  for (const auto& help : json["would_help"]) {
    EXPECT_EQ(help["goal"]["runs"], 0) << help["change"];
    // What it comes to is told all the same.
    const auto& condition = help["goal"]["conditions"][0];
    EXPECT_EQ(condition["measured"]["formula"], "lowest(core_temperature)");
    EXPECT_LT(condition["measured"]["mid"], 20.0);
  }
}

TEST_F(SizeCommand, PutsHelpsTogetherAndSearchesAgain) {
  // Built in November it is not there yet; turned, and built in September, it is.
  ASSERT_EQ(run(words({"--goal", "turns >= 1 and first_day(air_temperature > 12) < 3", "--set",
                       "size.limit=none", "--json"})),
            0)
      << err();
  const auto json = nlohmann::json::parse(out());
  EXPECT_TRUE(json["smallest"]["size"].is_null());
  EXPECT_TRUE(json["largest"].is_null());
  ASSERT_EQ(json["put_together"].size(), 1U) << json["would_help"];
  const std::string change = json["with_help"]["change"];
  EXPECT_THAT(change, HasSubstr("turned every 7 days"));
  EXPECT_THAT(change, HasSubstr("on 2025-09-21"));
  EXPECT_EQ(json["put_together"][0]["change"], change);
  EXPECT_EQ(json["with_help"]["smallest"]["size"], 0.8);
}

TEST_F(SizeCommand, AnEndOfTheRangeIsSaidToBeOne) {
  ASSERT_EQ(run(words({"--goal", "turns == 0"})), 0) << err();
  EXPECT_THAT(out(), HasSubstr("It is the smallest that was tried"));
  EXPECT_THAT(out(), HasSubstr("It is the largest that was tried"));
  EXPECT_THAT(out(), HasSubstr("Between 0.8 m and 3.2 m it does both."));
}

} // namespace
} // namespace heapcast::cli
