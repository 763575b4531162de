#include "cli/report/report.hpp"

#include "cli/output/forecast_dataset.hpp"
#include "cli/report/charts.hpp"
#include "tests/cli/output/sample_forecast.hpp"
#include "tests/cli/synthetic_results.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <filesystem>
#include <limits>
#include <regex>
#include <set>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) {
    ++found;
  }
  return found;
}

/// What lies between two marks, the first time they occur.
std::string between(const std::string& text, const std::string& from, const std::string& to) {
  const auto begin = text.find(from);
  if (begin == std::string::npos) {
    return {};
  }
  const auto start = begin + from.size();
  return text.substr(start, text.find(to, start) - start);
}

nlohmann::json drawing(const std::string& html) {
  return nlohmann::json::parse(between(html, R"(id="drawing">)", "</script>"));
}

/// The page without the contents of its scripts and style sheet.
std::string markup(std::string html) {
  for (const std::string element : {"script", "style"}) {
    for (auto at = html.find('<' + element); at != std::string::npos;
         at = html.find('<' + element, at + 1)) {
      const auto start = html.find('>', at) + 1;
      html.erase(start, html.find("</" + element, start) - start);
    }
  }
  return html;
}

TEST(Report, LoadsNothingFromElsewhere) {
  const auto html = html_report(test::synthetic_results());
  const auto page = markup(html);

  // Whatever a browser would fetch by itself stands in one of these attributes or in a url().
  for (const std::string loader :
       {" src=", " srcset=", "<link", "<base", "<iframe", "<object", "<embed", "<img", "@import"}) {
    EXPECT_THAT(page, Not(HasSubstr(loader)));
  }
  EXPECT_THAT(between(html, "<style>", "</style>"), Not(HasSubstr("url(")));
  EXPECT_THAT(between(html, "<style>", "</style>"), Not(HasSubstr("@import")));
  // Links lead to places in the page alone.
  static const std::regex reference("href=\"([^\"]*)\"");
  for (std::sregex_iterator at(page.begin(), page.end(), reference), end; at != end; ++at) {
    EXPECT_EQ((*at)[1].str().front(), '#') << (*at)[0];
  }
  // And a browser is told to refuse what slipped through.
  EXPECT_THAT(html, HasSubstr("default-src 'none'"));
}

TEST(Report, IsWellFormed) {
  const auto page = markup(html_report(test::synthetic_results()));
  EXPECT_TRUE(page.starts_with("<!DOCTYPE html>"));
  EXPECT_THAT(page, HasSubstr("<html lang=\"en\""));
  EXPECT_THAT(page, HasSubstr("<meta charset=\"utf-8\">"));

  const std::set<std::string> empty_elements = {"meta", "input", "path", "rect", "use"};
  static const std::regex tag("<(/?)([a-zA-Z][a-zA-Z0-9]*)([^<>]*)>");
  std::vector<std::string> open;
  for (std::sregex_iterator at(page.begin(), page.end(), tag), end; at != end; ++at) {
    const auto name = (*at)[2].str();
    if (empty_elements.contains(name)) {
      continue;
    }
    if ((*at)[1].length() == 0) {
      open.push_back(name);
      continue;
    }
    ASSERT_FALSE(open.empty()) << "</" << name << "> with nothing open";
    ASSERT_EQ(open.back(), name);
    open.pop_back();
  }
  EXPECT_TRUE(open.empty());

  std::set<std::string> ids;
  static const std::regex id(" id=\"([^\"]*)\"");
  for (std::sregex_iterator at(page.begin(), page.end(), id), end; at != end; ++at) {
    EXPECT_TRUE(ids.insert((*at)[1]).second) << "twice: " << (*at)[0];
  }
}

TEST(Report, LeavesNoPlaceholderUnfilled) {
  EXPECT_THAT(markup(html_report(test::synthetic_results())), Not(HasSubstr("{{")));
}

