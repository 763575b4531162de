#include "cli/output/forecast_dataset.hpp"

#include "tests/cli/output/sample_forecast.hpp"
#include "tests/cli/output/temporary_folder.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <stdexcept>

namespace heapcast::cli {
namespace {

using engine::AttributeValue;
using engine::Dataset;
using testing::ElementsAre;

std::string text_attribute(const engine::Attributes& attributes, const std::string& name) {
  for (const auto& [key, value] : attributes) {
    if (key == name) {
      return std::get<std::string>(value);
    }
  }
  return "no attribute " + name;
}

Dataset sample_dataset() {
  return forecast_dataset(sample_pile(), sample_forecast(), sample_context());
}

TEST(ForecastDataset, HasOneRunAndTheTimesOfTheForecast) {
  const Dataset data = sample_dataset();
  EXPECT_EQ(data.dimension("run")->size, 1U);
  EXPECT_THAT(data.dimension("time")->values, ElementsAre(0, 1, 2));
  EXPECT_THAT(data.dimension("field_time")->values, ElementsAre(0, 24));
  EXPECT_EQ(text_attribute(data.dimension("time")->attributes, "units"),
            "hours since 2025-02-28 09:00:00");
  EXPECT_EQ(text_attribute(data.dimension("time")->attributes, "standard_name"), "time");
  EXPECT_EQ(text_attribute(data.dimension("time")->attributes, "calendar"), "standard");
}

TEST(ForecastDataset, SeriesKeepNameValuesAndUnit) {
  const Dataset data = sample_dataset();
  const engine::Variable& flow = *data.variable("air_flow");
  EXPECT_THAT(flow.dimensions, ElementsAre("run", "time"));
  EXPECT_EQ(flow.values[1], 1.0 / 3.0);
  EXPECT_EQ(text_attribute(flow.attributes, "units"), "m3 h-1");
  EXPECT_EQ(text_attribute(flow.attributes, "display_units"), "m3/h");
  EXPECT_EQ(text_attribute(flow.attributes, "long_name"), "air through the pile");
}

TEST(ForecastDataset, LaboratoryTestsHaveTheirOwnTimes) {
  const Dataset data = sample_dataset();
  EXPECT_THAT(data.dimension("test_time")->values, ElementsAre(0, 24));
  EXPECT_EQ(text_attribute(data.dimension("test_time")->attributes, "units"),
            "hours since 2025-02-28 09:00:00");
  const engine::Variable& uptake = *data.variable("test_oxygen_uptake");
  EXPECT_THAT(uptake.dimensions, ElementsAre("run", "test_time"));
  EXPECT_THAT(uptake.values, ElementsAre(31.5, 27.25));
  EXPECT_EQ(text_attribute(uptake.attributes, "units"), "mmol kg-1 h-1");
  const engine::Variable& decided_by = *data.variable("ready_decided_by");
  EXPECT_THAT(decided_by.dimensions, ElementsAre("run"));
  EXPECT_THAT(decided_by.texts, ElementsAre("oxygen_uptake, hygiene"));
}

TEST(ForecastDataset, AMissingNumberHasItsReasonBesideIt) {
  const Dataset data = sample_dataset();
  EXPECT_TRUE(std::isnan(data.variable("ready_day")->values[0]));
  EXPECT_THAT(data.variable("ready_day_reason")->texts, ElementsAre("not within 60 days, \"hot\""));
  EXPECT_THAT(data.variable("ready_day_reason")->dimensions, ElementsAre("run"));
  EXPECT_EQ(text_attribute(data.variable("ready_day")->attributes, "ancillary_variables"),
            "ready_day_reason");
  EXPECT_EQ(data.variable("water_added")->values[0], 120);
  EXPECT_EQ(data.variable("water_added_reason"), nullptr);
}

TEST(ForecastDataset, TheLimitIsAFlag) {
  const Dataset data = sample_dataset();
  const engine::Variable& limit = *data.variable("limit");
  EXPECT_THAT(limit.flags,
              ElementsAre("none", "cold", "hot", "dry", "airless", "food", "nitrogen"));
  EXPECT_THAT(limit.values, ElementsAre(1, 0, 4));
  models::ForecastResult odd = sample_forecast();
  odd.limit[0] = "moon";
  EXPECT_THROW((void)forecast_dataset(sample_pile(), odd, sample_context()), std::invalid_argument);
}

TEST(ForecastDataset, TheSectionHasCentresCornersAndFields) {
  const Dataset data = sample_dataset();
  EXPECT_THAT(data.variable("cell_depth")->values, ElementsAre(0.5, 0.1));
  EXPECT_EQ(data.dimension("corner")->size, 4U);
  const std::vector<double>& x = data.variable("cell_corner_x")->values;
  ASSERT_EQ(x.size(), 8U);
  EXPECT_TRUE(std::isnan(x[3])); // the triangle has no fourth corner
  EXPECT_EQ(x[6], 1);
  EXPECT_EQ(data.variable("cell_corner_z")->values[6], 0.8);
  const engine::Variable& temperature = *data.variable("temperature");
  EXPECT_THAT(temperature.dimensions, ElementsAre("run", "field_time", "cell"));
  EXPECT_THAT(temperature.values, ElementsAre(12, 13, 60, 45.5));
}

TEST(ForecastDataset, EventsAreThereAlsoWhenThereAreNone) {
  const Dataset data = sample_dataset();
  EXPECT_THAT(data.variable("event_kind")->texts, ElementsAre("turn", "refused", "turn"));
  EXPECT_THAT(data.variable("event_litres")->values, ElementsAre(0, 0, 40));
  models::ForecastResult quiet = sample_forecast();
  quiet.events.clear();
  const Dataset none = forecast_dataset(sample_pile(), quiet, sample_context());
  EXPECT_EQ(none.dimension("event")->size, 0U);
  EXPECT_TRUE(none.variable("event_day")->values.empty());
}

TEST(ForecastDataset, TheRootSaysHowToMakeTheRunAgain) {
  const Dataset data = sample_dataset();
  const auto text = [&](const char* name) { return text_attribute(data.attributes, name); };
  EXPECT_EQ(text("Conventions"), "CF-1.8");
  EXPECT_EQ(*data.attribute("schema_version"), AttributeValue(std::int64_t{1}));
  EXPECT_EQ(text("program_version"), "0.1.0");
  EXPECT_EQ(*data.attribute("seed"), AttributeValue(std::int64_t{42}));
  EXPECT_EQ(text("command_options"), "--resolution fine");
  EXPECT_EQ(text("pile_file"), sample_pile().text);
  EXPECT_EQ(text("weather_source"), "weather.csv");
  EXPECT_EQ(text("weather_checksum"), "00ff00ff00ff00ff");
  EXPECT_EQ(text("weather_estimates"),
            "humidity: dew point equals tmin (FAO-56 eq. 48)\nwind: 2 m/s (FAO-56)");
  EXPECT_EQ(text("warnings"), "Very wet at the start.\nHot and dry: measure.");
  EXPECT_EQ(text("start"), "2025-02-28T09:00");
  EXPECT_EQ(text("resolution"), "standard");
}

TEST(ForecastDataset, TheTimeTheRunTookDoesNotChangeTheFile) {
  const TemporaryFolder folder;
  models::ForecastResult slower = sample_forecast();
  slower.compute_seconds *= 2;
  engine::write_results_file(folder.file("a.h5"), sample_dataset());
  engine::write_results_file(folder.file("b.h5"),
                             forecast_dataset(sample_pile(), slower, sample_context()));
  EXPECT_EQ(text_of(folder.file("a.h5")), text_of(folder.file("b.h5")));
}

/// What xarray makes of the file, one thing a line.
constexpr const char* forecast_script = R"(
import sys, xarray
data = xarray.open_dataset(sys.argv[1], engine=sys.argv[2])
print(data.time.values[-1], data.field_time.values[-1])
print(data.core_temperature.sel(time='2025-02-28T10:00').values.tolist())
print(data.temperature.dims, sorted(data.temperature.coords))
print(data.labour_hours.values.tolist(), data.ready_day.values.tolist())
print(data.limit.attrs['flag_meanings'].split()[int(data.limit[0, 2])])
print(str(data.ready_day_reason.values[0]), [str(kind) for kind in data.event_kind.values])
print(data.attrs['pile_file'].splitlines()[0], data.attrs['title'])
)";

TEST(ForecastDataset, XarrayDecodesTimesFlagsAndTexts) {
  const TemporaryFolder folder;
  engine::write_results_file(folder.file("a.h5"), sample_dataset());
  std::ofstream(folder.file("read.py")) << forecast_script;
  for (const char* engine : {"netcdf4", "h5netcdf"}) {
    FILE* pipe = popen(("PYTHONIOENCODING=utf-8 /usr/bin/python3 " + folder.file("read.py") + " " +
                        folder.file("a.h5") + " " + engine + " 2>&1")
                           .c_str(),
                       "r");
    ASSERT_NE(pipe, nullptr);
    std::string output;
    for (std::array<char, 4096> buffer{}; std::fgets(buffer.data(), buffer.size(), pipe);) {
      output += buffer.data();
    }
    EXPECT_EQ(pclose(pipe), 0);
    EXPECT_EQ(output, "2025-02-28T11:00:00.000000000 2025-03-01T09:00:00.000000000\n"
                      "[40.1]\n"
                      "('run', 'field_time', 'cell') ['cell_depth', 'cell_x', 'cell_z', "
                      "'field_time']\n"
                      "[7.5] [nan]\n"
                      "airless\n"
                      "not within 60 days, \"hot\" ['turn', 'refused', 'turn']\n"
                      "title = \"An invented heap\" An invented heap, 3 °C at the start\n")
        << engine;
  }
}

TEST(ForecastDataset, AFullSizeFileIsSmallAndQuick) {
  const TemporaryFolder folder;
  const models::ForecastResult result = full_size_forecast();
  const Dataset data = forecast_dataset(sample_pile(), result, sample_context());
  using Clock = std::chrono::steady_clock;
  const auto start = Clock::now();
  engine::write_results_file(folder.file("a.h5"), data);
  const auto written = Clock::now();
  const Dataset found = engine::read_results_file(folder.file("a.h5"));
  const auto read = Clock::now();
  const auto bytes = std::filesystem::file_size(folder.file("a.h5"));
  const std::chrono::duration<double, std::milli> write_ms = written - start;
  const std::chrono::duration<double, std::milli> read_ms = read - written;
  RecordProperty("write_ms", std::to_string(write_ms.count()));
  RecordProperty("read_ms", std::to_string(read_ms.count()));
  RecordProperty("bytes", std::to_string(bytes));

  EXPECT_EQ(found.variable("field_5")->values, data.variable("field_5")->values);
  // 35 x 1441 + 6 x 61 x 100 doubles are 696 kB; the rest of the file has to stay below as much.
  EXPECT_LT(bytes, 2U * 8U * (35U * 1441U + 6U * 61U * 100U));
  // Ten times and more what it takes, so that a busy machine does not fail it.
  EXPECT_LT(write_ms.count(), 2000);
  EXPECT_LT(read_ms.count(), 2000);
}

Dataset dataset_of_runs() {
  return forecast_dataset(sample_pile_of_runs(), sample_ensemble(), sample_context());
}

TEST(ForecastDatasetOfRuns, SeriesAreBandsOverQuantiles) {
  const Dataset data = dataset_of_runs();
  EXPECT_EQ(data.dimension("run")->size, 4U);
  EXPECT_THAT(data.dimension("quantile")->values, ElementsAre(0.1, 0.5, 0.9));
  const engine::Variable& core = *data.variable("core_temperature");
  EXPECT_THAT(core.dimensions, ElementsAre("quantile", "time"));
  EXPECT_THAT(core.values, ElementsAre(10, 35, 55, 12, 40, 60, 13, 45, 66));
  EXPECT_EQ(text_attribute(core.attributes, "units"), "degC");
  EXPECT_EQ(text_attribute(core.attributes, "comment"),
            "points of the runs' distribution, time by time");
}

TEST(ForecastDatasetOfRuns, EveryRunHasItsNumbersAndWhatItWasMadeOf) {
  const Dataset data = dataset_of_runs();
  const engine::Variable& peak = *data.variable("peak_temperature");
  EXPECT_THAT(peak.dimensions, ElementsAre("run"));
  EXPECT_THAT(std::vector(peak.values.begin(), peak.values.begin() + 3), ElementsAre(60, 70, 65));
  EXPECT_TRUE(std::isnan(peak.values[3]));
  EXPECT_EQ(std::get<double>(peak.attributes[2].second), 61.25) << peak.attributes[2].first;
  EXPECT_THAT(data.variable("ready_day_reason")->texts,
              ElementsAre("not within 60 days", "", "", "the run failed"));
  EXPECT_THAT(data.variable("ready_decided_by")->texts,
              ElementsAre("oxygen_uptake", "above_air", "above_air", ""));
  EXPECT_THAT(
      data.variable("run_start")->texts,
      ElementsAre("2025-02-28T09:00", "2024-02-28T09:00", "2023-02-28T09:00", "2024-02-28T09:00"));
  EXPECT_THAT(data.variable("run_failure")->texts, ElementsAre("", "", "", "the bin is too small"));
  EXPECT_THAT(data.variable("parameter_fast_rate")->values, ElementsAre(0.4, 0.5, 0.6, 0.7));
  EXPECT_EQ(data.variable("parameter_medium_rate"), nullptr); // given, so the pile file has it
  EXPECT_EQ(std::get<std::int64_t>(*data.attribute("runs")), 4);
  EXPECT_EQ(std::get<std::int64_t>(*data.attribute("failed_runs")), 1);
  EXPECT_EQ(std::get<std::string>(*data.attribute("first_failure")), "the bin is too small");
}

TEST(ForecastDatasetOfRuns, SectionLimitAndEventsAreTheCentralRuns) {
  const Dataset data = dataset_of_runs();
  const std::string words = "of the run with the pile's own parameters and weather";
  EXPECT_THAT(data.variable("temperature")->dimensions, ElementsAre("field_time", "cell"));
  EXPECT_EQ(text_attribute(data.variable("temperature")->attributes, "comment"), words);
  EXPECT_THAT(data.variable("limit")->dimensions, ElementsAre("time"));
  EXPECT_EQ(text_attribute(data.variable("limit")->attributes, "comment"), words);
  EXPECT_EQ(text_attribute(data.variable("event_day")->attributes, "comment"), words);
  EXPECT_THAT(data.variable("cell_depth")->dimensions, ElementsAre("cell"));
}

TEST(ForecastDatasetOfRuns, CanBeWrittenAndReadAgain) {
  const TemporaryFolder folder;
  engine::write_results_file(folder.file("runs.h5"), dataset_of_runs());
  const Dataset data = engine::read_results_file(folder.file("runs.h5"));
  EXPECT_EQ(data.variable("core_temperature")->values,
            dataset_of_runs().variable("core_temperature")->values);
  EXPECT_EQ(data.variable("run_start")->texts, sample_ensemble().start);
}

} // namespace
} // namespace heapcast::cli
