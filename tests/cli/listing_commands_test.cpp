#include "cli/materials_command.hpp"
#include "cli/parameters_command.hpp"

#include "cli/input/material_file.hpp"
#include "cli/input/read_file.hpp"
#include "cli/text_layout.hpp"
#include "models/parameters.hpp"
#include "models/weather/columns.hpp"

#include <algorithm>
#include <sstream>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace heapcast::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::string materials(std::string_view query, bool json = false) {
  std::ostringstream out;
  EXPECT_EQ(materials_command(out, query, json), 0);
  return out.str();
}

std::string parameters(std::string_view query, bool json = false) {
  std::ostringstream out;
  EXPECT_EQ(parameters_command(out, query, json), 0);
  return out.str();
}

void list_materials(std::ostream& out, std::string_view query) {
  (void)materials_command(out, query, false);
}

void list_parameters(std::ostream& out, std::string_view query) {
  (void)parameters_command(out, query, false);
}

template <class Command> std::string complaint(Command command, std::string_view query) {
  std::ostringstream out;
  try {
    command(out, query);
  } catch (const InputError& error) {
    EXPECT_TRUE(out.str().empty());
    return error.what();
  }
  return "accepted";
}

void expect_narrow(const std::string& text) {
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(line.size(), listing_columns) << line;
    EXPECT_FALSE(line.ends_with(' ')) << line;
  }
}

TEST(MaterialsCommand, ListsEveryMaterialOnOneLine) {
  const std::string table = materials("");
  for (const std::string& name : load_builtin_library().names()) {
    EXPECT_THAT(table, HasSubstr(fmt::format("\n{} ", name)));
  }
  expect_narrow(table);
}

TEST(MaterialsCommand, ShowsUnitsRangesAndSourcesOfOneMaterial) {
  const std::string text = materials("wheat_straw");
  EXPECT_THAT(text, HasSubstr("wheat_straw - Wheat straw (brown)"));
  EXPECT_THAT(text, HasSubstr("0.4 % dry"));
  EXPECT_THAT(text, HasSubstr("0.3 to 0.5"));
  EXPECT_THAT(text, HasSubstr("feedstock_properties.csv go_straw_wheat.N"));
  expect_narrow(text);
}

TEST(MaterialsCommand, EveryListingIsNarrow) {
  for (const std::string& name : load_builtin_library().names()) {
    expect_narrow(materials(name));
  }
}

TEST(MaterialsCommand, FindsByWord) {
  EXPECT_THAT(materials("maize"), HasSubstr("corn_cobs - "));
  EXPECT_THAT(materials("maize"), HasSubstr("corn_stalks - "));
  EXPECT_THAT(materials("maize"), Not(HasSubstr("wheat_straw - ")));
}

TEST(MaterialsCommand, ListsAsManyMaterialsAsTheReadmeSays) {
  const std::string readme = read_file(std::string(HEAPCAST_EXAMPLES_DIR) + "/../README.md");
  EXPECT_THAT(readme, HasSubstr(fmt::format("library of {} materials",
                                            load_builtin_library().all().size())));
}

TEST(WeatherColumns, AreAllInTheReadme) {
  const std::string readme = read_file(std::string(HEAPCAST_EXAMPLES_DIR) + "/../README.md");
  for (const models::WeatherColumn& column : models::weather_columns()) {
    EXPECT_THAT(readme, HasSubstr(fmt::format("`{}`", column.name)));
  }
}

TEST(MaterialsCommand, FindsByThePlural) {
  EXPECT_EQ(materials("straws"), materials("straw"));
  EXPECT_EQ(materials("Horse manures"), materials("horse manure"));
  EXPECT_EQ(materials("tomatoes"), materials("tomato"));
  EXPECT_THAT(materials("berries"), HasSubstr("cranberry_plants - "));
  // "spoiled hay" is a material of its own, not another name of hay.
  EXPECT_THAT(materials("spoiled hay"), HasSubstr("spoiled_hay - "));
  EXPECT_THAT(materials("spoiled hay"), Not(HasSubstr("\nhay - ")));
}

