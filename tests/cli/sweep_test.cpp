// Studies as people run them.

#include "engine/results_file.hpp"
#include "tests/cli/sample_study.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <thread>

namespace heapcast::tests {
namespace {

using engine::Dataset;
using engine::read_results_file;
using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;

class Sweep : public StudyProgram {
protected:
  /// Puts a study of the pile in place of the small one: its design, its factors as they are
  /// written in a table, and what else it asks for.
  void put_study(const std::string& design, const std::vector<std::string>& factors,
                 const std::string& more = {}) const {
    std::string text = "pile = \"pile.toml\"\n[design]\n" + design + '\n';
    for (const std::string& factor : factors) {
      text += "[[factor]]\n" + factor + '\n';
    }
    put("study.toml", text + more);
  }

  const std::string fast_rate = "key = \"fast_rate\"\nprior = true";
};

/// Until the journal holds a run behind its head, half a minute at most.
void wait_for_records(const std::string& journal) {
  std::uintmax_t head = 0;
  for (int look = 0; look < 15000; ++look) {
    std::error_code none;
    const std::uintmax_t size = fs::file_size(journal, none);
    if (!none && size > 0) {
      if (head == 0) {
        head = size;
      } else if (size > head) {
        return;
      }
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
}

TEST_F(Sweep, TheDesignStandsAsCoordinatesBesideTheNumbers) {
  ASSERT_EQ(run({"sweep", study(), "-o", result("a.h5")}), 0) << err();
  EXPECT_THAT(err(), IsEmpty()); // no progress into a file
  EXPECT_THAT(out(), HasSubstr("Saved      " + result("a.h5")));
  const Dataset data = read_results_file(result("a.h5"));
  const std::size_t runs = data.dimension("run")->size;
  // 24 points in two years each, less those with 390 kg or more.
  EXPECT_GT(runs, 40U);
  EXPECT_LE(runs, 48U);
  for (const double kg : data.variable("straw")->values) {
    EXPECT_TRUE(kg >= 20 && kg < 390) << kg;
  }
  for (const double days : data.variable("turning_every")->values) {
    EXPECT_TRUE(days == 1 || days == 2) << days;
  }
  EXPECT_EQ(data.variable("core_temperature")->dimensions,
            (std::vector<std::string>{"run", "day"}));
  EXPECT_EQ(data.variable("core_temperature")->values.size(), runs * 4);
  EXPECT_EQ(data.variable("temperature")->dimensions,
            (std::vector<std::string>{"run", "field_day", "cell"}));
  // The same point in two years of weather.
  EXPECT_EQ(data.variable("straw")->values[0], data.variable("straw")->values[1]);
  EXPECT_EQ(data.variable("weather_year")->values[1], 1.0);
  EXPECT_NE(data.variable("peak_temperature")->values[0],
            data.variable("peak_temperature")->values[1]);
}

// A run of a study is the forecast of its pile: the same as with --set, but for what the solver
// for several runs side by side leaves, 1e-7 mol/mol of oxygen: far less than 0.01 K.
TEST_F(Sweep, ARunIsTheForecastWithItsValues) {
  put_study(R"(kind = "grid")",
            {R"(key = "turning.every"
values = ["1 day", "3 days"])",
             R"(key = "material.1.amount"
values = ["20 kg", "90 kg"])"},
            R"([output]
daily = ["core_temperature"])");
  ASSERT_EQ(run({"sweep", study(), "--quiet", "-o", result("a.h5")}), 0) << err();
  const Dataset data = read_results_file(result("a.h5"));
  ASSERT_EQ(data.dimension("run")->size, 4U);
  EXPECT_EQ(data.variable("turning_every")->values, (std::vector<double>{1, 1, 3, 3}));
  EXPECT_EQ(data.variable("material_1_amount")->values, (std::vector<double>{20, 90, 20, 90}));
  ASSERT_EQ(run({"forecast", folder_ / "pile.toml", "--quiet", "-o", result("b.h5"), "--set",
                 "turning.every=3 days", "--set", "material.1.amount=90 kg"}),
            0)
      << err();
  const Dataset one = read_results_file(result("b.h5"));
  EXPECT_NEAR(data.variable("peak_temperature")->values[3],
              one.variable("peak_temperature")->values[0], 0.01);
  EXPECT_NEAR(data.variable("core_temperature")->values[3 * 4 + 2],
              one.variable("core_temperature")->values[48], 0.01);
  EXPECT_EQ(data.variable("turns")->values[3], one.variable("turns")->values[0]);
}

TEST_F(Sweep, ThreadsChangeNoByte) {
  const std::string whole = undisturbed();
  ASSERT_EQ(run({"sweep", study(), "--quiet", "-o", result("a.h5"), "--threads", "1"}), 0);
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);
  ASSERT_EQ(run({"sweep", study(), "--quiet", "-o", result("b.h5"), "--threads", "5"}), 0);
  EXPECT_TRUE(bytes_of_file(result("b.h5")) == whole);
}

TEST_F(Sweep, ShardsAreJoinedIntoTheSameBytes) {
  const std::string whole = undisturbed();
  for (const char* shard : {"1/3", "2/3", "3/3"}) {
    ASSERT_EQ(run({"sweep", study(), "--quiet", "--shard", shard}), 0) << err();
  }
  const std::string stem = folder_ / "study_";
  ASSERT_EQ(run({"gather", stem + "3_of_3.h5", stem + "1_of_3.h5", stem + "2_of_3.h5", "-o",
                 result("a.h5")}),
            0)
      << err();
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);

