#include "cli/output/csv.hpp"

#include "engine/errors.hpp"
#include "tests/cli/output/sample_forecast.hpp"
#include "tests/cli/output/temporary_folder.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

namespace heapcast::cli {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;

std::string error_of(const std::function<void()>& action) {
  try {
    action();
  } catch (const FileError& error) {
    return error.what();
  }
  return "no FileError";
}

TEST(Csv, WritesTheFiveTables) {
  const TemporaryFolder folder;
  const std::string csv = folder.file("made/on the way");
  write_csv(csv, sample_forecast(), sample_pile().start);
  EXPECT_EQ(text_of(csv + "/series.csv"),
            "time [h],date,core_temperature [degC],air_flow [m3/h],limit\r\n"
            "0,2025-02-28T09:00,12.5,0,cold\r\n"
            "1,2025-02-28T10:00,40.1,0.3333333333333333,none\r\n"
            "2,2025-02-28T11:00,61,,airless\r\n");
  EXPECT_EQ(text_of(csv + "/tests.csv"),
            "time [h],date,test_oxygen_uptake [mmol O2/kg OM/h],test_self_heating [K]\r\n"
            "0,2025-02-28T09:00,31.5,44\r\n"
            "24,2025-03-01T09:00,27.25,\r\n");
  EXPECT_EQ(text_of(csv + "/summary.csv"), "name,value,unit,reason\r\n"
                                           "peak_temperature,61.25,degC,\r\n"
                                           "ready_day,,d,\"not within 60 days, \"\"hot\"\"\"\r\n"
                                           "water_added,120,litre,\r\n"
                                           "labour_hours,7.5,hours,\r\n");
  EXPECT_EQ(text_of(csv + "/events.csv"),
            "day [d],date,kind,reason,water [litre],material [kg]\r\n"
            "1.0416666666666667,2025-03-01T10:00,turn,every 2 days,0,0\r\n"
            "2,2025-03-02T09:00,refused,turn: frost,0,0\r\n"
            "3,2025-03-03T09:00,turn,core_temperature < 50 degC after > 55 degC,40,0\r\n");
  EXPECT_EQ(text_of(csv + "/section.csv"),
            "time [h],date,cell,x [m],z [m],depth [m],volume_at_build [m3],temperature "
            "[degC],moisture [%]\r\n"
            "0,2025-02-28T09:00,0,0.25,0.5,0.5,0.2,12,60\r\n"
            "0,2025-02-28T09:00,1,0.75,0.4,0.1,0.6,13,61\r\n"
            "24,2025-03-01T09:00,0,0.25,0.5,0.5,0.2,60,55\r\n"
            "24,2025-03-01T09:00,1,0.75,0.4,0.1,0.6,45.5,50\r\n");
  EXPECT_EQ(std::distance(fs::directory_iterator(csv), fs::directory_iterator()), 5);
}

TEST(Csv, SeveralRunsHaveATableOfTheirOwn) {
  const TemporaryFolder folder;
  const std::string csv = folder.file("csv");
  write_csv(csv, sample_ensemble(), sample_pile_of_runs());
  EXPECT_EQ(text_of(csv + "/runs.csv"),
            "run,start,failure,peak_temperature [degC],ready_day [d],water_added "
            "[litre],labour_hours [hours],parameter_fast_rate [1/d]\r\n"
            "0,2025-02-28T09:00,,60,,120,7,0.4\r\n"
            "1,2024-02-28T09:00,,70,40,120,8,0.5\r\n"
            "2,2023-02-28T09:00,,65,50,120,9,0.6\r\n"
            "3,2024-02-28T09:00,the bin is too small,,,,,0.7\r\n");
  EXPECT_EQ(text_of(csv + "/series.csv"),
            "time [h],date,core_temperature_low [degC],core_temperature_median "
            "[degC],core_temperature_high [degC],air_flow_low [m3/h],air_flow_median "
            "[m3/h],air_flow_high [m3/h],limit\r\n"
            "0,2025-02-28T09:00,10,12,13,0,0,0,cold\r\n"
            "1,2025-02-28T10:00,35,40,45,0.25,0.5,0.75,none\r\n"
            "2,2025-02-28T11:00,55,60,66,0.5,1,1.5,airless\r\n");
  // Of the three runs that did not fail: 60, 65, 70 give 61 and 69 at places 0.2 and 1.8; 40, 50
  // and none give 42, 50 and nothing.
  EXPECT_EQ(text_of(csv + "/summary.csv"), "name,value,unit,reason,low,high,missing_runs\r\n"
                                           "peak_temperature,65,degC,,61,69,0\r\n"
                                           "ready_day,50,d,not within 60 days,42,,1\r\n"
                                           "water_added,120,litre,,120,120,0\r\n"
                                           "labour_hours,8,hours,,7.2,8.8,0\r\n");
  EXPECT_TRUE(fs::exists(csv + "/events.csv"));
  EXPECT_TRUE(fs::exists(csv + "/section.csv"));
}

TEST(Csv, ReplacesTheTablesOfAnEarlierRun) {
  const TemporaryFolder folder;
  write_csv(folder.file("csv"), full_size_forecast(), sample_pile().start);
  write_csv(folder.file("csv"), sample_forecast(), sample_pile().start);
  EXPECT_LT(text_of(folder.file("csv/series.csv")).size(), 300U);
}

TEST(Csv, AForecastWithoutSectionOrEventsHasOnlyHeadings) {
  const TemporaryFolder folder;
  models::ForecastResult result;
  write_csv(folder.file("csv"), result, sample_pile().start);
  EXPECT_EQ(text_of(folder.file("csv/series.csv")), "time [h],date,limit\r\n");
  EXPECT_EQ(text_of(folder.file("csv/tests.csv")), "time [h],date\r\n");
  EXPECT_EQ(text_of(folder.file("csv/section.csv")),
            "time [h],date,cell,x [m],z [m],depth [m],volume_at_build [m3]\r\n");
}

TEST(Csv, AFolderThatCannotBeMadeIsTold) {
  const TemporaryFolder folder;
  std::ofstream(folder.file("file")) << "in the way";
  for (const char* name : {"file", "file/csv"}) {
    EXPECT_THAT(
        error_of([&] { write_csv(folder.file(name), sample_forecast(), sample_pile().start); }),
        AllOf(HasSubstr(folder.file(name)), HasSubstr("Not a directory"),
              HasSubstr("give a folder you may write to")));
  }
  EXPECT_THAT(error_of([&] { write_csv("", sample_forecast(), sample_pile().start); }),
              HasSubstr("cannot be made"));
}

TEST(Csv, AFolderInTheWayOfATableIsTold) {
  const TemporaryFolder folder;
  fs::create_directories(folder.file("csv/summary.csv"));
  EXPECT_THAT(
      error_of([&] { write_csv(folder.file("csv"), sample_forecast(), sample_pile().start); }),
      AllOf(HasSubstr("summary.csv"), HasSubstr("it is a folder")));
}

} // namespace
} // namespace heapcast::cli
