#include "cli/summary.hpp"

#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using testing::HasSubstr;
using testing::Not;
using tests::columns;
using tests::lines_of;
using tests::said;

/// A synthetic forecast of `days` days, hot for a while, drying by half a percent a day.
struct Synthetic {
  models::PileDescription pile;
  models::ForecastResult result;
};

Synthetic synthetic(int days) {
  Synthetic made;
  models::PileDescription& pile = made.pile;
  pile.title = "Invented heap";
  pile.start = "2013-10-05T09:00";
  pile.horizon_days = days;
  pile.ingredients.push_back({.material = {}, .wet_mass_kg = 548, .layer = 0});
  auto weather = std::make_shared<models::Weather>();
  weather->start = pile.start;
  weather->rain_kg_m2_h.assign(24 * static_cast<std::size_t>(days), 0.0);
  weather->rain_kg_m2_h.at(72) = 12; // 12 mm on day 3
  weather->air_temperature_K.assign(weather->rain_kg_m2_h.size(), 283.15);
  weather->estimates.push_back({"humidity", "dew point equals tmin"});
  pile.weather = weather;

  models::ForecastResult& result = made.result;
  models::Series core{"core_temperature", "degC", "core temperature", {}};
  models::Series hottest{"max_temperature", "degC", "hottest place", {}};
  models::Series air{"air_temperature", "degC", "air temperature", {}};
  models::Series moisture{"moisture_wet_basis", "%", "moisture", {}};
  models::Series volume{"volume", "m3", "volume", {}};
  models::Series dry{"dry_mass", "kg", "dry mass", {}};
  models::Series water{"water_mass", "kg", "water", {}};
  for (int hour = 0; hour <= 24 * days; ++hour) {
    const double day = hour / 24.0;
    result.time_h.push_back(hour);
    core.values.push_back(day < 5 ? 10 + 11 * day : std::max(12.0, 65 - 2 * (day - 5)));
    hottest.values.push_back(core.values.back() + 3);
    air.values.push_back(10);
    moisture.values.push_back(60 - 0.5 * day);
    volume.values.push_back(2 - day / days);
    dry.values.push_back(200 - 50 * day / days);
    water.values.push_back(300 - 100 * day / days);
    result.limit.emplace_back(day < 2 ? "cold" : day < 8 ? "hot" : "airless");
  }
  result.series = {core, hottest, air, moisture, volume, dry, water};
  result.scalars = {{"peak_temperature", "degC", "", 65, ""},
                    {"peak_day", "d", "", 5, ""},
                    {"days_above_55", "d", "", 5.9, ""},
                    {"carbon_lost_fraction", "1", "", 0.38, ""},
                    {"nitrogen_lost_fraction", "1", "", 0.21, ""},
                    {"volume_fraction", "1", "", 0.5, ""},
                    {"water_added", "litre", "", 240, ""},
                    {"leachate", "litre", "", 12, ""},
                    {"turns", "1", "", 2, ""},
                    {"ready_day", "d", "", std::nan(""), "beyond the horizon"}};
  result.events = {{.day = 7, .kind = "turn", .reason = "every 7 days"},
                   {.day = 14, .kind = "turn", .reason = "every 7 days"},
                   {.day = 21, .kind = "refused", .reason = "frost"}};
  return made;
}

void expect_fits(const std::string& text) {
  const std::vector<std::string> lines = lines_of(text);
  EXPECT_LE(lines.size(), 40U) << text;
  for (const std::string& line : lines) {
    EXPECT_LE(columns(line), 80U) << line;
  }
}

TEST(Summary, AnswersInASentence) {
  const Synthetic made = synthetic(30);
  const std::string text = summary(made.pile, made.result, {});
  expect_fits(text);
  // 10 + 11 t reaches 55 at t = 45/11 = 4.09 d.
  EXPECT_THAT(said(text),
              HasSubstr("Hot from day 4.1: peak 65 °C on day 5.0, 5.9 days above 55 °C."));
  EXPECT_THAT(said(text), HasSubstr("Not ready within 30 days (judged for: garden bed): beyond the "
                                    "horizon."));
}