TEST(MaterialsCommand, WritesHeavyMaterialsInPlainNumbers) {
  EXPECT_THAT(materials(""), HasSubstr("  1200  mineral\n"));
  EXPECT_THAT(materials(""), Not(HasSubstr("e+")));
}

TEST(MaterialsCommand, ShowsWhatToBewareOf) {
  EXPECT_THAT(materials("night_soil"), HasSubstr("\n  Pathogens: only where the law allows it"));
}

TEST(MaterialsCommand, ListsInATableWhatFindsMoreThanThree) {
  const std::string text = materials("manure");
  EXPECT_THAT(text, HasSubstr("\ngoat_manure "));
  EXPECT_THAT(text, HasSubstr("\nturkey_litter "));
  EXPECT_THAT(text, Not(HasSubstr("wheat_straw")));
  EXPECT_THAT(text, Not(HasSubstr("cattle_manure - ")));
  expect_narrow(text);
  EXPECT_GT(nlohmann::json::parse(materials("manure", true)).size(), 15U);
}

TEST(MaterialsCommand, NamesTheNearestForAnUnknownOne) {
  EXPECT_THAT(complaint(list_materials, "wheat_strow"), HasSubstr("did you mean \"wheat_straw\"?"));
  EXPECT_THAT(complaint(list_materials, "strow"), HasSubstr("did you mean \"straw\"?"));
  EXPECT_THAT(complaint(list_materials, "zzzzzzzz"), HasSubstr("lists them"));
  EXPECT_THAT(complaint(list_materials, "horse manurre"),
              HasSubstr("did you mean \"horse manure\"?"));
  EXPECT_THAT(complaint(list_materials, "horse zzzzzzzz"), HasSubstr("lists them"));
}

TEST(MaterialsCommand, WritesJson) {
  const auto all = nlohmann::json::parse(materials("", true));
  EXPECT_EQ(all.size(), load_builtin_library().all().size());
  const auto one = nlohmann::json::parse(materials("wheat_straw", true));
  ASSERT_EQ(one.size(), 1U);
  EXPECT_EQ(one[0]["name"], "wheat_straw");
  EXPECT_THAT(nlohmann::json::parse(materials("cocoa_shells", true))[0]["note"],
              "Poisonous to dogs.");
  EXPECT_EQ(one[0]["properties"]["nitrogen"]["value"], 0.4);
  EXPECT_EQ(one[0]["properties"]["nitrogen"]["unit"], "% dry");
  EXPECT_EQ(one[0]["properties"]["nitrogen"]["provenance"], "read");
}

TEST(ParametersCommand, ListsEveryParameterOnOneLine) {
  const std::string table = parameters("");
  for (const models::ParameterRow& row : models::parameter_table()) {
    EXPECT_THAT(table, HasSubstr(fmt::format("\n{} ", row.name)));
  }
  expect_narrow(table);
}

TEST(ParametersCommand, ShowsOneByNameOrSymbol) {
  for (const char* query : {"fast_rate", "k_F"}) {
    const std::string text = parameters(query);
    EXPECT_THAT(text, HasSubstr("fast_rate (k_F)"));
    EXPECT_THAT(text, HasSubstr("0.5 1/d"));
    EXPECT_THAT(text, HasSubstr("0.25 to 1 1/d, lognormal"));
    EXPECT_THAT(text, HasSubstr("judgement"));
    EXPECT_THAT(text, HasSubstr("source: "));
    EXPECT_THAT(text, Not(HasSubstr("medium_rate (k_M)")));
    expect_narrow(text);
  }
}

TEST(ParametersCommand, FindsByWordOfTheMeaning) {
  const std::string text = parameters("ammonia");
  EXPECT_THAT(text, HasSubstr("turn_ammonia_loss"));
  EXPECT_THAT(text, Not(HasSubstr("fast_rate")));
}

TEST(ParametersCommand, NamesTheNearestForAnUnknownOne) {
  EXPECT_THAT(complaint(list_parameters, "fast_rat3"), HasSubstr("did you mean \"fast_rate\"?"));
  EXPECT_THAT(complaint(list_parameters, "zzzzzzzz"), HasSubstr("lists them"));
}

