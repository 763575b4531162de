// The program as people run it: a process of its own, its streams, its exit code and what it
// leaves.

#include "engine/results_file.hpp"
#include "tests/cli/program.hpp"
#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;

const std::string example = HEAPCAST_EXAMPLES_DIR "/01_market_garden_windrow/pile.toml";

std::string text_of(const fs::path& path) {
  return heapcast::tests::bytes_of_file(path);
}

using Commands = heapcast::tests::Program;
using heapcast::tests::Process;

TEST_F(Commands, ForecastPrintsOneScreenAndNoProgressIntoAFile) {
  ASSERT_EQ(run({"forecast", example, "--resolution", "coarse"}), 0) << err();
  EXPECT_THAT(out(), HasSubstr("days above 55"));
  EXPECT_THAT(err(), IsEmpty());
  int lines = 0;
  for (const char c : out()) {
    lines += c == '\n' ? 1 : 0;
  }
  EXPECT_LE(lines, 40);
}

TEST_F(Commands, JsonIsAllThatIsOnStandardOutput) {
  ASSERT_EQ(run({"forecast", example, "--resolution", "coarse", "--json"}), 0) << err();
  const auto summary = nlohmann::json::parse(out());
  EXPECT_TRUE(summary.contains("schema_version"));
}

TEST_F(Commands, TheNumberOfThreadsChangesNothing) {
  const std::vector<std::string> words = {"forecast", example, "--resolution", "coarse", "--json"};
  ASSERT_EQ(run(words), 0);
  const std::string one = out();
  std::vector<std::string> more = words;
  more.insert(more.end(), {"--threads", "4"});
  ASSERT_EQ(run(more), 0) << err();
  EXPECT_EQ(out(), one);
}

TEST_F(Commands, UsUnitsAreShownAndFilesStayAsLabelled) {
  std::vector<std::string> words = {"forecast", example,      "--resolution", "coarse",
                                    "--set",    "run.days=6", "-o",           result("metric.h5")};
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(out(), HasSubstr("m3"));
  words.back() = result("us.h5");
  words.insert(words.end(), {"--units", "us", "--report", result("us.html")});
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(out(), HasSubstr("yd3"));
  EXPECT_THAT(out(), testing::Not(HasSubstr(" kg")));
  EXPECT_THAT(text_of(result("us.html")), HasSubstr("above 131 °F"));
  const auto value = [&](const char* name) {
    return heapcast::engine::read_results_file(result(name)).variable("peak_temperature")->values;
  };
  EXPECT_EQ(value("us.h5"), value("metric.h5"));
  // The report of the results alone, with no word of the run that made them.
  ASSERT_EQ(run({"report", result("metric.h5"), "--units", "us", "-o", result("again.html")}), 0);
  EXPECT_THAT(text_of(result("again.html")), HasSubstr("above 131 °F"));
  ASSERT_EQ(run({"forecast", example, "--units", "imperial"}), 2);
  EXPECT_THAT(err(), HasSubstr("write metric or us"));
}

TEST_F(Commands, CheckTellsEverythingUnlikelyAndStillSaysThatItIsInOrder) {
  const std::vector<std::string> odd = {"--set", "material.0.nitrogen=6 % dry", "--set",
                                        "turning.every=1 day"};
  std::vector<std::string> words = {"check", example};
  words.insert(words.end(), odd.begin(), odd.end());
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(out(), HasSubstr("in order"));
  EXPECT_THAT(err(), HasSubstr("the mix has a C:N of"));
  EXPECT_THAT(err(), HasSubstr("25 to 40 is usual (Rynk"));
  EXPECT_THAT(err(), HasSubstr("it is turned every day"));
  words[0] = "forecast";
  words.insert(words.end(), {"--resolution", "coarse", "--set", "run.days=3"});
  ASSERT_EQ(run(words), 0) << err();
  // One line is enough for those who did not ask.
  EXPECT_THAT(err(), HasSubstr("things are unlikely (C:N"));
  EXPECT_THAT(err(), testing::Not(HasSubstr("25 to 40")));
}

TEST_F(Commands, SchemaIsJsonOfTheNamedKind) {
  ASSERT_EQ(run({"schema"}), 0) << err();
  EXPECT_TRUE(nlohmann::json::parse(out())["properties"].contains("pile"));
  ASSERT_EQ(run({"schema", "study"}), 0) << err();
  EXPECT_TRUE(nlohmann::json::parse(out())["properties"].contains("design"));
  EXPECT_EQ(run({"schema", "piel"}), 2);
  EXPECT_THAT(err(), HasSubstr("write heapcast schema pile"));
}

