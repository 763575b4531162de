#include "cli/output/comparison_output.hpp"

#include "tests/cli/output/temporary_folder.hpp"
#include "tests/cli/sample_comparison.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using engine::Dataset;
using engine::Variable;
using testing::ElementsAre;
using testing::HasSubstr;

const ComparisonInfo info{"An invented heap, turned or not",
                          {.program_version = "0.1.0", .seed = 42, .command_options = "--runs 2"}};

/// A run of three hours and one of five.
std::vector<ComparedPile> single() {
  return {one_run_of("weekly", {.ready_day = 34, .labour_h = 6}, 3),
          one_run_of("never", {.labour_h = 2}, 5)};
}

std::vector<ComparedPile> several() {
  return {runs_of("weekly", {{.ready_day = 34, .labour_h = 6}, {.ready_day = 36, .labour_h = 8}}),
          runs_of("never", {{.ready_day = 50, .labour_h = 2}, {.labour_h = 2}}, 5)};
}

TEST(ComparisonDataset, OneRunEachHasCurvesOverVariantAndTime) {
  const Dataset data = comparison_dataset(single(), info);
  EXPECT_EQ(data.dimension("variant")->size, 2U);
  EXPECT_EQ(data.dimension("run")->size, 1U);
  EXPECT_EQ(data.dimension("quantile"), nullptr);
  EXPECT_THAT(data.dimension("time")->values, ElementsAre(0, 1, 2, 3, 4));
  const Variable& core = *data.variable("core_temperature");
  EXPECT_THAT(core.dimensions, ElementsAre("variant", "time"));
  EXPECT_THAT(core.values,
              ElementsAre(10, 11, 12, testing::IsNan(), testing::IsNan(), 10, 11, 12, 13, 14));
}

TEST(ComparisonDataset, SeveralRunsHaveCurvesOverVariantQuantileAndTime) {
  const Dataset data = comparison_dataset(several(), info);
  EXPECT_EQ(data.dimension("run")->size, 2U);
  EXPECT_THAT(data.dimension("quantile")->values, ElementsAre(0.1, 0.5, 0.9));
  const Variable& core = *data.variable("core_temperature");
  EXPECT_THAT(core.dimensions, ElementsAre("variant", "quantile", "time"));
  ASSERT_EQ(core.values.size(), 2U * 3U * 5U);
  // Points 2 K below, at and 3 K above 10, 11, 12 degC; two hours more of the other pile.
  const auto nan = testing::IsNan();
  EXPECT_THAT(std::vector(core.values.begin(), core.values.begin() + 15),
              ElementsAre(8, 9, 10, nan, nan, 10, 11, 12, nan, nan, 13, 14, 15, nan, nan));
  EXPECT_THAT(std::vector(core.values.end() - 5, core.values.end()),
              ElementsAre(13, 14, 15, 16, 17));
}

TEST(ComparisonDataset, CurvesWrittenAtOtherStepsKeepTheirHours) {
  std::vector<ComparedPile> piles = single();
  models::ForecastResult& sparse = piles[0].result.central;
  sparse.time_h = {0, 2, 4};
  const Dataset data = comparison_dataset(piles, info);
  const auto nan = testing::IsNan();
  EXPECT_THAT(data.dimension("time")->values, ElementsAre(0, 1, 2, 3, 4));
  EXPECT_THAT(data.variable("core_temperature")->values,
              ElementsAre(10, nan, 11, nan, 12, 10, 11, 12, 13, 14));
}

TEST(ComparisonDataset, NumbersAreOfEveryRunWithTheirUnits) {
  const Dataset data = comparison_dataset(several(), info);
  const Variable& ready = *data.variable("ready_day");
  EXPECT_THAT(ready.dimensions, ElementsAre("variant", "run"));
  EXPECT_THAT(ready.values, ElementsAre(34, 36, 50, testing::IsNan()));
  EXPECT_THAT(data.variable("labour_hours")->values, ElementsAre(6, 8, 2, 2));
  EXPECT_THAT(data.variable("variant_name")->texts, ElementsAre("weekly", "never"));
  EXPECT_THAT(data.variable("variant_start")->texts,
              ElementsAre("2025-02-28T09:00", "2025-02-28T09:00"));
  EXPECT_EQ(data.variable("variant_pile_file")->texts[0], "title = \"An invented heap\"\n");
  EXPECT_EQ(data.variable("ready_decided_by")->texts.size(), 4U);
  EXPECT_EQ(std::get<std::string>(*data.attribute("command_options")), "--runs 2");
  EXPECT_EQ(std::get<std::int64_t>(*data.attribute("seed")), 42);
  EXPECT_EQ(std::get<std::string>(*data.attribute("kind")), "comparison");
}

