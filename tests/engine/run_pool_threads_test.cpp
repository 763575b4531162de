#include "engine/run_pool.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <cstddef>
#include <set>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace heapcast::engine {
namespace {

constexpr unsigned thread_counts[] = {0, 1, 2, 4, 7};

TEST(RunPool, ThreadsDoEveryJobOnce) {
  for (const unsigned threads : thread_counts) {
    for (const std::size_t jobs : {0U, 1U, 3U, 100U}) {
      std::vector<std::atomic<int>> done(jobs);
      run_pool(jobs, threads, [&](std::size_t i) { ++done[i]; });
      for (const std::atomic<int>& count : done) {
        EXPECT_EQ(count.load(), 1) << jobs << " jobs, " << threads << " threads";
      }
    }
  }
}

TEST(RunPool, ThreadsGiveTheSameResultsInWhateverOrderJobsEnd) {
  // The first jobs take longest, so that with several threads they end last.
  std::vector<std::vector<double>> results;
  for (const unsigned threads : thread_counts) {
    std::vector<double> result(16);
    run_pool(result.size(), threads, [&](std::size_t i) {
      std::this_thread::sleep_for(std::chrono::microseconds(200 * (result.size() - i)));
      double x = 1.0 / static_cast<double>(i + 3);
      for (int k = 0; k < 1000; ++k) {
        x = 3.9 * x * (1.0 - x); // chaotic: any difference would show
      }
      result[i] = x;
    });
    results.push_back(result);
  }
  for (const std::vector<double>& result : results) {
    EXPECT_EQ(result, results.front());
  }
}

TEST(RunPool, ThreadsWorkAtTheSameTime) {
  // Each of three jobs waits for the other two: one thread could never finish.
  std::atomic<int> arrived{0};
  std::vector<std::thread::id> who(3);
  run_pool(3, 3, [&](std::size_t i) {
    who[i] = std::this_thread::get_id();
    ++arrived;
    while (arrived.load() < 3) {
      std::this_thread::yield();
    }
  });
  EXPECT_EQ(std::set<std::thread::id>(who.begin(), who.end()).size(), 3U);
}

TEST(RunPool, OneThreadIsTheCallers) {
  const std::thread::id caller = std::this_thread::get_id();
  std::vector<std::size_t> order;
  run_pool(5, 1, [&](std::size_t i) {
    EXPECT_EQ(std::this_thread::get_id(), caller);
    order.push_back(i);
  });
  EXPECT_EQ(order, (std::vector<std::size_t>{0, 1, 2, 3, 4}));
}

TEST(RunPool, ThreadsRethrowTheExceptionOfTheLowestIndex) {
  // Jobs 5 and 9 fail, 9 long before 5.
  for (const unsigned threads : thread_counts) {
    std::string message;
    try {
      run_pool(64, threads, [&](std::size_t i) {
        if (i == 5) {
          std::this_thread::sleep_for(std::chrono::milliseconds(20));
          throw std::runtime_error("five");
        }
        if (i == 9) {
          throw std::runtime_error("nine");
        }
      });
    } catch (const std::runtime_error& e) {
      message = e.what();
    }
    EXPECT_EQ(message, "five") << threads << " threads";
  }
}

TEST(RunPool, ThreadsStopEarlyAfterAnException) {
  constexpr std::size_t jobs = 100'000;
  for (const unsigned threads : thread_counts) {
    std::atomic<std::size_t> begun{0};
    EXPECT_THROW(run_pool(jobs, threads,
                          [&](std::size_t i) {
                            ++begun;
                            if (i == 0) {
                              throw std::runtime_error("at once");
                            }
                            std::this_thread::sleep_for(std::chrono::microseconds(100));
                          }),
                 std::runtime_error);
    EXPECT_LT(begun.load(), jobs / 2) << threads << " threads";
  }
}

} // namespace
} // namespace heapcast::engine