TEST_F(Commands, MaterialsAreFoundBySeveralWords) {
  ASSERT_EQ(run({"materials", "water", "weed"}), 0) << err();
  EXPECT_THAT(out(), HasSubstr("water_hyacinth"));
}

TEST_F(Commands, UserFaultsEndWithTwoAndSayWhatToWrite) {
  EXPECT_EQ(run({"forecast", example, "--set", "pile.height=1.4"}), 2);
  EXPECT_THAT(err(), HasSubstr("has no unit"));
  EXPECT_EQ(run({"forecast", example, "--set", "pile.hieght=\"1 m\""}), 2);
  EXPECT_THAT(err(), HasSubstr("did you mean \"height\"?"));
  EXPECT_EQ(run({"forecast", example, "--set", "pile.height=\"3 kg\""}), 2);
  EXPECT_THAT(err(), HasSubstr("is a mass, but a length is needed"));
  EXPECT_EQ(run({"forcast", example}), 2);
  EXPECT_THAT(err(), HasSubstr("forecast"));
  EXPECT_EQ(run({"materials", "wheat_strow"}), 2);
  EXPECT_THAT(err(), HasSubstr("wheat_straw"));
}

TEST_F(Commands, FilesThatCannotBeReadOrWrittenEndWithFour) {
  EXPECT_EQ(run({"forecast", "no_such_pile.toml"}), 4);
  EXPECT_THAT(err(), HasSubstr("no_such_pile.toml"));
  EXPECT_EQ(run({"forecast", example, "--resolution", "coarse", "-o",
                 (folder_ / "no" / "where.h5").string()}),
            4);
  EXPECT_THAT(err(), HasSubstr("where.h5"));
  EXPECT_EQ(run({"report", example}), 4);
}

TEST_F(Commands, AFullDiskIsToldAndLeavesNothing) {
  EXPECT_EQ(run({"forecast", example, "--resolution", "coarse", "-o", result("a.h5")}, 8192), 4);
  EXPECT_THAT(err(), HasSubstr("a.h5"));
  EXPECT_TRUE(nothing_left());
}