TEST(ComparisonDataset, AMissingNumberOfAnotherPileIsNotANumber) {
  std::vector<ComparedPile> piles = single();
  piles[0].result.central.scalars.push_back({"peak_temperature", "degC", "peak", 61, ""});
  const Dataset data = comparison_dataset(piles, info);
  EXPECT_THAT(data.variable("peak_temperature")->values, ElementsAre(61, testing::IsNan()));
}

TEST(ComparisonDataset, CanBeWrittenAndReadAgain) {
  const TemporaryFolder folder;
  for (const auto& piles : {single(), several()}) {
    const Dataset written = comparison_dataset(piles, info);
    engine::write_results_file(folder.file("a.h5"), written);
    const Dataset read = engine::read_results_file(folder.file("a.h5"));
    ASSERT_EQ(read.variables.size(), written.variables.size());
    for (const Variable& variable : written.variables) {
      const Variable* found = read.variable(variable.name);
      ASSERT_NE(found, nullptr) << variable.name;
      EXPECT_EQ(found->dimensions, variable.dimensions) << variable.name;
      EXPECT_EQ(found->texts, variable.texts) << variable.name;
      EXPECT_THAT(found->values,
                  testing::Pointwise(testing::NanSensitiveDoubleEq(), variable.values))
          << variable.name;
    }
    for (const char* name : {"variant", "run", "time"}) {
      EXPECT_EQ(read.dimension(name)->size, written.dimension(name)->size) << name;
    }
  }
}

/// What a program prints, with its errors; fails when it does not end with 0.
std::string output_of(const std::string& command) {
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) {
    return "cannot be started";
  }
  std::string output;
  for (std::array<char, 4096> buffer{}; std::fgets(buffer.data(), buffer.size(), pipe);) {
    output += buffer.data();
  }
  EXPECT_EQ(pclose(pipe), 0) << output;
  return output;
}

/// What xarray makes of the file, one thing a line.
constexpr const char* comparison_script = R"(
import sys, xarray
data = xarray.open_dataset(sys.argv[1], engine=sys.argv[2])
print(data.time.values[-1], data['quantile'].values.tolist())
print(data.core_temperature.dims, data.core_temperature.units)
print(data.core_temperature.sel(quantile=0.9, time='2025-02-28T11:00').values.tolist())
print(data.labour_hours.mean('run').values.tolist(), data.ready_day.values.tolist())
print([str(name) for name in data.variant_name.values])
print(data.attrs['title'], data.attrs['kind'], int(data.attrs['seed']))
)";

TEST(ComparisonDataset, XarrayDecodesTimesQuantilesAndNames) {
  const TemporaryFolder folder;
  engine::write_results_file(folder.file("a.h5"), comparison_dataset(several(), info));
  std::ofstream(folder.file("read.py")) << comparison_script;
  for (const char* engine : {"netcdf4", "h5netcdf"}) {
    EXPECT_EQ(output_of("PYTHONIOENCODING=utf-8 /usr/bin/python3 " + folder.file("read.py") + " " +
                        folder.file("a.h5") + " " + engine),
              "2025-02-28T13:00:00.000000000 [0.1, 0.5, 0.9]\n"
              "('variant', 'quantile', 'time') degC\n"
              "[15.0, 15.0]\n"
              "[7.0, 2.0] [[34.0, 36.0], [50.0, nan]]\n"
              "['weekly', 'never']\n"
              "An invented heap, turned or not comparison 42\n")
        << engine;
  }
}