TEST(Summary, SaysWhenItIsReady) {
  Synthetic made = synthetic(30);
  made.result.scalars.back().value = 26.6;
  // 5 October 09:00 and 26.6 days is 31 October 23:24.
  EXPECT_THAT(said(summary(made.pile, made.result, {})),
              HasSubstr("Ready: day 27 (31 Oct) (judged for: garden bed)."));
  made.result.scalars.pop_back();
  EXPECT_THAT(said(summary(made.pile, made.result, {})), HasSubstr("Ready: not judged."));
}

TEST(Summary, SaysWhatIsLeftAndLost) {
  const Synthetic made = synthetic(30);
  const std::string text = said(summary(made.pile, made.result, {}));
  EXPECT_THAT(text, HasSubstr("60 % at the build, 45 % at the end, least 45 % on day 30"));
  EXPECT_THAT(text, HasSubstr("1 of 2 m3 (50 %), 350 of 500 kg (150 kg dry matter)"));
  EXPECT_THAT(text, HasSubstr("38 % of the carbon, 21 % of the nitrogen"));
  EXPECT_THAT(text, HasSubstr("240 litres added, 12 litres drained out"));
  EXPECT_THAT(text, HasSubstr("turned twice; not done once (frost)"));
  EXPECT_THAT(text, HasSubstr("cold to day 2, its own heat to day 8; now wet and airless"));
  EXPECT_THAT(text, HasSubstr("in the weather: humidity"));
}

TEST(Summary, SaysWhenToWater) {
  const Synthetic made = synthetic(40);
  // 60 - t/2 falls below 45 just after day 30, which is 4 November.
  EXPECT_THAT(said(summary(made.pile, made.result, {})),
              HasSubstr("below 45 % from day 30 (4 Nov): water"));
}

TEST(Summary, DrawsCoreAirTurnsAndRain) {
  const Synthetic made = synthetic(30);
  const auto lines = lines_of(summary(made.pile, made.result, {.utf8 = false}));
  const auto axis = std::ranges::find_if(
      lines, [](const std::string& line) { return line.find("+-") != std::string::npos; });
  ASSERT_NE(axis, lines.end());
  EXPECT_EQ(std::ranges::count(*axis, 'T'), 2);
  // 72 columns for 30 days: day 7 is in column 16, day 14 in column 33, behind "     +".
  EXPECT_EQ((*axis)[6 + 16], 'T');
  EXPECT_EQ((*axis)[6 + 33], 'T');
  // 12 mm in the hour after day 3, in column 7, which is 10 hours wide.
  EXPECT_EQ((*(axis + 1)).substr(0, 4), "rain");
  EXPECT_EQ((*(axis + 1))[6 + 7], '|');
  const auto drawn = [&](char mark) {
    return std::count_if(lines.begin(), axis, [&](const std::string& line) {
      return line.size() > 6 && line[5] == '|' && line.find(mark, 6) != std::string::npos;
    });
  };
  EXPECT_GE(drawn('#'), 8); // the core passes through most lines
  EXPECT_EQ(drawn('.'), 1); // the air is 10 degC all the time
}

TEST(Summary, IsAsciiWithoutUtf8) {
  Synthetic made = synthetic(30);
  made.pile.title = "Haufen bei der Küche";
  made.result.warnings = {"zu heiß"};
  const std::string text = summary(made.pile, made.result, {.utf8 = false});
  EXPECT_TRUE(
      std::ranges::all_of(text, [](char c) { return static_cast<unsigned char>(c) < 0x80; }));
  EXPECT_THAT(text, HasSubstr("K?che"));
  EXPECT_THAT(text, HasSubstr("degC"));
}

