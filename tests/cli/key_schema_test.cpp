#include "cli/input/key_schema.hpp"

#include "cli/study/study_keys.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using Json = nlohmann::ordered_json;

const KeyedFile& pile_file() {
  static const KeyedFile file{"pile", pile_keys(), pile_rules()};
  return file;
}

const KeyedFile& study_file() {
  static const KeyedFile file{"study", study_keys(), {}};
  return file;
}

/// The schema of a dotted section; null when there is none.
Json section_of(const Json& schema, const std::string& section) {
  Json at = schema;
  std::istringstream parts(section);
  for (std::string part; std::getline(parts, part, '.');) {
    at = at.value("properties", Json::object()).value(part, Json());
    if (at.is_null()) {
      return at;
    }
    at = at.contains("items") ? at["items"] : at;
  }
  return at;
}

bool requires_key(const Json& section, const std::string& name) {
  const Json required = section.value("required", Json::array());
  return std::ranges::find(required, Json(name)) != required.end();
}

void expect_same(const KeyedFile& file) {
  const Json schema = key_schema(file);
  for (const Key& key : file.keys) {
    const std::string name = key.section + "." + key.name;
    const Json section = section_of(schema, key.section);
    ASSERT_FALSE(section.is_null()) << "no section of " << name;
    const Json own = key.name == "*"
                         ? section.value("additionalProperties", Json())
                         : section.value("properties", Json::object()).value(key.name, Json());
    ASSERT_FALSE(own.is_null()) << name << " is not in the schema";
    EXPECT_TRUE(own.value("description", "").starts_with(key.meaning)) << name;
    EXPECT_EQ(requires_key(section, key.name), key.required) << name;
    if (key.kind == ValueKind::choice) {
      EXPECT_EQ(own.value("enum", Json()), Json(key.choices)) << name;
    }
    EXPECT_EQ(own.value("type", "") == "boolean", key.kind == ValueKind::flag) << name;
    EXPECT_EQ(own.value("type", "") == "integer", key.kind == ValueKind::whole) << name;
    EXPECT_EQ(own.value("type", "") == "array", key.kind == ValueKind::tables) << name;
    EXPECT_EQ(own.contains("default"), !key.initial.empty()) << name;
    EXPECT_EQ(own.contains("examples"), !key.example.empty()) << name;
  }
}

/// The dotted names of all properties below.
void gather(const Json& schema, const std::string& section, std::set<std::string>& names) {
  if (schema.contains("properties")) {
    EXPECT_EQ(schema.value("additionalProperties", Json()), Json(false)) << section;
  }
  const Json properties = schema.value("properties", Json::object());
  for (const auto& [name, own] : properties.items()) {
    std::string full = section;
    full += section.empty() ? "" : ".";
    full += name;
    names.insert(full);
    gather(own.contains("items") ? own["items"] : own, full, names);
  }
}

void expect_nothing_else(const KeyedFile& file) {
  std::set<std::string> of_schema;
  gather(key_schema(file), "", of_schema);
  std::set<std::string> of_table;
  for (const Key& key : file.keys) {
    if (key.name != "*") {
      of_table.insert(key.section.empty() ? key.name : key.section + "." + key.name);
    }
  }
  EXPECT_EQ(of_schema, of_table);
}

TEST(KeySchema, HasEveryKeyOfTheTable) {
  expect_same(pile_file());
  expect_same(study_file());
}

TEST(KeySchema, HasNoKeyThatTheTableHasNot) {
  expect_nothing_else(pile_file());
  expect_nothing_else(study_file());
}

TEST(KeySchema, HasEveryRuleInItsSection) {
  const Json schema = key_schema(pile_file());
  for (const Key& key : pile_keys()) {
    const auto of_section = std::ranges::count(pile_rules(), key.section, &KeyRule::section);
    EXPECT_EQ(section_of(schema, key.section).value("allOf", Json::array()).size(),
              static_cast<std::size_t>(of_section))
        << key.section;
  }
}

// A rule over a key that is not read would never hold.
TEST(KeySchema, RulesNameKeysOfTheirSection) {
  for (const KeyRule& rule : pile_rules()) {
    std::vector<std::string> names = rule.keys;
    if (!rule.other.empty()) {
      names.push_back(rule.other);
    }
    for (const std::string& name : names) {
      const auto rows = keys_of(pile_keys(), rule.section);
      const auto row = std::ranges::find(rows, name, [](const Key* key) { return key->name; });
      ASSERT_NE(row, rows.end()) << rule.section << "." << name;
      EXPECT_TRUE(name != rule.other || rule.choice.empty() ||
                  std::ranges::find((*row)->choices, rule.choice) != (*row)->choices.end())
          << rule.choice;
    }
    EXPECT_FALSE(rule.what.empty());
    EXPECT_FALSE(rule.remedy.empty());
  }
}

bool fits(const std::string& text, Dimension dimension) {
  static std::map<Dimension, std::regex> patterns;
  if (!patterns.contains(dimension)) {
    patterns[dimension] = std::regex("\\s*" + std::string(number_pattern()) + "\\s*" +
                                     unit_pattern(dimension) + "\\s*");
  }
  return std::regex_match(text, patterns[dimension]);
}

TEST(UnitPattern, FitsEveryUnitOfItsDimensionAndNoneOfAnother) {
  for (int i = 0; i < static_cast<int>(Dimension::count); ++i) {
    const auto dimension = static_cast<Dimension>(i);
    for (const std::string& unit : unit_names(dimension)) {
      EXPECT_TRUE(fits("1.5 " + unit, dimension)) << unit;
      EXPECT_TRUE(fits("-2e3" + unit, dimension)) << unit;
      EXPECT_FALSE(fits("x" + unit, dimension)) << unit;
      EXPECT_FALSE(fits("1,5 " + unit, dimension)) << unit;
      EXPECT_FALSE(fits("1.5 " + unit + " or so", dimension)) << unit;
    }
  }
  EXPECT_FALSE(fits("1 kg", Dimension::length));
  EXPECT_FALSE(fits("1 m", Dimension::mass));
  EXPECT_FALSE(fits("1", Dimension::length));
}

TEST(UnitPattern, FitsTheOtherWaysOfWriting) {
  for (const auto& [text, dimension] : std::vector<std::pair<std::string, Dimension>>{
           {"1.5 m³", Dimension::volume},
           {"1.5 m^3", Dimension::volume},
           {"1.5 m**3", Dimension::volume},
           {"3 cubic feet", Dimension::volume},
           {"2 CU YD", Dimension::volume},
           {"55 °C", Dimension::temperature},
           {"130 F", Dimension::temperature},
           {"2 short tons", Dimension::mass},
           {"420 KG", Dimension::mass},
           {"5'", Dimension::length},
           {"6\"", Dimension::length},
           {"4 W/(m2 K)", Dimension::heat_conductance},
           {"4 W/(m²·K)", Dimension::heat_conductance},
           {"2.1 % of dry matter", Dimension::fraction_dry}}) {
    EXPECT_NO_THROW((void)parse_quantity(text, dimension)) << text;
    EXPECT_TRUE(fits(text, dimension)) << text;
  }
}

} // namespace
} // namespace heapcast::cli