TEST(Report, CarriesTheChartLibraryWithItsLicence) {
  const auto html = html_report(test::synthetic_results());
  EXPECT_THAT(html, HasSubstr("Chart.js v3"));
  EXPECT_THAT(html, HasSubstr("Permission is hereby granted, free of charge"));
  EXPECT_THAT(html, HasSubstr("Chart.js Contributors"));
}

TEST(Report, EscapesEveryTextOfTheFile) {
  const std::string attack = "<script>alert(1)</script>\"'&{{title}}";
  auto data = test::synthetic_results();
  for (const std::string name : {"title", "start", "pile_file", "weather_source",
                                 "weather_estimates", "warnings", "program_version"}) {
    test::set_attribute(data, name, attack);
  }
  for (auto& one : data.variables) {
    for (auto& text : one.texts) {
      text = attack;
    }
    for (auto& [name, value] : one.attributes) {
      value = attack;
    }
    std::fill(one.flags.begin(), one.flags.end(), "<b>");
  }
  const auto html = html_report(data);
  EXPECT_THAT(html, Not(HasSubstr("<script>alert")));
  EXPECT_THAT(html, Not(HasSubstr("alert(1)</script>")));
  EXPECT_THAT(html, Not(HasSubstr("<b> <b>")));
  EXPECT_THAT(html,
              HasSubstr("<title>&lt;script&gt;alert(1)&lt;/script&gt;&quot;&apos;&amp;{{title}}"));
  // The texts come back whole from the script's data.
  EXPECT_EQ(drawing(html)["start"], attack);
}

TEST(Report, KeepsTextThatIsNoUtf8FromBreakingThePage) {
  auto data = test::synthetic_results(3);
  test::set_attribute(data, "start", std::string("2025-03-01T09:00\xff"));
  EXPECT_NO_THROW((void)drawing(html_report(data)));
}

TEST(Report, SaysWhenItIsReady) {
  auto data = test::synthetic_results();
  test::remove_variable(data, "ready_day");
  data.variables.push_back({"ready_day", {"run"}, {36.0}, {}, {{"units", std::string("d")}}});
  // 1 March and 36 days: 31 days of March leave 6 April.
  EXPECT_THAT(html_report(data), HasSubstr("<h1>Ready about day 36 (6 April 2025).</h1>"));
}

TEST(Report, SaysWhyItIsNotReadyAndHowHotItGets) {
  const auto html = html_report(test::synthetic_results());
  EXPECT_THAT(html, HasSubstr("<h1>Not ready within 60 days: oxygen uptake is still above its "
                              "limit.</h1>"));
  EXPECT_THAT(html,
              HasSubstr("<p class=\"lead\">The core peaks at 66.3\u00a0°C on day 4.2 (5 March "
                        "2025) and is above 55 °C for 17.5\u00a0days.</p>"));
}

TEST(Report, StartsWithTheHeatWhenNothingIsKnownOfReadiness) {
  auto data = test::synthetic_results();
  test::remove_variable(data, "ready_day");
  EXPECT_THAT(html_report(data), HasSubstr("<h1>The core peaks at 66.3\u00a0°C on day 4.2"));
}

TEST(Report, SaysWhenThePileNeverGetsHot) {
  auto data = test::synthetic_results();
  for (auto& one : data.variables) {
    if (one.name == "days_above_55") {
      one.values = {0.0};
    }
  }
  EXPECT_THAT(html_report(data), HasSubstr("and is never above 55 °C.</p>"));
}

TEST(Report, CountsDaysWhenTheStartIsUnreadable) {
  auto data = test::synthetic_results();
  test::set_attribute(data, "start", std::string("soon"));
  const auto html = html_report(data);
  EXPECT_THAT(html, HasSubstr("on day 4.2 and is"));
  EXPECT_THAT(html, Not(HasSubstr("<th scope=\"col\">Date</th>\n")));
}