TEST(Summary, FitsTheScreenWhateverThereIsToSay) {
  for (const int days : {1, 2, 7, 60, 365, 3650}) {
    for (const bool utf8 : {false, true}) {
      Synthetic made = synthetic(std::max(days, 4));
      made.pile.title = std::string(300, 'x');
      made.pile.horizon_days = 4000;
      made.result.warnings.assign(9, std::string(50, 'w') + " " + std::string(400, 'v'));
      made.pile.ingredients[0].material.group = "manure";
      for (auto& series : made.result.series) {
        if (series.name == "max_temperature") {
          std::ranges::fill(series.values, 85.0);
        }
      }
      for (std::size_t i = 0; i < made.result.limit.size(); ++i) {
        made.result.limit[i] = i / 24 % 2 == 0 ? "nitrogen" : i / 24 % 3 == 0 ? "food" : "none";
      }
      for (auto& event : made.result.events) {
        event.reason = std::string(200, 'r');
      }
      auto weather = std::make_shared<models::Weather>(*made.pile.weather);
      weather->estimates.assign(40, {"some column", "some method"});
      made.pile.weather = weather;
      expect_fits(summary(
          made.pile, made.result,
          {.utf8 = utf8, .stopped = true, .saved = {std::string(90, 'a'), std::string(90, 'b')}}));
    }
  }
}

TEST(Summary, CautionsWhereItCanHurt) {
  Synthetic made = synthetic(30);
  EXPECT_THAT(said(summary(made.pile, made.result, {})), Not(HasSubstr("Fire")));
  EXPECT_THAT(said(summary(made.pile, made.result, {})), Not(HasSubstr("edible crops")));
  EXPECT_THAT(said(summary(made.pile, made.result, {})), HasSubstr("Dust and spores: "));
  made.pile.ingredients[0].material.group = "manure";
  EXPECT_THAT(said(summary(made.pile, made.result, {})), HasSubstr("edible crops"));
  for (auto& series : made.result.series) {
    if (series.name == "max_temperature") {
      series.values.back() = 81;
    }
  }
  EXPECT_THAT(said(summary(made.pile, made.result, {})), HasSubstr("(hottest place 81 °C"));
}

TEST(Summary, CallsACoolPileCool) {
  Synthetic made = synthetic(30);
  made.result.scalars[0].value = 31;
  EXPECT_THAT(said(summary(made.pile, made.result, {})),
              HasSubstr("Stays cool: peak 31 °C on day 5.0."));
  made.result.scalars[0].value = 50;
  EXPECT_THAT(said(summary(made.pile, made.result, {})), HasSubstr("Warm, not hot: peak 50 °C"));
}

TEST(Summary, LeavesOutWhatAResultDoesNotHave) {
  const models::PileDescription pile;
  expect_fits(summary(pile, models::ForecastResult{}, {}));
  Synthetic made = synthetic(30);
  made.result.series.clear();
  made.result.scalars.clear();
  expect_fits(summary(made.pile, made.result, {}));
}

TEST(Summary, SaysThatItWasStopped) {
  Synthetic made = synthetic(30);
  made.pile.horizon_days = 60;
  EXPECT_THAT(said(summary(made.pile, made.result, {.stopped = true})),
              HasSubstr("30 days of 60, stopped early"));
}