  EXPECT_EQ(run({"gather", stem + "3_of_3.h5", stem + "1_of_3.h5", "-o", result("b.h5")}), 2);
  EXPECT_THAT(err(), HasSubstr("lack the runs"));
  EXPECT_EQ(run({"gather", stem + "1_of_3.h5", stem + "1_of_3.h5", "-o", result("b.h5")}), 2);
  EXPECT_THAT(err(), HasSubstr("another of the files holds too"));
  ASSERT_EQ(run({"sweep", study(), "--quiet", "--shard", "2/3", "--set", "run.days=2", "-o",
                 result("c.h5")}),
            0);
  EXPECT_EQ(run({"gather", stem + "1_of_3.h5", result("c.h5"), "-o", result("b.h5")}), 2);
  EXPECT_THAT(err(), AllOf(HasSubstr("not of the same study"), HasSubstr("run.days=2")));
}

TEST_F(Sweep, ARunThatFailsIsKeptWithItsReason) {
  // Each is good by itself, but not from day 2 until day 1.
  put_study(R"(kind = "grid")", {R"(key = "turning.from"
values = ["0 days", "2 days"])",
                                 R"(key = "turning.until"
values = ["1 day", "3 days"])"});
  ASSERT_EQ(run({"sweep", study(), "-o", result("a.h5")}), 0) << err();
  const Dataset data = read_results_file(result("a.h5"));
  const auto& failures = data.variable("run_failure")->texts;
  ASSERT_EQ(failures.size(), 4U);
  ASSERT_NE(data.variable("turns"), nullptr);
  for (std::size_t i = 0; i < failures.size(); ++i) {
    EXPECT_EQ(failures[i].empty(), i != 2) << failures[i];
    EXPECT_EQ(std::isnan(data.variable("turns")->values[i]), i == 2);
  }
  EXPECT_THAT(failures[2], HasSubstr("until"));
  const double why = data.variable("turns_reason")->values[2];
  EXPECT_EQ(data.variable("reason")->texts.at(static_cast<std::size_t>(why)), "the run failed");
  EXPECT_EQ(data.variable("turns_reason")->values[0], -1.0);
  EXPECT_EQ(std::get<std::int64_t>(*data.attribute("failed_runs")), 1);
  EXPECT_THAT(out(), HasSubstr("failed, see run_failure"));
}

TEST_F(Sweep, CtrlCKeepsWhatIsDoneAndTheSameCommandGoesOn) {
  const std::string whole = undisturbed();
  const std::vector<std::string> words = {"sweep", study(), "-o", result("a.h5"), "--threads", "1"};
  Process process = start(words);
  wait_for_records(result("a.h5.journal"));
  ::kill(process.id, SIGINT);
  process.wait();
  ASSERT_EQ(process.exit_code(), 128 + SIGINT) << err() << out();
  EXPECT_THAT(err(), HasSubstr("the same command goes on"));
  EXPECT_FALSE(fs::exists(result("a.h5")));
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(err(), HasSubstr("going on: "));
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);
  EXPECT_FALSE(fs::exists(result("a.h5.journal")));
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(out(), HasSubstr("is complete already"));
}

