// Every row of bad_inputs.toml: the program is run as people run it and must end by itself, with
// the right exit code and a message that says where, what and what to do.

#include "cli/input/read_file.hpp"
#include "engine/results_file.hpp"
#include "tests/cli/program.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <toml++/toml.h>

namespace {

namespace fs = std::filesystem;
namespace engine = heapcast::engine;

const toml::table& table_of_inputs() {
  static const toml::table table =
      toml::parse_file(HEAPCAST_EXAMPLES_DIR "/../tests/cli/bad_inputs.toml");
  return table;
}

std::string text_of(const toml::table& table, std::string_view key) {
  return table[key].value_or(std::string());
}

std::vector<std::string> texts_of(const toml::table& table, std::string_view key) {
  std::vector<std::string> texts;
  if (const toml::array* array = table[key].as_array()) {
    for (const toml::node& node : *array) {
      texts.push_back(node.value_or(std::string()));
    }
  }
  return texts;
}

/// "@@3*ab@@" stands for "ababab": long lines and deep nesting need no long table.
std::string expanded(std::string text) {
  constexpr std::string_view mark = "@@";
  std::size_t at = 0;
  while ((at = text.find(mark, at)) != std::string::npos) {
    const std::size_t star = text.find('*', at);
    const std::size_t end = text.find(mark, at + mark.size());
    if (star == std::string::npos || end == std::string::npos || end < star) {
      throw std::runtime_error("a repetition is written @@times*piece@@");
    }
    const int times = std::stoi(text.substr(at + mark.size(), star - at - mark.size()));
    const std::string piece = text.substr(star + 1, end - star - 1);
    std::string many;
    many.reserve(static_cast<std::size_t>(times) * piece.size());
    for (int i = 0; i < times; ++i) {
      many += piece;
    }
    text.replace(at, end + mark.size() - at, many);
    at += many.size();
  }
  return text;
}

std::string bytes_of_hex(const std::string& hex) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  }
  return bytes;
}