/// Ten runs about the synthetic forecast: ready on day 16, 17, …; one number for all that is not
/// named here.
models::EnsembleResult ten_runs(const Synthetic& made) {
  models::EnsembleResult result;
  result.central = made.result;
  result.start.assign(10, "2013-10-05T09:00");
  result.start[3] = "2012-10-05T09:00";
  result.parameters.resize(10);
  for (const models::Scalar& scalar : made.result.scalars) {
    models::RunValues number{scalar.name, scalar.unit, "", {}, {}};
    for (std::size_t run = 0; run < 10; ++run) {
      const auto more = static_cast<double>(run);
      number.values.push_back(scalar.name == "ready_day"          ? 16 + more
                              : scalar.name == "peak_temperature" ? 60 + more
                                                                  : scalar.value);
    }
    number.reasons.resize(10);
    result.numbers.push_back(number);
  }
  result.numbers.push_back({"hot_day", "d", "", std::vector<double>(10, 4.0), {}});
  result.central.scalars.push_back({"hot_day", "d", "", 4.0, ""});
  result.numbers.back().reasons.resize(10);
  for (const models::Series& series : made.result.series) {
    models::Band band{series.name, series.unit, "", series.values, series.values, series.values};
    for (std::size_t i = 0; i < band.mid.size(); ++i) {
      band.low[i] -= 6;
      band.high[i] += 6;
    }
    result.bands.push_back(band);
  }
  return result;
}

TEST(SummaryOfRuns, GivesMediansAndWhereEightyPercentLie) {
  const Synthetic made = synthetic(30);
  const std::string text = summary(made.pile, ten_runs(made), {});
  expect_fits(text);
  // 60 to 69 degC: places 0.9, 4.5 and 8.1 give 60.9, 64.5 and 68.1.
  EXPECT_THAT(said(text), HasSubstr("Hot from day 4.0: peak 64 °C (61 to 68) on day 5.0, 5.9 days "
                                    "above 55 °C."));
  // Day 16 to 25: 16.9, 20.5 and 24.1 days from 5 October, 9:00.
  EXPECT_THAT(said(text),
              HasSubstr("Ready: about day 20 (25 Oct), 80 % of the runs day 17 (22 Oct) "
                        "to day 24 (29 Oct)."));
  EXPECT_THAT(said(text), HasSubstr("45 % (39 to 51) at the end"));
  EXPECT_THAT(said(text), HasSubstr("Runs 10; in brackets where 80 % of them lie, weather of 2 "
                                    "years"));
  EXPECT_THAT(text, HasSubstr("░"));
  EXPECT_THAT(text, HasSubstr("░ 80 %"));
}

TEST(SummaryOfRuns, SaysHowManyAreNotReady) {
  const Synthetic made = synthetic(30);
  models::EnsembleResult runs = ten_runs(made);
  std::vector<double>& days = runs.numbers[9].values;
  ASSERT_EQ(runs.numbers[9].name, "ready_day");
  days[8] = days[9] = std::nan("");
  // Place 8.1 of ten lies beyond.
  EXPECT_THAT(said(summary(made.pile, runs, {})),
              HasSubstr("Ready: about day 20 (25 Oct), 80 % of the runs day 17 (22 Oct) to beyond "
                        "day 30; 2 of 10 runs not within 30 days."));
  for (std::size_t run = 3; run < 8; ++run) {
    days[run] = std::nan("");
  }
  EXPECT_THAT(said(summary(made.pile, runs, {})),
              HasSubstr("Ready: 7 of 10 runs not within 30 days; one in ten by day 17 (22 Oct)."));
  std::ranges::fill(days, std::nan(""));
  std::ranges::fill(runs.numbers[9].reasons, "beyond the horizon");
  EXPECT_THAT(said(summary(made.pile, runs, {})),
              HasSubstr("Ready: in none of 10 runs within 30 days (beyond the horizon)."));
}

TEST(SummaryOfRuns, SaysHowManyGetHotAndWarnsOfTheHottest) {
  const Synthetic made = synthetic(30);
  models::EnsembleResult runs = ten_runs(made);
  EXPECT_THAT(said(summary(made.pile, runs, {})), Not(HasSubstr("hot in")));
  EXPECT_THAT(said(summary(made.pile, runs, {})), Not(HasSubstr("Fire")));
  ASSERT_EQ(runs.numbers.back().name, "hot_day");
  runs.numbers.back().values[0] = std::nan("");
  // The hottest place at the median stays as it is, 68 degC; one run in ten is 13 K hotter.
  for (double& value : runs.bands[1].high) {
    value += 13;
  }
  ASSERT_EQ(runs.bands[1].name, "max_temperature");
  const std::string text = summary(made.pile, runs, {});
  expect_fits(text);
  EXPECT_THAT(said(text), HasSubstr("days above 55 °C; hot in 9 of 10 runs."));
  EXPECT_THAT(said(text), HasSubstr("(hottest place 87 °C"));
}