/// Linux says in /proc which signals a process catches. Gives up after a minute.
void wait_until_it_catches_ctrl_c(pid_t process) {
  for (int tries = 0; tries < 3000; ++tries) {
    std::ifstream status("/proc/" + std::to_string(process) + "/status");
    for (std::string line; std::getline(status, line);) {
      if (line.starts_with("SigCgt:") &&
          (std::stoull(line.substr(7), nullptr, 16) >> (SIGINT - 1) & 1U) != 0) {
        return;
      }
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
}

TEST_F(Commands, CtrlCKeepsWhatIsComputedAndSaysSo) {
  Process process = start({"forecast", example, "--resolution", "fine", "--set", "run.days=300",
                           "--quiet", "-o", result("a.h5")});
  wait_until_it_catches_ctrl_c(process.id);
  ::kill(process.id, SIGINT);
  process.wait();
  // 300 days on the fine mesh take far longer than the signal does to arrive.
  EXPECT_EQ(process.exit_code(), 128 + SIGINT) << err();
  EXPECT_THAT(err(), HasSubstr("stopped after"));
  const heapcast::engine::Dataset kept = heapcast::engine::read_results_file(result("a.h5"));
  ASSERT_NE(kept.attribute("stopped"), nullptr);
  EXPECT_THAT(std::get<std::string>(*kept.attribute("stopped")), HasSubstr("of 300 days"));
}

TEST_F(Commands, AKilledRunLeavesTheOldFileOrTheNewOne) {
  const std::string path = result("a.h5");
  ASSERT_EQ(run({"forecast", example, "--resolution", "coarse", "--quiet", "-o", path}), 0);
  for (int round = 0; round < 12; ++round) {
    Process process = start({"forecast", example, "--resolution", "coarse", "--quiet", "-o", path});
    std::this_thread::sleep_for(std::chrono::milliseconds(10 + 13 * round));
    ::kill(process.id, SIGKILL);
    process.wait();
    EXPECT_NO_THROW((void)heapcast::engine::read_results_file(path)) << "round " << round;
  }
}

TEST_F(Commands, EveryCommandHasHelpWithAnExample) {
  for (const char* command :
       {"forecast", "compare", "check", "materials", "parameters", "report", "sweep", "gather"}) {
    EXPECT_EQ(run({command, "--help"}), 0);
    EXPECT_THAT(out(), HasSubstr(std::string("heapcast ") + command)) << command;
  }
}

TEST_F(Commands, AWrongOptionInPlaceOfACommandIsRefusedByName) {
  EXPECT_EQ(run({"--completion", "fish"}), 2);
  EXPECT_THAT(err(), AllOf(HasSubstr("--completion: fish"), HasSubstr("{bash,zsh}")));
  EXPECT_EQ(run({"--man-pge"}), 2);
  EXPECT_THAT(err(), HasSubstr("there is no option --man-pge; did you mean \"--man-page\"?"));
}

TEST_F(Commands, CheckPassesEveryExampleWithoutRunningIt) {
  for (const auto& entry : fs::directory_iterator(HEAPCAST_EXAMPLES_DIR)) {
    const fs::path pile = entry.path() / "pile.toml";
    if (fs::exists(pile)) {
      EXPECT_EQ(run({"check", pile.string()}), 0) << out() << err();
      const fs::path study = entry.path() / "study.toml";
      EXPECT_TRUE(!fs::exists(study) || run({"check", study.string()}) == 0) << out() << err();
    }
  }
}

TEST_F(Commands, CheckReadsAFileOfAnOwnMaterialAsOne) {
  const fs::path hay = fs::path(HEAPCAST_EXAMPLES_DIR) / "08_own_material" / "ditch_hay.toml";
  EXPECT_EQ(run({"check", hay.string()}), 0) << err();
  EXPECT_THAT(out(), HasSubstr("in order: a material: Hay of the ditch bank"));
  const std::string wrong = result("wet_hay.toml");
  std::ofstream(wrong) << "name = \"wet_hay\"\nlike = \"hay\"\nmoisture = \"130 % wet\"\n";
  EXPECT_EQ(run({"check", wrong}), 2);
  EXPECT_THAT(err(), AllOf(HasSubstr("wet_hay.toml:3:"), HasSubstr("moisture")));
}

TEST_F(Commands, ReportIsMadeAgainFromTheResultsAlone) {
  const std::string first = result("first.html");
  ASSERT_EQ(run({"forecast", example, "--resolution", "coarse", "--quiet", "-o", result("a.h5"),
                 "--report", first, "--csv", result("tables")}),
            0)
      << err();
  ASSERT_EQ(run({"report", result("a.h5"), "-o", result("again.html")}), 0) << err();
  EXPECT_EQ(text_of(first), text_of(result("again.html")));
  EXPECT_TRUE(fs::exists(result("tables/series.csv")));
}

TEST_F(Commands, ResultsHoldTheFilesOfOwnMaterials) {
  const std::string own = std::string(HEAPCAST_EXAMPLES_DIR) + "/08_own_material/";
  ASSERT_EQ(run({"forecast", own + "pile.toml", "--quiet", "--resolution", "coarse", "--set",
                 "run.days=2", "-o", result("a.h5")}),
            0)
      << err();
  const auto data = heapcast::engine::read_results_file(result("a.h5"));
  EXPECT_EQ(std::get<std::string>(*data.attribute("material_files")),
            "# file = \"ditch_hay.toml\"\n" + text_of(own + "ditch_hay.toml"));
  ASSERT_EQ(run({"report", result("a.h5"), "-o", result("a.html")}), 0) << err();
  EXPECT_THAT(text_of(result("a.html")),
              AllOf(HasSubstr("Own materials that it names"), HasSubstr("mud clings to it")));
}

/// Few coarse days, for speed.
std::vector<std::string> few_runs(std::vector<std::string> more) {
  std::vector<std::string> words = {"forecast", example,      "--resolution", "coarse",
                                    "--set",    "run.days=8", "--runs",       "4"};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

TEST_F(Commands, SeveralRunsGiveIntervalsAndNoProgressIntoAFile) {
  ASSERT_EQ(run(few_runs({"-o", result("a.h5"), "--csv", result("tables")})), 0) << err();
  EXPECT_THAT(err(), IsEmpty());
  EXPECT_THAT(out(), HasSubstr("Runs       4; in brackets where 80 % of them lie"));
  EXPECT_LE(std::ranges::count(out(), '\n'), 40);
  const heapcast::engine::Dataset data = heapcast::engine::read_results_file(result("a.h5"));
  EXPECT_EQ(data.dimension("run")->size, 4U);
  EXPECT_EQ(data.variable("core_temperature")->dimensions,
            (std::vector<std::string>{"quantile", "time"}));
  const std::string runs = text_of(result("tables/runs.csv"));
  EXPECT_EQ(std::ranges::count(runs, '\n'), 5); // a heading and four runs
}

TEST_F(Commands, SeedAndNotThreadsDecideSeveralRuns) {
  ASSERT_EQ(run(few_runs({"--json", "--threads", "1"})), 0) << err();
  const std::string one = out();
  const auto json = nlohmann::json::parse(one);
  EXPECT_EQ(json["runs"], 4);
  EXPECT_LT(json["results"]["peak_temperature"]["low"],
            json["results"]["peak_temperature"]["high"]);
  ASSERT_EQ(run(few_runs({"--json", "--threads", "3"})), 0) << err();
  EXPECT_EQ(out(), one);
  ASSERT_EQ(run(few_runs({"--json", "--seed", "2"})), 0) << err();
  EXPECT_THAT(err(), IsEmpty()); // no word that the seed changes nothing
  EXPECT_NE(nlohmann::json::parse(out())["results"], json["results"]);
}

TEST_F(Commands, OneRunIsAPlainForecast) {
  const std::vector<std::string> words = {"forecast", example, "--resolution", "coarse", "--json"};
  ASSERT_EQ(run(words), 0);
  const std::string plain = out();
  std::vector<std::string> more = words;
  more.insert(more.end(), {"--runs", "1"});
  ASSERT_EQ(run(more), 0) << err();
  EXPECT_EQ(out(), plain);
  EXPECT_EQ(run({"forecast", example, "--runs", "0"}), 2);
}

TEST_F(Commands, ASeedWithoutAnythingDrawnIsRemarkedOn) {
  ASSERT_EQ(run({"forecast", example, "--resolution", "coarse", "--seed", "2"}), 0);
  EXPECT_THAT(err(), HasSubstr("changes nothing: the weather comes from a file"));
}

TEST_F(Commands, CtrlCDropsTheRunsAndKeepsThePilesOwn) {
  // The pile's own 10 days on the coarse mesh take a few hundredths of a second, ten thousand runs
  // minutes.
  Process process = start({"forecast", example, "--resolution", "coarse", "--runs", "10000",
                           "--set", "run.days=10", "--quiet", "-o", result("a.h5")});
  std::this_thread::sleep_for(std::chrono::milliseconds(2000));
  ::kill(process.id, SIGINT);
  process.wait();
  EXPECT_EQ(process.exit_code(), 128 + SIGINT) << err();
  EXPECT_THAT(err(),
              HasSubstr("stopped after 10 of 10 days of the pile's own run; the 10000 others "
                        "are dropped"));
  const heapcast::engine::Dataset kept = heapcast::engine::read_results_file(result("a.h5"));
  EXPECT_EQ(kept.dimension("run")->size, 1U);
  EXPECT_EQ(kept.dimension("time")->size, 24U * 10U + 1U);
  EXPECT_NE(kept.attribute("stopped"), nullptr);
}

/// A pile of four days, invented, with the text of variants behind it.
std::string small_pile(const std::string& variants) {
  return heapcast::tests::invented_site("An invented heap") + R"([pile]
shape = "heap"
[[material]]
name = "grass_clippings"
amount = "350 kg"
[[material]]
name = "wheat_straw"
amount = "80 kg"
chop = "5 cm"
[turning]
method = "fork"
every = "2 days"
[run]
days = 4
resolution = "coarse"
)" + variants;
}

constexpr const char* two_variants = R"([[variant]]
name = "daily"
set = { "turning.every" = "1 day" }
[[variant]]
name = "never"
without = ["turning"]
)";

class Compare : public Commands {
protected:
  [[nodiscard]] std::string pile(const std::string& variants, const std::string& name = "pile") {
    const fs::path path = folder_ / (name + ".toml");
    std::ofstream(path) << small_pile(variants);
    return path;
  }
};

TEST_F(Compare, OneFileWithoutVariantsHasNothingToCompare) {
  EXPECT_EQ(run({"compare", pile("")}), 2);
  EXPECT_THAT(err(), HasSubstr("has nothing to compare"));
  EXPECT_THAT(err(), HasSubstr("add [[variant]] tables"));
  EXPECT_THAT(out(), IsEmpty());
}

TEST_F(Compare, OneVariantStandsBesideThePileAsWritten) {
  ASSERT_EQ(run({"compare", pile("[[variant]]\nname = \"never\"\nwithout = [\"turning\"]\n"),
                 "--runs", "1", "--json"}),
            0)
      << err();
  const auto json = nlohmann::json::parse(out());
  ASSERT_EQ(json["variants"].size(), 2U);
  EXPECT_EQ(json["variants"][0]["name"], "as written");
  EXPECT_EQ(json["variants"][1]["name"], "never");
  // Every 2 days from day 0: on days 2 and 4, or 2 alone.
  EXPECT_GE(json["variants"][0]["results"]["turns"]["value"], 1.0);
  EXPECT_EQ(json["variants"][1]["results"]["turns"]["value"], 0.0);
}

TEST_F(Compare, VariantsAloneStandBesideOneAnother) {
  ASSERT_EQ(run({"compare", pile(two_variants), "--runs", "1"}), 0) << err();
  EXPECT_THAT(err(), HasSubstr("one thing is unlikely (turned every day)"));
  EXPECT_THAT(out(), testing::StartsWith("An invented heap\none run each"));
  EXPECT_THAT(out(), testing::Not(HasSubstr("as written")));
  EXPECT_THAT(out(), HasSubstr("Against \"daily\":"));
  EXPECT_THAT(out(), HasSubstr("h less work"));
}

TEST_F(Compare, AFaultyVariantIsNamedWithItsLine) {
  const std::string variants = std::string(two_variants) + "[[variant]]\nname = \"odd\"\n"
                                                           "set = { \"turning.evry\" = \"7 days\" }"
                                                           "\n";
  const std::string path = pile(variants);
  const std::string text = small_pile(variants);
  const auto line =
      1 +
      std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(text.find("evry")), '\n');
  const std::string place = path + ":" + std::to_string(line) + ":";
  EXPECT_EQ(run({"compare", path, "--runs", "1"}), 2);
  EXPECT_THAT(err(), HasSubstr(place));
  EXPECT_THAT(err(), HasSubstr("variant \"odd\""));
  EXPECT_THAT(err(), HasSubstr("did you mean \"every\"?"));
  EXPECT_EQ(run({"check", path}), 2);
  EXPECT_THAT(err(), HasSubstr(place));
  EXPECT_THAT(err(), HasSubstr("variant \"odd\""));
  EXPECT_EQ(run({"check", pile(two_variants)}), 0) << err();
}