TEST(Report, GivesTheIntervalOfSeveralRuns) {
  // Twenty runs, warmth 0.9 … 1.1 in steps of 0.2/19; ready_day = 52 - 40 (warmth - 1), so from 56
  // down to 48 in steps of 8/19. The 10 %, 50 % and 90 % points are at places 1.9, 9.5 and 17.1 of
  // 0 to 19: 48 + 1.9 × 8/19 = 48.8, 52 and 55.2 days. From 1 March 9:00 these are 19 April 4:00,
  // 22 April 9:00 and 25 April 14:00.
  const auto html = html_report(test::synthetic_results(60, 20));
  EXPECT_THAT(html, HasSubstr("<h1>Ready about 22 April, between 19 April and 25 April (80\u00a0% "
                              "of the runs).</h1>"));
  EXPECT_THAT(html, HasSubstr("20 runs with values and weather drawn by chance: middle value"));
}

TEST(Report, LeavesOutRunsThatFailed) {
  auto data = test::synthetic_results(60, 4);
  for (auto& one : data.variables) {
    if (one.name == "ready_day") {
      one.values = {std::numeric_limits<double>::quiet_NaN(), 40, 41, 42};
    }
  }
  data.variables.push_back({"run_failure", {"run"}, {}, {"too small", "", "", ""}, {}});
  // The median of 40, 41 and 42 days from 1 March.
  const auto html = html_report(data);
  EXPECT_THAT(html, HasSubstr("<h1>Ready about 11 April, between"));
  EXPECT_THAT(html, Not(HasSubstr("runs are not ready")));
  EXPECT_THAT(html, HasSubstr("1 of the runs failed"));
}

TEST(Report, DoesNotListDrawnParametersAmongTheNumbers) {
  auto data = test::synthetic_results(10, 2);
  data.variables.push_back({"parameter_fast_rate", {"run"}, {0.4, 0.6}, {}, {}});
  EXPECT_THAT(html_report(data), Not(HasSubstr("parameter_fast_rate")));
}

TEST(Report, CountsRunsThatAreNotReadyAsLater) {
  auto data = test::synthetic_results(60, 10);
  for (auto& one : data.variables) {
    if (one.name == "ready_day") {
      one.values = {40,
                    41,
                    42,
                    43,
                    44,
                    45,
                    46,
                    47,
                    std::numeric_limits<double>::quiet_NaN(),
                    std::numeric_limits<double>::quiet_NaN()};
    }
  }
  const auto html = html_report(data);
  EXPECT_THAT(html, HasSubstr("and beyond 60 days (80\u00a0% of the runs)."));
  EXPECT_THAT(html, HasSubstr("2 of 10 runs are not ready within 60 days: oxygen"));
}

TEST(Report, DrawsTheSpreadOfSeveralRuns) {
  const auto charts = drawing(html_report(test::synthetic_results(10, 20)))["charts"];
  const auto& core = charts[0]["series"][0];
  ASSERT_EQ(core["name"], "core_temperature");
  // Half way through, warmer runs are warmer.
  EXPECT_LT(core["low"][120], core["mid"][120]);
  EXPECT_LT(core["mid"][120], core["high"][120]);
}

struct Block {
  const char* mark;                   ///< stands in the page when the block is there
  std::vector<std::string> variables; ///< the block goes when all these go
};

