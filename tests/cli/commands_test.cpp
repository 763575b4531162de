// The program as people run it: a process of its own, its streams, its exit code and what it
// leaves.

#include "engine/results_file.hpp"

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
using testing::HasSubstr;
using testing::IsEmpty;

const std::string example = HEAPCAST_EXAMPLES_DIR "/01_market_garden_windrow/pile.toml";

std::string text_of(const fs::path& path) {
  std::ifstream stream(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

/// A started program; its streams go to files of the folder.
struct Process {
  pid_t id = -1;
  int status = 0;

  void wait() { ::waitpid(id, &status, 0); }
  [[nodiscard]] int exit_code() const { return WIFEXITED(status) ? WEXITSTATUS(status) : -1; }
};

class Commands : public testing::Test {
protected:
  Commands() {
    std::string name = (fs::temp_directory_path() / "commands_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
      throw std::runtime_error("no temporary folder");
    }
    folder_ = name;
    fs::create_directory(folder_ / "results");
  }
  ~Commands() override { fs::remove_all(folder_); }

  /// Starts the program; `file_limit` bytes is the largest file it may write, 0 for no limit.
  [[nodiscard]] Process start(std::vector<std::string> words, rlim_t file_limit = 0) const {
    words.insert(words.begin(), HEAPCAST_BINARY);
    std::vector<char*> argv;
    argv.reserve(words.size() + 1);
    for (std::string& word : words) {
      argv.push_back(word.data());
    }
    argv.push_back(nullptr);
    const std::string out = folder_ / "out";
    const std::string err = folder_ / "err";
    Process process;
    process.id = ::fork();
    if (process.id == 0) {
      const int out_fd = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
      const int err_fd = ::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
      ::dup2(out_fd, STDOUT_FILENO);
      ::dup2(err_fd, STDERR_FILENO);
      if (file_limit > 0) {
        const rlimit limit{file_limit, file_limit};
        ::setrlimit(RLIMIT_FSIZE, &limit);
      }
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    return process;
  }

  [[nodiscard]] int run(const std::vector<std::string>& words, rlim_t file_limit = 0) const {
    Process process = start(words, file_limit);
    process.wait();
    return process.exit_code();
  }

  [[nodiscard]] std::string out() const { return text_of(folder_ / "out"); }
  [[nodiscard]] std::string err() const { return text_of(folder_ / "err"); }
  [[nodiscard]] std::string result(const std::string& name) const {
    return folder_ / "results" / name;
  }
  [[nodiscard]] bool nothing_left() const { return fs::is_empty(folder_ / "results"); }

  fs::path folder_;
};

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

TEST_F(Commands, CtrlCKeepsWhatIsComputedAndSaysSo) {
  Process process = start({"forecast", example, "--resolution", "fine", "--set", "run.days=300",
                           "--quiet", "-o", result("a.h5")});
  std::this_thread::sleep_for(std::chrono::milliseconds(700));
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
  for (const char* command : {"forecast", "check", "materials", "parameters", "report"}) {
    EXPECT_EQ(run({command, "--help"}), 0);
    EXPECT_THAT(out(), HasSubstr(std::string("heapcast ") + command)) << command;
  }
}

TEST_F(Commands, CheckPassesEveryExampleWithoutRunningIt) {
  for (const auto& entry : fs::directory_iterator(HEAPCAST_EXAMPLES_DIR)) {
    if (entry.is_directory()) {
      EXPECT_EQ(run({"check", (entry.path() / "pile.toml").string()}), 0) << out() << err();
    }
  }
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

} // namespace