TEST_F(Compare, SeveralFilesAreNamedAfterThemselves) {
  const std::string first = pile("", "october");
  const std::string second = folder_ / "april.toml";
  std::string text = small_pile("");
  text.replace(text.find("2013-10-05"), 10, "2013-04-05");
  std::ofstream(second) << text;
  ASSERT_EQ(run({"compare", first, second, "--runs", "1", "--json"}), 0) << err();
  const auto json = nlohmann::json::parse(out());
  EXPECT_EQ(json["title"], "2 piles compared");
  EXPECT_EQ(json["variants"][0]["name"], "october");
  EXPECT_EQ(json["variants"][1]["name"], "april");
  EXPECT_EQ(json["variants"][1]["start"], "2013-04-05T09:00");
}

TEST_F(Compare, ThreeRunsOfAnExampleAreOverVariantRunAndQuantile) {
  const std::string compared = HEAPCAST_EXAMPLES_DIR "/05_turning_compared/pile.toml";
  ASSERT_EQ(run({"compare", compared, "--runs", "3", "--resolution", "coarse", "--set",
                 "run.days=4 days", "-o", result("a.h5")}),
            0)
      << err();
  EXPECT_THAT(out(), HasSubstr("3 runs each with the same draws"));
  EXPECT_THAT(out(), HasSubstr("Saved      " + result("a.h5")));
  const heapcast::engine::Dataset data = heapcast::engine::read_results_file(result("a.h5"));
  EXPECT_EQ(data.dimension("variant")->size, 4U);
  EXPECT_EQ(data.dimension("run")->size, 3U);
  EXPECT_EQ(data.dimension("time")->size, 4U * 24U + 1U);
  EXPECT_EQ(data.variable("core_temperature")->dimensions,
            (std::vector<std::string>{"variant", "quantile", "time"}));
  EXPECT_EQ(data.variable("labour_hours")->dimensions,
            (std::vector<std::string>{"variant", "run"}));
  EXPECT_THAT(std::get<std::string>(*data.attribute("command_options")),
              HasSubstr("--set \"run.days=4 days\""));
  EXPECT_THAT(std::get<std::string>(*data.attribute("command_options")), HasSubstr("--runs 3"));
}

