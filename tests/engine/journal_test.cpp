#include "engine/journal.hpp"

#include "engine/errors.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <vector>

namespace heapcast::engine {
namespace {

namespace fs = std::filesystem;

class JournalFile : public testing::Test {
protected:
  JournalFile() {
    std::string name = (fs::temp_directory_path() / "journal_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
      throw std::runtime_error("no temporary folder");
    }
    folder_ = name;
    path_ = (folder_ / "a.journal").string();
  }
  ~JournalFile() override { fs::remove_all(folder_); }

  void begin(const std::vector<std::string>& records) const {
    Journal journal(path_);
    journal.begin("head");
    for (const std::string& record : records) {
      journal.append(record);
    }
  }

  [[nodiscard]] std::vector<std::string> records() const {
    Journal journal(path_);
    EXPECT_EQ(journal.header(), "head");
    std::vector<std::string> found;
    journal.recover([&](std::uint64_t place, std::string_view record) {
      found.emplace_back(record);
      EXPECT_EQ(journal.read(place), record);
    });
    return found;
  }

  [[nodiscard]] std::string bytes() const {
    std::ifstream stream(path_, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
  }
  void put(const std::string& bytes) const { std::ofstream(path_, std::ios::binary) << bytes; }

  fs::path folder_;
  std::string path_;
};

const std::vector<std::string> three = {"one", std::string(5000, 'x'), "three"};

TEST_F(JournalFile, RecordsComeBackInOrder) {
  begin(three);
  EXPECT_EQ(records(), three);
}

TEST_F(JournalFile, ANewFileHasNoHeader) {
  EXPECT_EQ(Journal(path_).header(), "");
}

// A kill or a power cut can leave any part of the file.
TEST_F(JournalFile, CutOffAnywhereItKeepsTheWholeRecordsAndGoesOn) {
  begin(three);
  const std::string whole = bytes();
  for (std::size_t length = 0; length < whole.size(); length += length < 200 ? 1 : 97) {
    put(whole.substr(0, length));
    Journal journal(path_);
    if (journal.header().empty()) {
      journal.begin("head");
    }
    std::vector<std::string> found;
    journal.recover([&](std::uint64_t, std::string_view record) { found.emplace_back(record); });
    ASSERT_LE(found.size(), 2U) << length;
    for (std::size_t i = 0; i < found.size(); ++i) {
      EXPECT_EQ(found[i], three[i]) << length;
    }
    const std::uint64_t place = journal.append("after");
    EXPECT_EQ(journal.read(place), "after") << length;
  }
  EXPECT_EQ(records().back(), "after");
}

TEST_F(JournalFile, ADamagedRecordEndsIt) {
  begin(three);
  std::string damaged = bytes();
  damaged[damaged.size() - three[2].size() - 16 - 100] ^= 1; // in the second record
  put(damaged);
  EXPECT_EQ(records(), std::vector<std::string>{"one"});
}

TEST_F(JournalFile, OnlyOneAtATimeHasIt) {
  const Journal first(path_);
  EXPECT_THROW(Journal second(path_), FileError);
}

TEST_F(JournalFile, AnotherFileIsLeftAlone) {
  put("some text of somebody's");
  EXPECT_THROW(Journal journal(path_), FileError);
  EXPECT_EQ(bytes(), "some text of somebody's");
  EXPECT_THROW(Journal journal(folder_.string()), FileError);
}

} // namespace
} // namespace heapcast::engine