TEST(SummaryOfRuns, CountsFailedRunsApart) {
  const Synthetic made = synthetic(30);
  models::EnsembleResult runs = ten_runs(made);
  runs.failed = {{0, "the bin is too small"}};
  runs.numbers[9].values[9] = std::nan("");
  const std::string text = said(summary(made.pile, runs, {}));
  EXPECT_THAT(text, HasSubstr("1 of 9 runs not within 30 days"));
  EXPECT_THAT(text, HasSubstr("1 failed and does not count"));
}

TEST(SummaryOfRuns, AsciiHasItsOwnBand) {
  const Synthetic made = synthetic(30);
  const std::string text = summary(made.pile, ten_runs(made), {.utf8 = false});
  EXPECT_THAT(text, HasSubstr("# core  : 80 %"));
  EXPECT_TRUE(std::ranges::all_of(text, [](char c) { return static_cast<signed char>(c) >= 0; }));
}

TEST(Summary, IsInUsUnitsWhereAsked) {
  Synthetic made = synthetic(30);
  made.result.scalars.back().reason =
      "self-heating in the vessel: still 30 K, must be 20 K or less";
  const std::string text = said(summary(made.pile, made.result, {.units = DisplayUnits::us}));
  // 65 and 55 degC are 149 and 131 degF; a difference of 30 K is one of 54 degF.
  EXPECT_THAT(text, HasSubstr("Hot from day 4.1: peak 149 °F on day 5.0, 5.9 days above 131 °F."));
  EXPECT_THAT(text, HasSubstr("still 54 °F, must be 36 °F or less"));
  // 2 m3 / 0.764555, 548 kg / 0.453592, 500 and 150 kg likewise, 240 L / 3.78541.
  EXPECT_THAT(text, HasSubstr("Heap, 2.6 yd3, 1208 lb, built"));
  EXPECT_THAT(text, HasSubstr("1.3 of 2.6 yd3 (50 %), 772 of 1102 lb (331 lb dry matter)"));
  EXPECT_THAT(text, HasSubstr("63.4 gallons added, 3.2 gallons drained out"));
  EXPECT_THAT(text, HasSubstr("█ core · air, °F"));
  EXPECT_THAT(text, HasSubstr("in/day"));
  for (const char* metric : {"°C", " kg", " m3", "litres", "mm/day"}) {
    EXPECT_THAT(text, Not(HasSubstr(metric)));
  }
}

TEST(Summary, DrawsTheCurveOverDegreesFahrenheit) {
  const Synthetic made = synthetic(30);
  // The core goes from 10 to 65 degC, 50 to 149 degF, and is drawn over the whole of that.
  const auto lines =
      lines_of(summary(made.pile, made.result, {.utf8 = false, .units = DisplayUnits::us}));
  std::vector<double> labels;
  for (const std::string& line : lines) {
    if (line.size() > 5 && line[5] == '|' && line[3] != ' ') {
      labels.push_back(std::stod(line.substr(0, 5)));
    }
  }
  ASSERT_GE(labels.size(), 2U);
  EXPECT_GE(labels.front(), 130);
  EXPECT_LE(labels.front(), 160);
  EXPECT_LE(labels.back(), 60);
  EXPECT_THAT(said(summary(made.pile, made.result, {.utf8 = false, .units = DisplayUnits::us})),
              HasSubstr("# core . air, degF"));
}

} // namespace
} // namespace heapcast::cli