TEST(Report, LeavesOutABlockWhoseDataAreMissing) {
  const std::vector<Block> blocks = {
      {"data-chart=\"temperature\"",
       {"core_temperature", "skin_temperature", "max_temperature", "air_temperature",
        "mean_temperature"}},
      {"data-chart=\"probes\"", {"temperature_at_middle", "temperature_at_edge"}},
      {"data-chart=\"rain\"", {"rain"}},
      {"data-chart=\"test_oxygen_uptake\"", {"test_oxygen_uptake"}},
      {"data-chart=\"test_carbon_dioxide\"", {"test_carbon_dioxide"}},
      {"data-chart=\"test_self_heating\"", {"test_self_heating"}},
      {"id=\"ready\"",
       {"criterion_limit", "test_oxygen_uptake", "test_carbon_dioxide", "test_self_heating"}},
      {"id=\"hygiene\"",
       {"hygiene_met_day_us503_psrp", "hygiene_met_day_abp", "log10_survivors_salmonella",
        "log10_survivors_ascaris"}},
      {"data-chart=\"moisture\"", {"moisture_wet_basis"}},
      {"data-chart=\"water\"",
       {"cumulative_rain", "cumulative_water_added", "cumulative_evaporation",
        "cumulative_leachate"}},
      {"data-chart=\"oxygen\"", {"core_oxygen", "free_air_space"}},
      {"data-chart=\"air_flow\"", {"air_flow"}},
      {"data-chart=\"activity\"", {"oxygen_uptake_rate"}},
      {"data-chart=\"carbon\"",
       {"humus_carbon", "resistant_carbon", "slow_carbon", "fast_carbon", "biomass_carbon",
        "cumulative_carbon_dioxide_carbon", "cumulative_methane_carbon"}},
      {"data-chart=\"nitrogen\"",
       {"organic_nitrogen", "ammonium_nitrogen", "nitrate_nitrogen", "cumulative_ammonia_nitrogen",
        "cumulative_dinitrogen_nitrogen", "cumulative_nitrous_oxide_nitrogen",
        "cumulative_leachate_nitrogen"}},
      {"data-chart=\"mass\"", {"dry_mass", "water_mass"}},
      {"data-chart=\"volume\"", {"volume"}},
      {"id=\"limits\"", {"limit"}},
      {"id=\"events\"", {"event_day"}},
      {"id=\"inside\"", {"cell_corner_x"}},
      {"data-field=\"temperature\"", {"temperature"}},
      {"data-field=\"moisture_wet_basis_field\"", {"moisture_wet_basis_field"}},
      {"data-field=\"oxygen\"", {"oxygen"}},
      {"id=\"closure\"",
       {"closure_water", "closure_carbon", "closure_nitrogen", "closure_ash", "closure_energy"}},
  };
  const auto whole = html_report(test::synthetic_results(10));
  for (const auto& block : blocks) {
    auto data = test::synthetic_results(10);
    for (const auto& name : block.variables) {
      ASSERT_NE(data.variable(name), nullptr) << name;
      test::remove_variable(data, name);
    }
    EXPECT_EQ(count(whole, block.mark), 1U) << block.mark;
    EXPECT_EQ(count(html_report(data), block.mark), 0U) << block.mark;
  }
}

TEST(Report, LeavesOutATextThatIsMissing) {
  for (const auto& [attribute, mark] :
       std::vector<std::pair<std::string, std::string>>{{"pile_file", "id=\"input\""},
                                                        {"weather_source", "id=\"weather\""},
                                                        {"weather_estimates", "so estimated"},
                                                        {"warnings", "The run warns"}}) {
    auto data = test::synthetic_results(10);
    EXPECT_THAT(html_report(data), HasSubstr(mark));
    test::set_attribute(data, attribute, std::string());
    EXPECT_THAT(html_report(data), Not(HasSubstr(mark)));
  }
}

TEST(Report, IsAPageEvenWithoutAnyResults) {
  const auto html = html_report(engine::Dataset());
  EXPECT_THAT(html, HasSubstr("<h1>Compost pile</h1>"));
  EXPECT_THAT(html, HasSubstr("id=\"cautions\""));
  EXPECT_TRUE(drawing(html)["charts"].empty());
}

TEST(Report, IgnoresAVariableOfTheWrongSize) {
  auto data = test::synthetic_results(10);
  for (auto& one : data.variables) {
    if (one.name == "volume" || one.name == "temperature" || one.name == "limit") {
      one.values.pop_back();
    }
  }
  const auto html = html_report(data);
  EXPECT_THAT(html, Not(HasSubstr("data-chart=\"volume\"")));
  EXPECT_THAT(html, Not(HasSubstr("data-field=\"temperature\"")));
  EXPECT_THAT(html, Not(HasSubstr("id=\"limits\"")));
}

TEST(Report, TablesEveryDayOfACurve) {
  const auto html = html_report(test::synthetic_results(10));
  const auto table = between(html, "data-csv=\"volume\"", "</table>");
  EXPECT_EQ(count(table, "<tr>"), 1U + 10U); // head and ten days
  // Volume at the end of day 10: 2.6 - 1.2 (1 - exp(-10/18)) = 2.0885.
  EXPECT_THAT(table, HasSubstr("<tr><td>10</td><td>2025-03-11</td><td>2.09</td></tr>"));
}