TEST(ParametersCommand, WritesJson) {
  const auto all = nlohmann::json::parse(parameters("", true));
  EXPECT_EQ(all.size(), models::parameter_count);
  EXPECT_EQ(all[0]["name"], "fast_rate");
  EXPECT_EQ(all[0]["value"], 0.5);
  EXPECT_EQ(all[0]["prior"], "lognormal");
}

TEST(Wrapped, BreaksAtSpacesAndKeepsWordsWhole) {
  const std::string a60(60, 'a');
  const std::string b38(38, 'b');
  EXPECT_EQ(wrapped("", 2), "");
  EXPECT_EQ(wrapped("two  words", 2), "  two words\n");
  // 1 + 60 + 1 + 38 are 100 columns; one more does not fit.
  EXPECT_EQ(wrapped(fmt::format("{} {}", a60, b38), 1), fmt::format(" {} {}\n", a60, b38));
  EXPECT_EQ(wrapped(fmt::format("{} {}b", a60, b38), 1), fmt::format(" {}\n {}b\n", a60, b38));
  EXPECT_EQ(wrapped(a60 + a60, 0), fmt::format("{}{}\n", a60, a60));
}

TEST(Padded, CountsCharactersNotBytes) {
  EXPECT_EQ(padded("m", 3), "m  ");
  EXPECT_EQ(padded("m³", 3), "m³ ");
  EXPECT_EQ(padded("long", 3), "long");
}

TEST(ParametersCommand, ListsWhatIsDrawnTogether) {
  const std::string table = parameters("");
  for (const models::ParameterCorrelation& pair : models::parameter_correlations()) {
    const auto name = [](models::Parameter parameter) {
      return std::string(models::parameter_table()[static_cast<std::size_t>(parameter)].name);
    };
    const std::size_t at = table.find("Drawn together");
    ASSERT_NE(at, std::string::npos);
    const std::string list = table.substr(at);
    EXPECT_THAT(list, HasSubstr(name(pair.first)));
    EXPECT_THAT(list, HasSubstr(name(pair.second)));
    for (const auto& [own, other] :
         {std::pair{pair.first, pair.second}, std::pair{pair.second, pair.first}}) {
      const std::string text = parameters(name(own));
      const std::string other_name(name(other));
      EXPECT_THAT(text, HasSubstr(fmt::format("drawn with {}, correlation {:+g}", other_name,
                                              pair.coefficient)));
      const auto json = nlohmann::json::parse(parameters(name(own), true)).at(0);
      const auto& listed = json.at("correlations");
      EXPECT_TRUE(std::ranges::any_of(listed, [&](const auto& one) {
        return one.at("with") == other_name && one.at("coefficient") == pair.coefficient;
      })) << listed;
    }
  }
  EXPECT_TRUE(nlohmann::json::parse(parameters("emissivity", true)).at(0)["correlations"].empty());
}

TEST(MaterialsCommand, ShowsDensityAndLengthsInUsUnits) {
  const auto in_us = [](std::string_view query) {
    std::ostringstream out;
    EXPECT_EQ(materials_command(out, query, false, DisplayUnits::us), 0);
    return out.str();
  };
  EXPECT_THAT(in_us(""), HasSubstr("lb/yd3"));
  EXPECT_THAT(in_us(""), Not(HasSubstr("kg/m3")));
  // What the library has in kg/m3 and mm, times 1.6856 lb/yd3 and over 25.4 mm/in.
  const auto library = load_builtin_library();
  const models::Material& straw = library.find("wheat_straw")->material;
  EXPECT_THAT(in_us("wheat_straw"),
              HasSubstr(fmt::format("{:.3g} lb/yd3", straw.bulk_density_wet_kg_m3 / 0.593276)));
  EXPECT_THAT(in_us("wheat_straw"),
              HasSubstr(fmt::format("{:.3g} in", straw.chop_size_m / 0.0254)));
  expect_narrow(in_us("wheat_straw"));
  expect_narrow(in_us(""));
}

} // namespace
} // namespace heapcast::cli
