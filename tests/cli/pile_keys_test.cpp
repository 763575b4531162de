#include "cli/input/pile_keys.hpp"

#include <gtest/gtest.h>

#include <set>
#include <string>
#include <utility>

namespace heapcast::cli {
namespace {

std::string full_name(const Key& key) {
  return key.section + "." + key.name;
}

/// The text between the quotes of a TOML text.
std::string unquoted(const std::string& example) {
  return example.size() > 1 && example.front() == '"' ? example.substr(1, example.size() - 2)
                                                      : example;
}

TEST(PileKeys, EveryKeyIsThereOnceAndExplained) {
  std::set<std::string> names;
  for (const Key& key : pile_keys()) {
    EXPECT_TRUE(names.insert(full_name(key)).second) << full_name(key);
    EXPECT_FALSE(key.meaning.empty()) << full_name(key);
    const bool section = key.kind == ValueKind::table || key.kind == ValueKind::tables;
    EXPECT_TRUE(section || key.kind == ValueKind::property || !key.example.empty())
        << full_name(key);
  }
}

TEST(PileKeys, EverySectionIsAKeyOfTheOneAbove) {
  std::set<std::string> sections = {""};
  for (const Key& key : pile_keys()) {
    if (key.kind == ValueKind::table || key.kind == ValueKind::tables) {
      sections.insert(key.section.empty() ? key.name : key.section + "." + key.name);
    }
  }
  for (const Key& key : pile_keys()) {
    EXPECT_TRUE(sections.contains(key.section)) << full_name(key);
  }
}

TEST(PileKeys, ExamplesAndInitialValuesLieInTheirRanges) {
  for (const Key& key : pile_keys()) {
    if (key.kind == ValueKind::quantity) {
      const double low = parse_quantity(key.low, key.dimension);
      const double high = parse_quantity(key.high, key.dimension);
      EXPECT_LT(low, high) << full_name(key);
      for (const std::string& written : {unquoted(key.example), key.initial}) {
        if (written.empty()) {
          continue;
        }
        const bool bare = written.find_first_not_of("0123456789.") == std::string::npos;
        const double value =
            parse_quantity(bare ? written + " " + key.counts : written, key.dimension);
        EXPECT_GE(value, low) << full_name(key);
        EXPECT_LE(value, high) << full_name(key);
      }
    } else if (key.kind == ValueKind::number || key.kind == ValueKind::whole) {
      EXPECT_GE(parse_number(key.example), parse_number(key.low)) << full_name(key);
      EXPECT_LE(parse_number(key.example), parse_number(key.high)) << full_name(key);
    } else if (key.kind == ValueKind::choice) {
      const std::set<std::string> choices(key.choices.begin(), key.choices.end());
      EXPECT_TRUE(choices.contains(unquoted(key.example))) << full_name(key);
      EXPECT_TRUE(key.initial.empty() || choices.contains(key.initial)) << full_name(key);
    }
  }
}

} // namespace
} // namespace heapcast::cli