TEST(Report, AddsUpTheRainOfADay) {
  const auto html = html_report(test::synthetic_results(10));
  // Day 3: 1.7 mm/h at the hours 61 … 67 after the build (2.5 < day < 2.8), 7 × 1.7 = 11.9 mm.
  EXPECT_THAT(between(html, "data-csv=\"rain\"", "</table>"),
              HasSubstr("<td>3</td><td>2025-03-04</td><td>11.9</td>"));
}

TEST(Report, DrawsEveryOutputOfTwoMonthsInLessThanTwoMegabytes) {
  const auto html = html_report(test::synthetic_results(60));
  EXPECT_EQ(drawing(html)["days"].size(), 60U * 24U + 1U);
  EXPECT_LT(html.size(), 2'000'000U);
}

TEST(Report, DrawsALongRunDayByDay) {
  const auto html = html_report(test::synthetic_results(365));
  const auto data = drawing(html);
  EXPECT_TRUE(data["days"].is_null());
  EXPECT_EQ(data["row_days"].size(), 365U);
  EXPECT_EQ(data["charts"][0]["series"][0]["mid"].size(), 365U);
  EXPECT_THAT(html, HasSubstr("drawn from the numbers day by day"));
  EXPECT_LT(html.size(), 2'000'000U);
}

TEST(Report, MirrorsAHalfSectionAndNotAWholeOne) {
  auto data = test::synthetic_results(10);
  EXPECT_EQ(drawing(html_report(data))["section"]["mirrored"], true);
  for (auto& one : data.variables) {
    if (one.name == "cell_corner_x") {
      for (auto& x : one.values) {
        x -= 0.6;
      }
    }
  }
  const auto html = html_report(data);
  EXPECT_EQ(drawing(html)["section"]["mirrored"], false);
  EXPECT_THAT(html, Not(HasSubstr("mirror image")));
}

TEST(Report, ShowsTheSectionWithoutScripts) {
  const auto html = html_report(test::synthetic_results(60));
  // Three fields, six days each, painted by the style sheet's classes.
  const auto page = markup(html);
  EXPECT_EQ(count(page, "<svg class=\"section\""), 3U * 6U);
  EXPECT_GT(count(page, "<path class=\"c"), 18U);
}

TEST(Report, ShowsHowLongEachLimitHeld) {
  auto data = test::synthetic_results(10);
  for (auto& one : data.variables) {
    if (one.name == "limit") {
      // Cold for the first quarter of 240 hours, then nothing.
      for (std::size_t hour = 0; hour < one.values.size(); ++hour) {
        one.values[hour] = hour <= 60 ? 1.0 : 0.0;
      }
    }
  }
  const auto lanes = between(html_report(data), "class=\"lanes\"", "</section>");
  EXPECT_THAT(lanes, HasSubstr("too cold <b>25 %</b></span><span class=\"track\"><i "
                               "style=\"left:0.00%;width:25.00%\"></i></span>"));
  EXPECT_THAT(lanes, HasSubstr("nothing <b>75 %</b></span><span class=\"track\"><i "
                               "style=\"left:25.00%;width:75.00%\"></i></span>"));
  EXPECT_THAT(lanes, Not(HasSubstr("too dry")));
}

TEST(Report, SaysWhenABalanceDoesNotClose) {
  auto data = test::synthetic_results(10);
  EXPECT_THAT(html_report(data), Not(HasSubstr("does not close")));
  for (auto& one : data.variables) {
    if (one.name == "closure_nitrogen") {
      one.values = {-2e-9}; // the promise for mass is 1e-9
    }
  }
  const auto html = html_report(data);
  EXPECT_EQ(count(html, "does not close"), 1U);
  EXPECT_THAT(html, HasSubstr("<tr><th scope=\"row\">nitrogen</th><td>2.0e-09</td>"));
}