TEST(ComparisonDataset, NcdumpReadsIt) {
  const TemporaryFolder folder;
  engine::write_results_file(folder.file("a.h5"), comparison_dataset(several(), info));
  const std::string header = output_of("ncdump -h " + folder.file("a.h5"));
  EXPECT_THAT(header, HasSubstr("double core_temperature(variant, quantile, time) ;"));
  EXPECT_THAT(header, HasSubstr("double labour_hours(variant, run) ;"));
  EXPECT_THAT(header, HasSubstr("string variant_name(variant) ;"));
  EXPECT_THAT(header, HasSubstr("time:units = \"hours since 2025-02-28 09:00:00\" ;"));
}

TEST(ComparisonJson, GivesEveryPileAndItsDifferenceFromTheFirst) {
  const auto json = comparison_json(several(), info);
  EXPECT_EQ(json["runs"], 2);
  EXPECT_EQ(json["seed"], 42);
  EXPECT_EQ(json["title"], "An invented heap, turned or not");
  ASSERT_EQ(json["variants"].size(), 2U);
  const auto& weekly = json["variants"][0];
  EXPECT_EQ(weekly["name"], "weekly");
  EXPECT_EQ(weekly["decided_by"]["above_air"], 2);
  EXPECT_EQ(weekly["failed_runs"], 0);
  // Of 6 and 8 h: places 0.1, 0.5 and 0.9 of one step.
  EXPECT_DOUBLE_EQ(weekly["results"]["labour_hours"]["low"].get<double>(), 6.2);
  EXPECT_DOUBLE_EQ(weekly["results"]["labour_hours"]["value"].get<double>(), 7.0);
  EXPECT_DOUBLE_EQ(weekly["results"]["labour_hours"]["high"].get<double>(), 7.8);
  EXPECT_EQ(weekly["results"]["labour_hours"]["unit"], "h");
  EXPECT_EQ(json["variants"][1]["results"]["ready_day"]["missing_runs"], 1);
  EXPECT_TRUE(json["variants"][1]["results"]["ready_day"]["high"].is_null());

  ASSERT_EQ(json["differences"].size(), 1U);
  EXPECT_EQ(json["differences"][0]["variant"], "never");
  EXPECT_EQ(json["differences"][0]["against"], "weekly");
  const auto& labour = json["differences"][0]["differences"]["labour_hours"];
  EXPECT_DOUBLE_EQ(labour["value"].get<double>(), -5.0); // of -4 and -6
  EXPECT_EQ(labour["runs_less"], 2);
  EXPECT_EQ(labour["runs_more"], 0);
  EXPECT_EQ(labour["runs_compared"], 2);
  const auto& ready = json["differences"][0]["differences"]["ready_day"];
  EXPECT_EQ(ready["runs_more"], 2); // 16 days and never
  EXPECT_TRUE(ready["high"].is_null());
}

TEST(ComparisonJson, OneRunHasNoInterval) {
  const auto json = comparison_json(single(), info);
  EXPECT_EQ(json["runs"], 1);
  EXPECT_EQ(json["variants"][0]["results"]["ready_day"]["value"], 34.0);
  EXPECT_FALSE(json["variants"][0]["results"]["ready_day"].contains("low"));
  EXPECT_TRUE(json["variants"][1]["results"]["ready_day"]["value"].is_null());
}

TEST(ComparisonJson, FailedRunsAreCountedApart) {
  std::vector<ComparedPile> piles = several();
  fail(piles[0], 1);
  const auto json = comparison_json(piles, info);
  const auto& weekly = json["variants"][0];
  EXPECT_EQ(weekly["failed_runs"], 1);
  EXPECT_EQ(weekly["results"]["labour_hours"]["high"], 6.0);
  EXPECT_EQ(weekly["results"]["labour_hours"]["missing_runs"], 0);
  EXPECT_EQ(weekly["decided_by"].size(), 1U);
  const auto& labour = json["differences"][0]["differences"]["labour_hours"];
  EXPECT_EQ(labour["runs_compared"], 1);
  EXPECT_EQ(labour["value"], -4.0);
}

} // namespace
} // namespace heapcast::cli
