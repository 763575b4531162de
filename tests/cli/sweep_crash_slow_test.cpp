// A study that is killed again and again.

#include "tests/cli/sample_study.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <random>
#include <thread>

namespace heapcast::tests {
namespace {

using SweepCrash = StudyProgram;

TEST_F(SweepCrash, SixtyKillsAtRandomMomentsChangeNoByte) {
  const auto begin = std::chrono::steady_clock::now();
  const std::string whole = undisturbed();
  const auto longest = std::chrono::duration_cast<std::chrono::milliseconds>(
      std::chrono::steady_clock::now() - begin);
  const std::vector<std::string> words = {"sweep", study(), "--quiet", "-o", result("a.h5")};
  std::mt19937 random(20261126); // NOLINT(cert-msc51-cpp,cert-msc32-c): the same moments again
  double latest_ms = std::max(30.0, 0.6 * static_cast<double>(longest.count()));
  int kills = 0;
  int completed = 0;
  for (int attempt = 0; (kills < 60 || completed < 1) && attempt < 400; ++attempt) {
    // At last later and later: one comes to its end, however busy the machine got meanwhile.
    latest_ms *= kills < 60 ? 1.0 : 1.1;
    std::uniform_real_distribution<double> moment_ms(5.0, latest_ms);
    Process process = start(words);
    std::this_thread::sleep_for(std::chrono::duration<double, std::milli>(moment_ms(random)));
    ::kill(process.id, SIGKILL);
    process.wait();
    if (WIFSIGNALED(process.status)) {
      ++kills;
    } else {
      ASSERT_EQ(process.exit_code(), 0) << err();
      latest_ms = std::max(30.0, 0.9 * latest_ms); // the machine got faster
    }
    if (fs::exists(result("a.h5"))) {
      // Renamed into place whole, whether or not the kill came before the journal's end.
      ASSERT_TRUE(bytes_of_file(result("a.h5")) == whole) << "after " << kills << " kills";
      ASSERT_EQ(run(words), 0) << err();
      ++completed;
      fs::remove_all(folder_ / "results");
      fs::create_directory(folder_ / "results");
    }
  }
  EXPECT_GE(kills, 60);
  ASSERT_EQ(run(words), 0) << err();
  EXPECT_TRUE(bytes_of_file(result("a.h5")) == whole);
  EXPECT_GE(completed, 1) << "no study came to its end between the kills";
}

} // namespace
} // namespace heapcast::tests