TEST(Report, ShowsFractionsAsPercent) {
  // volume_fraction is 0.54 with the unit "1".
  EXPECT_THAT(html_report(test::synthetic_results(10)),
              HasSubstr("<dt>of the volume left</dt><dd>54\u00a0%</dd>"));
}

TEST(Report, ClaimsNoMoreThanFivePowersOfTenOfKill) {
  const auto html = html_report(test::synthetic_results(10));
  // -31 and -2.5 in the file; 10^2.5 = 316, two digits of it.
  EXPECT_THAT(html, HasSubstr("<th scope=\"row\">Salmonella</th><td data-head=\"Share, as "
                              "log10\">below -5</td>"));
  EXPECT_THAT(html, HasSubstr("fewer than 1 in 100\u00a0000</td>"));
  EXPECT_THAT(html, HasSubstr("<th scope=\"row\">Ascaris eggs</th><td data-head=\"Share, as "
                              "log10\">-2.5</td><td data-head=\"That is\">1 in 320</td>"));
  EXPECT_THAT(html, Not(HasSubstr("-31")));
}

TEST(Report, ListsNoNumberTwice) {
  const auto data = test::synthetic_results(10);
  const auto list = between(html_report(data), "<section id=\"numbers\">", "</section>");
  EXPECT_THAT(list, HasSubstr("highest core temperature"));
  EXPECT_THAT(list, HasSubstr("day on which every criterion is met"));
  for (const std::string name :
       {"ready_day_oxygen_uptake", "final_oxygen_uptake", "hygiene_met_day_us503_psrp",
        "hygiene_volume_share_us503_psrp", "log10_survivors_salmonella"}) {
    ASSERT_NE(data.variable(name), nullptr) << name;
    EXPECT_THAT(list, Not(HasSubstr("of " + name))) << name; // how the file's long names end
  }
}

TEST(Report, ListsNumbersThatItHasNoTableFor) {
  auto data = test::synthetic_results(10);
  test::remove_variable(data, "criterion_limit");
  const auto list = between(html_report(data), "<section id=\"numbers\">", "</section>");
  EXPECT_THAT(list, HasSubstr("of final_oxygen_uptake"));
}

TEST(Report, SaysWhatItIsJudgedFor) {
  EXPECT_THAT(html_report(test::synthetic_results(10)),
              HasSubstr("Judged for: <a href=\"#ready\">garden bed</a>."));
}

TEST(Report, SaysThatTheTestsAreTheModels) {
  const auto section =
      between(html_report(test::synthetic_results(10)), "<section id=\"ready\">", "</section>");
  EXPECT_THAT(section, HasSubstr("These are virtual tests"));
  EXPECT_THAT(section, HasSubstr("the tests pass too early. A real test of a real sample decides"));
}

TEST(Report, HygieneIsNoCertification) {
  const auto section =
      between(html_report(test::synthetic_results(10)), "<section id=\"hygiene\">", "</section>");
  EXPECT_THAT(section, HasSubstr("no certification"));
  EXPECT_THAT(section, HasSubstr("follow local rules and licensed practice"));
  EXPECT_THAT(section, HasSubstr("<strong>Met at the core is not met everywhere.</strong> US 503 "
                                 "PSRP: met at every probe, and in 62\u00a0% of the volume."));
  // A rule for vessels is named in one line, not in the table.
  EXPECT_THAT(section, HasSubstr("<p>EU animal by-products standard treatment</p>"));
}

TEST(Report, DrawsTheProbesByName) {
  for (const std::size_t runs : {std::size_t{1}, std::size_t{3}}) {
    const auto data = drawing(html_report(test::synthetic_results(10, runs)));
    const auto& chart = data["charts"][1];
    ASSERT_EQ(chart["id"], "probes");
    ASSERT_EQ(chart["series"].size(), 2U);
    EXPECT_EQ(chart["series"][0]["label"], "middle, 60 cm below the surface");
    EXPECT_NE(chart["series"][0]["colour"], chart["series"][1]["colour"]);
    EXPECT_EQ(chart["series"][0].contains("low"), runs > 1);
  }
}