TEST_F(Sweep, AChangedStudyIsRefusedWithTheDifference) {
  const std::vector<std::string> words = {"sweep", study(), "-o", result("a.h5"), "--threads", "1"};
  Process process = start(words);
  wait_for_records(result("a.h5.journal"));
  ::kill(process.id, SIGKILL);
  process.wait();
  ASSERT_TRUE(fs::exists(result("a.h5.journal")));
  std::string other = small_study;
  other.replace(other.find("seed = 3"), 8, "seed = 4");
  put("study.toml", other);
  EXPECT_EQ(run(words), 2);
  EXPECT_THAT(err(), AllOf(HasSubstr("was: seed = 3"), HasSubstr("is:  seed = 4")));
  // A comment changes nothing.
  put("study.toml", "# another word\n" + small_study);
  std::string colder = small_pile;
  colder.replace(colder.find("\"-3 -2"), 6, "\"-4 -2");
  put("pile.toml", colder);
  EXPECT_EQ(run(words), 2);
  EXPECT_THAT(err(), AllOf(HasSubstr("pile_file is:"), HasSubstr("weather_checksum was")));
  put("pile.toml", small_pile);
  EXPECT_EQ(run(words), 0) << err();
  put("study.toml", other);
  EXPECT_EQ(run(words), 2);
  EXPECT_THAT(err(), HasSubstr("holds the results of another study"));
}

TEST_F(Sweep, TheFilesOfOwnMaterialsAreAPartOfTheStudy) {
  const std::string mine = "name = \"mine\"\nlike = \"wheat_straw\"\nnitrogen = \"0.6 % dry\"\n";
  put("a.toml", "like = \"hay\"\n" + mine.substr(0, 14));
  put("b.toml", mine);
  put("pile.toml", small_pile + "[[material]]\nname = \"mine\"\nfile = \"a.toml\"\n"
                                "amount = \"10 kg\"\n");
  put("study.toml", "title = \"Two files (invented)\"\npile = \"pile.toml\"\n"
                    "[design]\nkind = \"grid\"\n[[factor]]\nkey = \"material.2.file\"\n"
                    "values = [\"a.toml\", \"b.toml\"]\n");
  const std::vector<std::string> words = {"sweep", study(), "--quiet", "-o", result("a.h5")};
  ASSERT_EQ(run(words), 0) << err();
  const Dataset data = read_results_file(result("a.h5"));
  EXPECT_EQ(std::get<std::string>(*data.attribute("material_files")),
            "# file = \"a.toml\"\nlike = \"hay\"\nname = \"mine\"\n\n# file = \"b.toml\"\n" + mine);
  ASSERT_EQ(run(words), 0) << err();
  put("b.toml", mine + "carbon = \"44 % dry\"\n");
  EXPECT_EQ(run(words), 2);
  EXPECT_THAT(err(), HasSubstr("holds the results of another study"));
}

TEST_F(Sweep, AFullDiskIsToldAndTheSameCommandGoesOn) {
  const std::string whole = undisturbed();
  const std::vector<std::string> words = {"sweep", study(), "--quiet", "-o", result("a.h5")};
  for (const rlim_t limit : {9'000, 60'000, 100'000}) {
    EXPECT_EQ(run(words, limit), 4) << limit;
    EXPECT_THAT(err(), AllOf(HasSubstr("a.h5.journal"), HasSubstr("File too large"))) << limit;
    EXPECT_FALSE(fs::exists(result("a.h5")));
  }
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);
}

