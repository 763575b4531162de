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