TEST(Report, DrawsTheTestsOverTheirOwnDaysWithTheirLimits) {
  const auto data = drawing(html_report(test::synthetic_results(10)));
  const auto found =
      std::find_if(data["charts"].begin(), data["charts"].end(),
                   [](const auto& one) { return one["id"] == "test_oxygen_uptake"; });
  ASSERT_NE(found, data["charts"].end());
  // A test at the build and after each of ten days.
  ASSERT_EQ((*found)["days"].size(), 11U);
  EXPECT_EQ((*found)["days"][10], 10.0);
  EXPECT_EQ((*found)["series"][0]["mid"].size(), 11U);
  EXPECT_EQ((*found)["level"]["value"], 15.0);
  EXPECT_EQ((*found)["level"]["label"], "limit 15");
}

TEST(Report, HasAColourForEverySeriesItDraws) {
  const auto html = html_report(test::synthetic_results(10));
  const auto style = between(html, "<style>", "</style>");
  const auto data = drawing(html);
  for (const auto& chart : data["charts"]) {
    for (const auto& series : chart["series"]) {
      EXPECT_THAT(style, HasSubstr("--" + series["colour"].get<std::string>() + ": #"));
    }
  }
}

TEST(Report, ReadsTheSchemaOfAForecast) {
  auto forecast = sample_forecast();
  forecast.fields[1].name = "moisture_wet_basis_field";
  const auto html = html_report(forecast_dataset(sample_pile(), forecast, sample_context()));
  // Two hours, so no whole day; the keys of what is missing are in the file.
  EXPECT_THAT(html, HasSubstr("<h1>Not ready within 0 days; missing: oxygen uptake and the hygiene "
                              "rule.</h1>"));
  EXPECT_THAT(html, HasSubstr("Judged for: <a href=\"#ready\">garden bed</a>."));
  EXPECT_THAT(html, HasSubstr("data-chart=\"test_oxygen_uptake\""));
  EXPECT_THAT(html, HasSubstr("The core peaks at 61.2\u00a0°C"));
  EXPECT_THAT(html, HasSubstr("Days count from the build on 28 February 2025."));
  EXPECT_THAT(html, HasSubstr("data-chart=\"temperature\""));
  EXPECT_THAT(html, HasSubstr("Air flow, m³/h"));
  EXPECT_THAT(html, HasSubstr("data-field=\"moisture_wet_basis_field\""));
  EXPECT_THAT(html, HasSubstr("too little air <b>50 %</b>"));
  EXPECT_THAT(html, HasSubstr("<td>core_temperature &lt; 50 degC after &gt; 55 degC</td>"
                              "<td>40 litres</td>"));
  EXPECT_THAT(html, HasSubstr("<li>wind: 2 m/s (FAO-56)</li>"));
  EXPECT_THAT(html, HasSubstr("<li>Hot and dry: measure.</li>"));
  EXPECT_THAT(html, HasSubstr("<td>--resolution fine</td>"));
}

TEST(Report, ReadsTheSchemaOfSeveralRuns) {
  const auto html =
      html_report(forecast_dataset(sample_pile_of_runs(), sample_ensemble(), sample_context()));
  // Three runs that did not fail: 60, 65, 70 degC; 40 and 50 days and one beyond the time computed.
  EXPECT_THAT(html, HasSubstr("The core peaks at 65\u00a0°C (61\u2009–\u200969)"));
  EXPECT_THAT(html, HasSubstr("1 of 3 runs are not ready within 0 days; missing: oxygen uptake."));
  // 40 and 50 days with the same criterion last.
  EXPECT_THAT(html, HasSubstr("(80\u00a0% of the runs); core above the air came last.</h1>"));
  EXPECT_THAT(html, HasSubstr("data-field=\"temperature\""));
  EXPECT_THAT(html, HasSubstr("too little air <b>50 %</b>"));
  const auto core = drawing(html)["charts"][0]["series"][0];
  EXPECT_EQ(core["low"][2], 55);
  EXPECT_EQ(core["mid"][2], 60);
  EXPECT_EQ(core["high"][2], 66);
}