// Four runs make a small journal, and the names of all numbers a results file that is larger.
TEST_F(Sweep, ADiskTooFullForTheResultsKeepsTheRuns) {
  put_study("kind = \"sobol\"\npoints = 4", {fast_rate});
  const std::string whole = undisturbed();
  const std::vector<std::string> words = {"sweep", study(), "-o", result("a.h5")};
  ASSERT_EQ(run(words, whole.size() - 1000), 4);
  EXPECT_THAT(err(), AllOf(HasSubstr("a.h5: cannot be written"), HasSubstr("File too large")));
  EXPECT_FALSE(fs::exists(result("a.h5")));
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_ / "results"), fs::directory_iterator()),
            1); // the journal
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_THAT(err(), HasSubstr("going on: 4 of 4 runs are done"));
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);
}

TEST_F(Sweep, TwoAtATimeAreRefused) {
  const std::vector<std::string> words = {"sweep",        study(), "--quiet",     "-o",
                                          result("a.h5"), "--set", "run.days=300"};
  Process first = start(words);
  std::this_thread::sleep_for(std::chrono::milliseconds(500));
  EXPECT_EQ(run(words), 4);
  EXPECT_THAT(err(), HasSubstr("another process is writing it"));
  ::kill(first.id, SIGKILL);
  first.wait();
}

TEST_F(Sweep, ItsOwnInputsAndForeignFilesAreNotWrittenOver) {
  EXPECT_EQ(run({"sweep", study(), "-o", folder_ / "pile.toml"}), 2);
  EXPECT_EQ(bytes_of_file(folder_ / "pile.toml"), small_pile);
  put("results/a.h5", "somebody's");
  EXPECT_EQ(run({"sweep", study(), "-o", result("a.h5")}), 4);
  EXPECT_EQ(bytes_of_file(result("a.h5")), "somebody's");
  put("results/b.h5.journal", "somebody's");
  EXPECT_EQ(run({"sweep", study(), "-o", result("b.h5")}), 4);
  EXPECT_EQ(bytes_of_file(result("b.h5.journal")), "somebody's");
}

TEST_F(Sweep, SensitivityIndicesComeWithTheirDesigns) {
  const std::vector<std::string> factors = {fast_rate, R"(key = "labour.fork"
from = "1 m3/h"
to = "2 m3/h")"};
  put_study("kind = \"saltelli\"\nblocks = 16", factors);
  ASSERT_EQ(run({"sweep", study(), "--quiet", "-o", result("a.h5")}), 0) << err();
  const Dataset data = read_results_file(result("a.h5"));
  EXPECT_EQ(data.dimension("run")->size, 16U * 4U);
  const auto& numbers = data.variable("number_name")->texts;
  const auto place = [&](const std::string& name) {
    return 2 * static_cast<std::size_t>(std::ranges::find(numbers, name) - numbers.begin());
  };
  // How fast a fork works has no part in the heat, and all of that in the hours.
  EXPECT_EQ(data.variable("sobol_total")->values.at(place("peak_temperature") + 1), 0.0);
  EXPECT_GT(data.variable("sobol_total")->values.at(place("peak_temperature")), 0.5);
  EXPECT_GT(data.variable("sobol_total")->values.at(place("labour_hours") + 1), 0.9);

  put_study("kind = \"morris\"\ntrajectories = 4", factors);
  ASSERT_EQ(run({"sweep", study(), "--quiet", "-o", result("b.h5")}), 0) << err();
  const Dataset effects = read_results_file(result("b.h5"));
  EXPECT_EQ(effects.dimension("run")->size, 4U * 3U);
  EXPECT_LT(effects.variable("morris_mu")->values.at(place("labour_hours") + 1), 0.0);
  EXPECT_EQ(effects.variable("morris_mu_star")->values.at(place("peak_temperature") + 1), 0.0);
}

} // namespace
} // namespace heapcast::tests