void write(const fs::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

struct Outcome {
  bool crashed = false;
  int exit_code = -1;
  std::string message; ///< of standard error
};

class BadInputs : public heapcast::tests::Program {
protected:
  BadInputs() { works_in_ = folder_; }

  /// Runs the program in the folder.
  [[nodiscard]] Outcome run(const std::vector<std::string>& words) const {
    heapcast::tests::Process process = start(words);
    process.wait();
    return {!WIFEXITED(process.status), process.exit_code(), err()};
  }

  /// Writes the pile file of a row: one of the bases, with the row's replacement in it.
  void write_pile(const toml::table& row) const {
    const std::string base = row["base"].value_or(std::string("normals"));
    std::string text = text_of(*table_of_inputs()["bases"].as_table(), base);
    ASSERT_FALSE(text.empty()) << "there is no base " << base;
    const std::vector<std::string> replace = texts_of(row, "replace");
    for (std::size_t i = 0; i + 1 < replace.size(); i += 2) {
      const std::size_t at = text.find(replace[i]);
      ASSERT_NE(at, std::string::npos) << "not in the base: " << replace[i];
      text.replace(at, replace[i].size(), replace[i + 1]);
    }
    write(folder_ / "pile.toml", expanded(text));
  }

  /// Writes results made by the program, with something broken in them.
  void write_results(const toml::table& what) const {
    const fs::path path = folder_ / "results.h5";
    engine::Dataset data;
    if (what["foreign"].value_or(false)) {
      data.attributes = {{"title", std::string("something else")}};
      data.dimensions = {{"x", 3, {1.0, 2.0, 3.0}, {}}};
      data.variables = {{"y", {"x"}, {4.0, 5.0, 6.0}, {}, {}}};
      engine::write_results_file(path, data);
      return;
    }
    std::vector<std::string> words = {what["command"].value_or(std::string("forecast")),
                                      "pile.toml", "--quiet", "-o", "results.h5"};
    if (words.front() == "compare") {
      words.insert(words.end(), {"--runs", "1"});
    }
    ASSERT_EQ(run(words).exit_code, 0);
    if (const auto version = what["schema_version"].value<std::int64_t>()) {
      data = engine::read_results_file(path);
      const auto it = std::ranges::find(data.attributes, "schema_version",
                                        &engine::Attributes::value_type::first);
      ASSERT_NE(it, data.attributes.end());
      it->second = *version;
      engine::write_results_file(path, data);
    }
    std::string bytes = heapcast::cli::read_file(path);
    if (const auto keep = what["keep"].value<double>()) {
      bytes.resize(static_cast<std::size_t>(*keep * static_cast<double>(bytes.size())));
    }
    if (const auto drop = what["drop"].value<std::int64_t>()) {
      bytes.resize(bytes.size() - static_cast<std::size_t>(*drop));
    }
    if (const auto flip = what["flip"].value<double>()) {
      char& byte = bytes[static_cast<std::size_t>(*flip * static_cast<double>(bytes.size()))];
      byte = static_cast<char>(~byte);
    }
    write(path, bytes);
  }

  void write_files(const toml::table& row) const {
    write(folder_ / "weather.csv", text_of(*table_of_inputs()["bases"].as_table(), "csv"));
    write_pile(row);
    if (const toml::table* files = row["files"].as_table()) {
      for (const auto& [name, text] : *files) {
        write(folder_ / name.str(), expanded(text.value_or(std::string())));
      }
    }
    if (const toml::table* files = row["hex"].as_table()) {
      for (const auto& [name, hex] : *files) {
        write(folder_ / name.str(), bytes_of_hex(hex.value_or(std::string())));
      }
    }
    for (const std::string& name : texts_of(row, "folders")) {
      fs::remove_all(folder_ / name);
      fs::create_directory(folder_ / name);
    }
    if (const toml::table* results = row["results"].as_table()) {
      write_results(*results);
    }
  }

  [[nodiscard]] static std::vector<std::string> words_of(const toml::table& row) {
    std::vector<std::string> words = texts_of(row, "words");
    if (words.empty() && !row.contains("words")) {
      words = {"check", "pile.toml"};
    }
    for (const std::string& option : texts_of(row, "set")) {
      words.insert(words.end(), {"--set", expanded(option)});
    }
    for (std::string& word : words) {
      word = expanded(word);
    }
    return words;
  }

  void check_row(const toml::table& row) {
    for (const auto& entry : fs::directory_iterator(folder_)) {
      fs::remove_all(entry);
    }
    write_files(row);
    const std::vector<std::string> words = words_of(row);
    const Outcome outcome = run(words);
    EXPECT_FALSE(outcome.crashed) << outcome.message;
    EXPECT_EQ(outcome.exit_code, row["exit"].value_or(-1)) << outcome.message;
    for (const char* key : {"place", "says", "remedy"}) {
      const std::string part = text_of(row, key);
      EXPECT_FALSE(part.empty()) << "the row has no " << key;
      EXPECT_NE(outcome.message.find(part), std::string::npos)
          << "no \"" << part << "\" in: " << outcome.message;
    }
    // A message is read by people on a terminal: no control character of the input in it, and no
    // flood.
    EXPECT_TRUE(std::ranges::all_of(outcome.message, [](char c) {
      return c == '\n' || (static_cast<unsigned char>(c) >= 0x20U && c != 0x7F);
    })) << "control characters in the message";
    constexpr std::size_t most = 6000;
    EXPECT_LE(outcome.message.size(), most);
    report(row, words, outcome);
  }

  /// For the table of `validation/toughness`, through --gtest_output.
  static void report(const toml::table& row, const std::vector<std::string>& words,
                     const Outcome& outcome) {
    std::string name;
    for (const char c : text_of(row, "name")) {
      name += std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
    }
    std::string command;
    for (const std::string& word : words) {
      command.append(command.empty() ? "" : " ").append(word, 0, 60);
    }
    std::string fields = text_of(row, "wrong");
    for (const std::string& field :
         {command, std::to_string(outcome.exit_code), outcome.message.substr(0, 600)}) {
      fields.append("\t").append(field);
    }
    RecordProperty("row_" + name, fields);
  }

  void check_group(std::string_view group) {
    const toml::array& rows = *table_of_inputs()["case"].as_array();
    int checked = 0;
    for (const toml::node& node : rows) {
      const toml::table& row = *node.as_table();
      if (text_of(row, "group") != group) {
        continue;
      }
      SCOPED_TRACE(text_of(row, "name") + ": " + text_of(row, "wrong"));
      check_row(row);
      ++checked;
    }
    EXPECT_GT(checked, 0) << "no row of the group " << group;
  }
};

const std::vector<std::string>& groups() {
  static const std::vector<std::string> names = {"text",    "keys",   "values",   "together",
                                                 "study",   "size",   "material", "weather",
                                                 "command", "results"};
  return names;
}

TEST_F(BadInputs, TheBasesAreInOrder) {
  for (const auto& [name, text] : *table_of_inputs()["bases"].as_table()) {
    if (name == "csv") {
      continue;
    }
    write(folder_ / "weather.csv", text_of(*table_of_inputs()["bases"].as_table(), "csv"));
    write(folder_ / "pile.toml", text.value_or(std::string()));
    const Outcome outcome = run({"check", "pile.toml"});
    EXPECT_EQ(outcome.exit_code, 0) << name.str() << ": " << outcome.message;
  }
}

TEST_F(BadInputs, ThereAreAHundredWithNamesOfTheirOwnInAGroupThatIsRun) {
  const toml::array& rows = *table_of_inputs()["case"].as_array();
  EXPECT_GE(rows.size(), 100U);
  std::set<std::string> names;
  for (const toml::node& node : rows) {
    const toml::table& row = *node.as_table();
    EXPECT_TRUE(names.insert(text_of(row, "name")).second) << text_of(row, "name");
    EXPECT_TRUE(std::ranges::count(groups(), text_of(row, "group")) == 1) << text_of(row, "name");
  }
}

class BadInputsOf : public BadInputs, public testing::WithParamInterface<std::string> {};

TEST_P(BadInputsOf, TheGroupEndWithAMessageThatHelps) {
  check_group(GetParam());
}

INSTANTIATE_TEST_SUITE_P(Groups, BadInputsOf, testing::ValuesIn(groups()),
                         [](const auto& one) { return one.param; });

} // namespace