TEST_F(Compare, ANoteOfAllVariantsIsToldOnce) {
  const std::string path = pile(two_variants);
  ASSERT_EQ(run({"compare", path, "--runs", "1", "--set", "material.1.amount=800 kg"}), 0) << err();
  const std::string notes = err();
  EXPECT_THAT(notes, testing::Not(IsEmpty()));
  std::vector<std::string> lines;
  std::istringstream in(notes);
  for (std::string line; std::getline(in, line);) {
    lines.push_back(line);
  }
  std::ranges::sort(lines);
  EXPECT_EQ(std::ranges::adjacent_find(lines), lines.end()) << notes;
}

TEST_F(Compare, TheSameSeedGivesTheSameBytesForAnyNumberOfThreads) {
  const std::string path = pile(two_variants);
  const auto words = [&](const char* seed, const char* threads, const std::string& file) {
    std::vector<std::string> all = {"compare", path, "--runs", "3", "--quiet", "-o", file};
    all.insert(all.end(), {"--seed", seed, "--threads", threads});
    return all;
  };
  ASSERT_EQ(run(words("7", "1", result("one.h5"))), 0) << err();
  EXPECT_THAT(out(), IsEmpty());
  ASSERT_EQ(run(words("7", "2", result("two.h5"))), 0) << err();
  EXPECT_EQ(text_of(result("one.h5")), text_of(result("two.h5")));
  ASSERT_EQ(run(words("8", "2", result("other.h5"))), 0) << err();
  const auto peaks = [&](const char* name) {
    return heapcast::engine::read_results_file(result(name)).variable("peak_temperature")->values;
  };
  EXPECT_NE(peaks("one.h5"), peaks("other.h5"));
}