TEST(Report, TakesNumbersBelowTheSmallestOfFullPrecision) {
  // Subnormal: 1e-310 has 14 bits less than 1e-300. To four digits that is enough.
  EXPECT_NEAR(rounded(1.23456e-310, 4) / 1e-310, 1.235, 1e-9);
  EXPECT_EQ(rounded(1.23456, 4), 1.235);
  auto data = test::synthetic_results(10, 1);
  const auto core = std::ranges::find(data.variables, "core_temperature", &engine::Variable::name);
  ASSERT_NE(core, data.variables.end());
  core->values[3] = 1e-310;
  EXPECT_THAT(html_report(data), HasSubstr("</html>"));
}

TEST(Report, IsTheSameFromTheFileAsFromMemory) {
  const auto data = test::synthetic_results(10, 3);
  const auto path = std::filesystem::temp_directory_path() / "heapcast_report_test.h5";
  engine::write_results_file(path.string(), data);
  const auto html = html_report(engine::read_results_file(path.string()));
  std::filesystem::remove(path);
  EXPECT_EQ(html, html_report(data));
}

TEST(Report, IsInUsUnitsWhereAsked) {
  const auto results = test::synthetic_results();
  const auto html = html_report(results, DisplayUnits::us);
  const auto page = markup(html);
  // 66.3 degC is 151.3 degF; what is above 55 degC is above 131.
  EXPECT_THAT(page, HasSubstr("The core peaks at 151\u00a0°F on day"));
  EXPECT_THAT(page, HasSubstr("above 131 °F"));
  for (const char* metric : {"°C", "degC", "m³", " litres", " kg<", ", kg<", "\u00a0kg"}) {
    EXPECT_THAT(page, Not(HasSubstr(metric)));
  }
  const auto us = drawing(html);
  const auto metric = drawing(html_report(results));
  ASSERT_EQ(metric["charts"][0]["id"], "temperature");
  EXPECT_EQ(us["charts"][0]["unit"], "°F");
  EXPECT_EQ(us["charts"][0]["level"]["value"], 131.0);
  EXPECT_EQ(us["charts"][0]["level"]["label"], "131 °F");
  EXPECT_EQ(metric["charts"][0]["level"]["label"], "55 °C");
  const double core_degC = metric["charts"][0]["series"][0]["mid"][100];
  const double core_degF = us["charts"][0]["series"][0]["mid"][100];
  // Four digits are written: 0.05 of a degree from 100 up, 0.005 below it.
  EXPECT_NEAR(core_degF, 32 + 1.8 * core_degC, 0.07);
  // The classes of the section's colours are the same places.
  EXPECT_EQ(us["section"]["fields"][0]["unit"], "°F");
  EXPECT_EQ(us["section"]["fields"][0]["breaks"],
            nlohmann::json({50.0, 68.0, 86.0, 104.0, 122.0, 131.0, 140.0, 158.0}));
  EXPECT_THAT(us["section"]["frame"].get<std::string>(), HasSubstr(" ft</text>"));
}

// Self-heating is a rise above 20 degC: 18 degF for 10 K, not 50.
TEST(Report, KeepsADifferenceOfTemperaturesADifference) {
  auto results = test::synthetic_results();
  test::remove_variable(results, "test_self_heating");
  const std::size_t size = results.dimension("test_time")->size;
  results.variables.push_back({"test_self_heating",
                               {"run", "test_time"},
                               std::vector<double>(size, 10.0),
                               {},
                               {{"units", std::string("K")}}});
  const auto charts = drawing(html_report(results, DisplayUnits::us))["charts"];
  for (const auto& chart : charts) {
    if (chart["id"] == "test_self_heating") {
      EXPECT_EQ(chart["unit"], "°F");
      EXPECT_EQ(chart["series"][0]["mid"][0], 18.0);
      return;
    }
  }
  ADD_FAILURE() << "no chart of self-heating";
}

} // namespace
} // namespace heapcast::cli
