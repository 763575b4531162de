#include "engine/results_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace heapcast::engine {
namespace {

namespace fs = std::filesystem;

/// Large enough to be compressed: 2000 values that start at `first`.
Dataset numbers_from(double first) {
  constexpr std::size_t count = 2000;
  Dimension place;
  place.name = "place";
  place.size = count;
  Variable numbers;
  numbers.name = "numbers";
  numbers.dimensions = {"place"};
  for (std::size_t i = 0; i < count; ++i) {
    numbers.values.push_back(first + static_cast<double>(i));
  }
  Dataset data;
  data.dimensions = {place};
  data.variables = {numbers};
  return data;
}

TEST(ResultsFile, ThreadsWriteAndReadAtOnce) {
  std::string name = (fs::temp_directory_path() / "results_file_threads_XXXXXX").string();
  ASSERT_NE(mkdtemp(name.data()), nullptr);
  const fs::path folder = name;
  std::array<bool, 4> same{};
  std::vector<std::thread> threads;
  threads.reserve(same.size());
  for (std::size_t i = 0; i < same.size(); ++i) {
    threads.emplace_back([&, i] {
      const std::string path = folder / std::to_string(i);
      const Dataset data = numbers_from(1000.0 * static_cast<double>(i));
      bool all = true;
      for (int round = 0; round < 5; ++round) {
        write_results_file(path, data);
        all =
            all && read_results_file(path).variable("numbers")->values == data.variables[0].values;
      }
      same[i] = all;
    });
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  EXPECT_THAT(same, testing::Each(true));
  fs::remove_all(folder);
}

} // namespace
} // namespace heapcast::engine