TEST_F(Compare, TheFilesOwnSeedCountsWithoutTheOption) {
  const std::string path = pile(two_variants);
  const std::vector<std::string> words = {
      "compare", path, "--runs", "3", "--json", "--set", "site.normals.seed=7"};
  ASSERT_EQ(run(words), 0) << err();
  const auto own = nlohmann::json::parse(out());
  EXPECT_EQ(own["seed"], 7);
  ASSERT_EQ(run({"compare", path, "--runs", "3", "--json", "--seed", "7"}), 0) << err();
  EXPECT_EQ(nlohmann::json::parse(out())["variants"], own["variants"]);
}

TEST_F(Compare, WillNotWriteOverAPileFile) {
  const std::string path = pile(two_variants);
  const std::string other = pile("", "other");
  EXPECT_EQ(run({"compare", path, "--runs", "1", "-o", path}), 2);
  EXPECT_THAT(err(), HasSubstr("is a pile file itself"));
  EXPECT_EQ(run({"compare", path, other, "--runs", "1", "-o", other}), 2);
  EXPECT_EQ(text_of(path), small_pile(two_variants));
  EXPECT_EQ(text_of(other), small_pile(""));
}

TEST_F(Compare, FilesThatCannotBeReadOrWrittenEndWithFour) {
  const std::string nowhere = folder_ / "no" / "where.h5";
  EXPECT_EQ(run({"compare", pile(two_variants), "--runs", "1", "-o", nowhere}), 4);
  EXPECT_THAT(err(), HasSubstr("where.h5"));
  EXPECT_EQ(run({"compare", pile(""), "no_such_pile.toml"}), 4);
  EXPECT_THAT(err(), HasSubstr("no_such_pile.toml"));
}

TEST_F(Compare, CtrlCLeavesNothing) {
  for (const char* runs : {"1", "10000"}) {
    // 3000 days of two piles take far longer than the signal does to arrive.
    Process process = start({"compare", pile(two_variants), "--runs", runs, "--resolution", "fine",
                             "--set", "run.days=3000", "-o", result("a.h5")});
    wait_until_it_catches_ctrl_c(process.id);
    ::kill(process.id, SIGINT);
    process.wait();
    EXPECT_EQ(process.exit_code(), 128 + SIGINT) << err();
    EXPECT_THAT(err(), HasSubstr("stopped; nothing is shown or written"));
    EXPECT_THAT(out(), IsEmpty());
    EXPECT_TRUE(nothing_left());
  }
}

} // namespace
