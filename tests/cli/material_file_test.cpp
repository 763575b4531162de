#include "cli/input/material_file.hpp"

#include "models/materials/material_property.hpp"
#include "models/properties/free_air_space.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>
#include <fstream>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

using models::Material;
using models::MaterialRecord;
using models::PropertyNote;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

const models::MaterialLibrary& library() {
  static const models::MaterialLibrary loaded = load_builtin_library();
  return loaded;
}

const PropertyNote& note(const MaterialRecord& record, std::string_view key) {
  return *std::ranges::find_if(record.notes, [&](const PropertyNote& n) { return n.key == key; });
}

// ---- reference tables

using Row = std::map<std::string, std::string>;

std::vector<std::string> csv_fields(const std::string& line) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (const char c : line) {
    if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      fields.emplace_back();
    } else if (c != '\r') {
      fields.back() += c;
    }
  }
  return fields;
}

/// Rows of a reference table by the value of their key column.
std::map<std::string, Row> reference_table(const std::string& file, const std::string& key) {
  std::ifstream in(fmt::format("{}/{}", HEAPCAST_REFERENCE_DIR, file));
  std::map<std::string, Row> rows;
  std::vector<std::string> header;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.front() == '#') {
      continue;
    }
    const std::vector<std::string> fields = csv_fields(line);
    if (header.empty()) {
      header = fields;
      continue;
    }
    Row row;
    for (std::size_t i = 0; i < header.size() && i < fields.size(); ++i) {
      row[header[i]] = fields[i];
    }
    rows[row[key]] = row;
  }
  EXPECT_FALSE(rows.empty()) << file;
  return rows;
}

const std::map<std::string, Row>& properties_table() {
  static const auto table = reference_table("feedstock_properties.csv", "id");
  return table;
}

// ---- the library that is built in

TEST(BuiltinLibrary, HoldsTheEverydayMaterials) {
  EXPECT_GE(library().all().size(), 80U);
  for (const char* name : {"food_scraps",
                           "vegetable_scraps",
                           "fruit_waste",
                           "coffee_grounds",
                           "grass_clippings",
                           "tall_grass",
                           "green_prunings",
                           "legume_hay",
                           "hay",
                           "cattle_manure",
                           "horse_manure_bedding",
                           "poultry_manure",
                           "broiler_litter",
                           "sheep_manure",
                           "swine_manure",
                           "wheat_straw",
                           "dry_leaves",
                           "sawdust",
                           "wood_chips",
                           "bark",
                           "chipped_brush",
                           "corn_stalks",
                           "corn_cobs",
                           "cardboard",
                           "newspaper",
                           "rice_hulls",
                           "finished_compost",
                           "rice_straw",
                           "spoiled_hay",
                           "napier_grass",
                           "water_hyacinth",
                           "duckweed",
                           "seaweed",
                           "sorghum_stover",
                           "sugarcane_bagasse",
                           "spent_mushroom_substrate",
                           "brewers_grains",
                           "biochar",
                           "garden_soil",
                           "clay"}) {
    EXPECT_NE(library().find(name), nullptr) << name;
  }
}

TEST(BuiltinLibrary, FileNameIsTheMaterialsName) {
  for (const models::EmbeddedFile& file : models::embedded_material_files()) {
    const MaterialRecord record = read_material(file.text, std::string(file.name));
    EXPECT_EQ(record.material.name + ".toml", file.name);
  }
}

TEST(BuiltinLibrary, EveryMaterialIsSound) {
  for (const MaterialRecord& record : library().all()) {
    for (const Fault& fault : models::material_faults(record.material, record.material.name)) {
      ADD_FAILURE() << fault.where << ": " << fault.what;
    }
  }
}

TEST(BuiltinLibrary, EveryNumberHasANoteThatHoldsIt) {
  for (const MaterialRecord& record : library().all()) {
    SCOPED_TRACE(record.material.name);
    ASSERT_EQ(record.notes.size(), models::material_properties().size() + 1);
    for (const models::MaterialProperty& property : models::material_properties()) {
      const PropertyNote& own = note(record, property.key);
      EXPECT_EQ(own.unit, property.unit);
      // One multiplication and one division: 4 units in the last place.
      EXPECT_DOUBLE_EQ(models::value_in_unit(record.material, property), own.value) << own.key;
      EXPECT_LE(own.low, own.value) << own.key;
      EXPECT_GE(own.high, own.value) << own.key;
      EXPECT_LT(own.low, own.high) << own.key;
    }
  }
}

/// The published range at the front of ".5-1.3" or "128-150 (as printed)"; none in "typ.".
bool published_range(const std::string& text, double& low, double& high) {
  const char* rest = text.data();
  const char* end = rest + text.size();
  const auto first = std::from_chars(rest, end, low);
  if (first.ec != std::errc{} || first.ptr == end || *first.ptr != '-') {
    return false;
  }
  return std::from_chars(first.ptr + 1, end, high).ec == std::errc{};
}

struct Cited {
  std::string file, id;
};

/// The reference row a note claims to repeat: its source begins with file and id, "a.csv id; note".
Cited cited_row(const PropertyNote& own) {
  const std::string lead = own.source.substr(0, own.source.find(';'));
  const std::size_t space = lead.find(' ');
  if (space == std::string::npos || !lead.substr(0, space).ends_with(".csv")) {
    return {};
  }
  return {lead.substr(0, space), lead.substr(space + 1)};
}

TEST(BuiltinLibrary, ValueThatCitesAPropertyRowIsThatRowsValue) {
  const std::map<std::string, std::string> suffix = {
      {"moisture", ".MC"}, {"volatile_solids", ".VS"}, {"nitrogen", ".N"}, {"bulk_density", ".BD"}};
  int compared = 0;
  for (const MaterialRecord& record : library().all()) {
    for (const PropertyNote& own : record.notes) {
      const auto [file, id] = cited_row(own);
      if (file != "feedstock_properties.csv") {
        continue;
      }
      SCOPED_TRACE(record.material.name + " " + own.key + " " + id);
      ASSERT_TRUE(properties_table().contains(id));
      const Row& row = properties_table().at(id);
      EXPECT_TRUE(id.ends_with(suffix.at(own.key)));
      // The same decimal digits are written in both files.
      EXPECT_DOUBLE_EQ(own.value, std::stod(row.at("value")));
      EXPECT_EQ(own.provenance, row.at("provenance"));
      const bool volatile_solids = own.key == "volatile_solids";
      EXPECT_EQ(row.at("unit"), volatile_solids && id.starts_with("tb_") ? "% of TS" : own.unit);
      ++compared;
    }
  }
  EXPECT_GT(compared, 40);
}

TEST(BuiltinLibrary, ValueThatCitesAPoolsRowIsThatRowsValue) {
  struct Column {
    std::string_view name;
    double factor;
    std::string_view provenance;
  };
  // Shares of the table are fractions where the data files write percent. Which columns are typical
  // values from memory and which judgement is said at the head of the table.
  const std::map<std::string, Column> columns = {
      {"moisture", {"MC_pct", 1, "memory"}},
      {"volatile_solids", {"VS_pctDM", 1, "judgement"}},
      {"carbon", {"C_pctDM", 1, "judgement"}},
      {"nitrogen", {"N_pctDM", 1, "memory"}},
      {"fast", {"fast", 100, "judgement"}},
      {"medium", {"medium", 100, "judgement"}},
      {"slow", {"slow", 100, "judgement"}},
      {"resistant", {"recalc", 100, "judgement"}},
      {"bulk_density", {"wet_bulk_kg_m3", 1, "memory"}},
      {"water_holding", {"WHC_kg_kgDM", 1, "judgement"}},
      {"flow_size", {"d_e_mm", 1, "judgement"}},
      {"ph", {"pH0", 1, "judgement"}},
      {"active_biomass", {"B0", 100, "judgement"}},
      {"ammoniacal", {"tan_frac", 100, "judgement"}},
  };
  const auto pools = reference_table("feedstock_pools.csv", "feedstock");
  int compared = 0;
  for (const MaterialRecord& record : library().all()) {
    for (const PropertyNote& own : record.notes) {
      const auto [file, id] = cited_row(own);
      if (file != "feedstock_pools.csv") {
        continue;
      }
      SCOPED_TRACE(record.material.name + " " + own.key + " " + id);
      const std::size_t colon = id.rfind(": ");
      ASSERT_NE(colon, std::string::npos);
      const std::string feedstock = id.substr(0, colon);
      const Column& column = columns.at(own.key);
      EXPECT_EQ(id.substr(colon + 2), column.name);
      ASSERT_TRUE(pools.contains(feedstock));
      const double cited =
          column.factor * std::stod(pools.at(feedstock).at(std::string(column.name)));
      EXPECT_DOUBLE_EQ(own.value, cited);
      EXPECT_EQ(own.provenance, column.provenance);
      ++compared;
    }
  }
  EXPECT_GT(compared, 200);
}

TEST(BuiltinLibrary, ValueThatCitesAParameterIsThatParametersDefault) {
  const auto parameters = reference_table("parameters.csv", "symbol");
  int compared = 0;
  for (const MaterialRecord& record : library().all()) {
    for (const PropertyNote& own : record.notes) {
      const auto [file, id] = cited_row(own);
      if (file != "parameters.csv") {
        continue;
      }
      SCOPED_TRACE(record.material.name + " " + own.key);
      const Row& row = parameters.at(id);
      EXPECT_DOUBLE_EQ(own.value, 100 * std::stod(row.at("default")));
      EXPECT_DOUBLE_EQ(own.low, 100 * std::stod(row.at("low")));
      EXPECT_DOUBLE_EQ(own.high, 100 * std::stod(row.at("high")));
      ++compared;
    }
  }
  EXPECT_GT(compared, 20);
}

/// Whether a source begins with a publication that its reader can find: one with a year, or one of
/// the databases that `library/README.md` names.
bool names_a_publication(const std::string& source) {
  const std::string lead = source.substr(0, source.find(':'));
  const auto four_digits = [](const std::string& text) {
    std::size_t in_a_row = 0;
    for (const char c : text) {
      in_a_row = std::isdigit(static_cast<unsigned char>(c)) != 0 ? in_a_row + 1 : 0;
      if (in_a_row == 4) {
        return true;
      }
    }
    return false;
  };
  return std::isupper(static_cast<unsigned char>(source.front())) != 0 &&
         (four_digits(lead) || lead.starts_with("Feedipedia (") || lead.starts_with("Phyllis2 ("));
}

TEST(BuiltinLibrary, EverySourceCitesARowOrSaysThereIsNoneOrHowItWasComputed) {
  for (const MaterialRecord& record : library().all()) {
    for (const PropertyNote& own : record.notes) {
      SCOPED_TRACE(record.material.name + " " + own.key + ": " + own.source);
      if (own.provenance == "read" || own.provenance == "memory" ||
          own.provenance == "common-practice") {
        EXPECT_TRUE(!cited_row(own).file.empty() || names_a_publication(own.source));
      } else if (own.provenance == "judgement") {
        EXPECT_TRUE(!cited_row(own).file.empty() || own.source.starts_with("no source;"));
      } else {
        EXPECT_EQ(own.provenance, "computed");
      }
    }
  }
}

TEST(BuiltinLibrary, CarbonToNitrogenLiesInTheRangeItIsComparedWith) {
  const std::string beside = "beside it feedstock_properties.csv ";
  int compared = 0;
  for (const MaterialRecord& record : library().all()) {
    const std::string& source = note(record, "carbon_to_nitrogen").source;
    const std::size_t at = source.find(beside);
    if (at == std::string::npos) {
      continue;
    }
    const std::string id = source.substr(at + beside.size());
    SCOPED_TRACE(record.material.name + " " + id);
    const Row& row = properties_table().at(id);
    const double ratio = models::carbon_to_nitrogen(record.material);
    double low = 0;
    double high = 0;
    if (published_range(row.at("tolerance"), low, high)) {
      EXPECT_GE(ratio, low);
      EXPECT_LE(ratio, high);
    } else {
      // A single printed value: carbon was computed from it, so only its rounding may differ.
      EXPECT_NEAR(ratio, std::stod(row.at("value")), 0.5);
    }
    ++compared;
  }
  EXPECT_GT(compared, 15);
}

TEST(BuiltinLibrary, HumusAndLigninOfCompostMakeTheRecalcitrantPoolOfItsRow) {
  const Material& compost = library().find("finished_compost")->material;
  const auto pools = reference_table("feedstock_pools.csv", "feedstock");
  EXPECT_DOUBLE_EQ(compost.resistant_fraction + compost.humus_fraction,
                   std::stod(pools.at("finished compost").at("recalc")));
}

TEST(BuiltinLibrary, CarbonOfCobsFollowsFromTheirFibre) {
  // Carbon in cellulose (C6H10O5)n 72/162, in hemicellulose (C5H8O4)n 60/132, in lignin 0.63 and in
  // the rest of the volatile solids 0.45 (both from memory). Written to 0.1 %.
  const auto fibre = [](const char* what) {
    return std::stod(properties_table().at(fmt::format("sc_corncob.{}", what)).at("value"));
  };
  const double rest = 97 - fibre("cellulose") - fibre("hemicellulose") - fibre("lignin");
  const double carbon = fibre("cellulose") * 72 / 162 + fibre("hemicellulose") * 60 / 132 +
                        fibre("lignin") * 0.63 + rest * 0.45;
  EXPECT_NEAR(note(*library().find("corn_cobs"), "carbon").value, carbon, 0.05);
}

TEST(BuiltinLibrary, EveryMaterialIsWholeByMass) {
  for (const MaterialRecord& record : library().all()) {
    SCOPED_TRACE(record.material.name);
    const auto value = [&](std::string_view key) { return note(record, key).value; };
    // Written in percent with up to four digits.
    EXPECT_NEAR(value("fast") + value("medium") + value("slow") + value("resistant") +
                    value("humus"),
                100, 1e-9);
    const double ash = 100 - value("volatile_solids");
    EXPECT_LE(value("carbon") + value("nitrogen") + ash, 100);
    // The range of each pool holds a mixture: together they can make the whole.
    double low = 0;
    double high = 0;
    for (const char* pool : {"fast", "medium", "slow", "resistant", "humus"}) {
      low += note(record, pool).low;
      high += note(record, pool).high;
    }
    EXPECT_LE(low, 100);
    EXPECT_GE(high, 100);
  }
}

TEST(BuiltinLibrary, EveryMaterialLeavesAirBetweenItsSolidsUnlessItRuns) {
  for (const MaterialRecord& record : library().all()) {
    const Material& m = record.material;
    const double dry_kg_m3 = m.bulk_density_wet_kg_m3 * (1 - m.moisture_wet_basis);
    const double air =
        1 -
        dry_kg_m3 /
            models::particle_density_kg_m3({.ash_dry_basis = 1 - m.volatile_solids_dry_basis}) -
        m.bulk_density_wet_kg_m3 * m.moisture_wet_basis / models::water_density_kg_m3;
    // Water in the pores of pasty matter leaves a tenth at least; above 90 % moisture it runs.
    EXPECT_GT(air, m.moisture_wet_basis >= 0.9 ? 0.0 : 0.1) << m.name;
    EXPECT_LT(air, 0.98) << m.name;
  }
}

TEST(BuiltinLibrary, EveryMaterialTakesAnyMoistureOfItsRange) {
  for (const MaterialRecord& record : library().all()) {
    const PropertyNote& moisture = note(record, "moisture");
    for (const double percent : {moisture.low, moisture.high, 90.0, 98.0}) {
      Material material = record.material;
      std::vector<Fault> faults;
      apply_overrides(material, toml::parse(fmt::format("moisture = \"{} % wet\"", percent)),
                      "pile.toml", faults);
      for (const Fault& fault : faults) {
        ADD_FAILURE() << record.material.name << ": " << fault.what;
      }
    }
  }
}

TEST(BuiltinLibrary, SpoiledHayIsHayThatLostAFifth) {
  const Material& hay = library().find("hay")->material;
  const MaterialRecord& spoiled = *library().find("spoiled_hay");
  // Per 100 kg of hay: 20 kg are lost, all volatile; of the carbon 12 of the fast and 8 of the
  // medium; a tenth of the nitrogen. Written to the digits of the file.
  const double volatile_solids = 100 * hay.volatile_solids_dry_basis;
  EXPECT_NEAR(note(spoiled, "volatile_solids").value, (volatile_solids - 20) / 0.8, 0.05);
  EXPECT_NEAR(note(spoiled, "nitrogen").value, 100 * hay.nitrogen_dry_basis * 0.9 / 0.8, 0.005);
  EXPECT_NEAR(note(spoiled, "fast").value, (100 * hay.fast_fraction - 12) / 0.8, 1e-9);
  EXPECT_NEAR(note(spoiled, "medium").value, (100 * hay.medium_fraction - 8) / 0.8, 1e-9);
  EXPECT_NEAR(note(spoiled, "slow").value, 100 * hay.slow_fraction / 0.8, 0.005);
  EXPECT_NEAR(note(spoiled, "resistant").value, 100 * hay.resistant_fraction / 0.8, 0.005);
}

TEST(BuiltinLibrary, SpentMushroomSubstrateIsHalfComposted) {
  const Material& spent = library().find("spent_mushroom_substrate")->material;
  const Material& before = library().find("horse_manure_bedding")->material;
  const Material& compost = library().find("finished_compost")->material;
  EXPECT_LT(spent.fast_fraction, before.fast_fraction / 2);
  EXPECT_GT(spent.fast_fraction, compost.fast_fraction);
  EXPECT_GT(spent.humus_fraction, 0.25);
  EXPECT_LT(spent.humus_fraction, compost.humus_fraction);
}

// ---- files that are wrong

std::string sound_file() {
  return std::string(
      std::ranges::find(models::embedded_material_files(), "bark.toml", &models::EmbeddedFile::name)
          ->text);
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

std::vector<Fault> faults_of(const std::string& text) {
  try {
    (void)read_material(text, "mine.toml");
  } catch (const InputError& error) {
    return error.faults();
  }
  return {};
}

TEST(ReadMaterial, TakesASoundFile) {
  EXPECT_TRUE(faults_of(sound_file()).empty());
}

struct BadFile {
  const char* from;
  const char* to;
  const char* where;
  const char* what;
  const char* remedy;
};

TEST(ReadMaterial, SaysWhereAndWhatIsWrong) {
  // The sound file is bark.toml: line 1 name, 3 group, 4 words, 6 moisture, 7 volatile_solids,
  // 8 carbon, 9 nitrogen, 10 carbon_to_nitrogen.
  for (const BadFile& bad : std::vector<BadFile>{
           {"name = ", "name = = ", "mine.toml:1:", "", "TOML"},
           {"nitrogen  ", "nitrogn  ", "mine.toml:9:1", "unknown key \"nitrogn\"",
            "did you mean \"nitrogen\"?"},
           {"title = \"Bark\"\n", "", "mine.toml:1:1", "\"title\" is not given", "title = "},
           {"\"wood\"", "\"woood\"", "mine.toml:3:9", "\"woood\" is not a group", "green, brown"},
           {"[\"hardwood bark\", \"bark mulch\"]", "\"bark\"", "mine.toml:4:9", "not a list",
            "[\"...\""},
           {"value = 50", "value = 101", "mine.toml:6:32", "moisture is 101 % wet",
            "0 to 98 % wet"},
           {"value = 50", "value = nan", "mine.toml:6:32", "moisture is nan % wet",
            "0 to 98 % wet"},
           {"value = 50", "value = \"50\"", "mine.toml:6:32", "moisture has no number \"value\"",
            "value = ..."},
           {"value = 50, ", "", "mine.toml:6:22", "moisture has no number \"value\"",
            "value = ..."},
           {"low = 42.5", "lo = 42.5", "mine.toml:6:", "unknown key \"lo\"",
            "did you mean \"low\"?"},
           {"low = 42.5", "low = 55", "mine.toml:6:22", "moisture is 50 with a range of 55 to 57.5",
            "must hold the value"},
           {"unit = \"% wet\"", "unit = \"% dry\"", "mine.toml:6:", "moisture is in \"% dry\"",
            "\"% wet\""},
           {"\"memory\"", "\"hearsay\"", "mine.toml:6:", "\"hearsay\" is not a provenance",
            "read, memory"},
           {"value = 207.5", "value = 190", "mine.toml:10:", "a C:N of 190 does not follow",
            "the other two"},
       }) {
    SCOPED_TRACE(bad.to);
    const auto faults = faults_of(with(sound_file(), bad.from, bad.to));
    const bool found = std::ranges::any_of(faults, [&](const Fault& fault) {
      return fault.where.starts_with(bad.where) && fault.what.find(bad.what) != std::string::npos &&
             fault.remedy.find(bad.remedy) != std::string::npos;
    });
    EXPECT_TRUE(found) << [&] {
      std::string all;
      for (const Fault& fault : faults) {
        all += fault.where + " | " + fault.what + " | " + fault.remedy + "\n";
      }
      return all;
    }();
  }
}

TEST(ReadMaterial, ReportsAllFaultsTogether) {
  std::string text = with(sound_file(), "\"wood\"", "\"woood\"");
  text = with(text, "unit = \"% wet\"", "unit = \"%\"");
  text = with(text, "\nsettling ", "\nsetling ");
  // group, moisture, the unknown key and the property that is missing for it
  EXPECT_EQ(faults_of(text).size(), 4U);
}

TEST(ReadMaterial, RefusesWhatCannotBe) {
  // 50 % carbon in 80 % volatile solids: above 0.58 x 80 = 46.4 %.
  std::string text = with(sound_file(), "{ value = 96, low = 90.2", "{ value = 80, low = 70");
  auto faults = faults_of(text);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("0.58 x 80 = 46.4 % dry"));
  text = with(sound_file(), "fast               = { value = 2,",
              "fast               = { value = 2.5,");
  faults = faults_of(text);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("make 100.5 % of carbon"));
}

TEST(ReadMaterial, TakesAnyBytesWithoutCrashing) {
  for (const std::string& text :
       {std::string(), std::string("\0\xff\xfe", 3), std::string("name"), std::string("[[["),
        std::string("moisture = 5"), std::string("words = [1, \"a\"]"), std::string(5000, '['),
        std::string("name = \"a\"\nname = \"b\"")}) {
    EXPECT_FALSE(faults_of(text).empty());
  }
}

// ---- overrides

struct Overridden {
  Material material;
  std::vector<Fault> faults;
};

Overridden overridden(const std::string& toml, const char* name = "wheat_straw") {
  const toml::table table = toml::parse(toml);
  Overridden result{library().find(name)->material, {}};
  apply_overrides(result.material, table, "pile.toml", result.faults);
  return result;
}

// Values below come out of a few operations on numbers near 1: 1e-12 is rounding.
constexpr double rounding = 1e-12;

TEST(Overrides, LeaveAMaterialAloneWithoutKeys) {
  const auto [material, faults] = overridden("amount = \"3 m3\"\nlayer = 2");
  EXPECT_TRUE(faults.empty());
  EXPECT_EQ(material.nitrogen_dry_basis,
            library().find("wheat_straw")->material.nitrogen_dry_basis);
}

TEST(Overrides, SetEveryPropertyInItsOwnUnit) {
  const MaterialRecord& record = *library().find("wheat_straw");
  for (const models::MaterialProperty& property : models::material_properties()) {
    const auto [material, faults] = overridden(fmt::format(
        "{} = \"{} {}\"", property.key, note(record, property.key).value, property.unit));
    EXPECT_TRUE(faults.empty()) << property.key;
    const double before = record.material.*property.member;
    EXPECT_NEAR(material.*property.member, before, rounding * (1 + before)) << property.key;
  }
}

TEST(Overrides, TakeOtherUnitsAndBareNumbersOnlyWhereThereIsNoUnit) {
  const auto [material, faults] = overridden("bulk_density = \"100 lb/yd3\"\nchop_size = \"2 in\"\n"
                                             "ph = 7.5\nageing_nitrogen = \"0.02 1/d\"");
  EXPECT_TRUE(faults.empty());
  EXPECT_NEAR(material.bulk_density_wet_kg_m3, 100 * 0.45359237 / std::pow(0.9144, 3), 1e-9);
  EXPECT_NEAR(material.chop_size_m, 2 * 0.0254, rounding);
  EXPECT_NEAR(material.ph, 7.5, rounding);
  EXPECT_NEAR(material.ageing_nitrogen_1_d, 0.02, rounding);
}

TEST(Overrides, ConvertAsReceivedValuesToDryMatter) {
  // 40 % moisture: 0.9 % of the wet mass is 0.9/0.6 = 1.5 % of the dry mass.
  for (const char* unit : {"% wet", "% as received"}) {
    const auto [material, faults] =
        overridden(fmt::format("moisture = \"40 % wet\"\nnitrogen = \"0.9 {}\"", unit));
    EXPECT_TRUE(faults.empty());
    EXPECT_NEAR(material.nitrogen_dry_basis, 0.015, rounding);
  }
}

TEST(Overrides, MoistureKeepsTheDryMassInACubicMetre) {
  const auto [material, faults] = overridden("moisture = \"55 % wet\"");
  EXPECT_TRUE(faults.empty());
  // 60 kg/m3 at 10 %: 54 kg dry; at 55 %: 54/0.45 = 120 kg/m3.
  EXPECT_NEAR(material.bulk_density_wet_kg_m3, 120, 1e-9);
}

TEST(Overrides, LetOneOfCarbonNitrogenAndRatioFollow) {
  EXPECT_NEAR(overridden("carbon_to_nitrogen = 90").material.nitrogen_dry_basis, 0.45 / 90,
              rounding);
  const auto with_nitrogen = overridden("nitrogen = \"0.5 % dry\"\ncarbon_to_nitrogen = \"80:1\"");
  EXPECT_TRUE(with_nitrogen.faults.empty());
  EXPECT_NEAR(with_nitrogen.material.carbon_dry_basis, 0.4, rounding);
  EXPECT_TRUE(overridden("nitrogen = \"0.5 % dry\"\ncarbon = \"45 % dry\"\ncarbon_to_nitrogen = 90")
                  .faults.empty());
  const auto conflict =
      overridden("nitrogen = \"0.5 % dry\"\ncarbon = \"45 % dry\"\ncarbon_to_nitrogen = 70");
  ASSERT_EQ(conflict.faults.size(), 1U);
  EXPECT_EQ(conflict.faults[0].where, "pile.toml:3:22");
  EXPECT_THAT(conflict.faults[0].what, HasSubstr("70 does not follow"));
}

TEST(Overrides, VolatileSolidsKeepTheirCarbon) {
  const auto [material, faults] = overridden("volatile_solids = \"46 % dry\"");
  EXPECT_TRUE(faults.empty());
  EXPECT_NEAR(material.carbon_dry_basis, 0.225, rounding); // half of 92 %, half of 45 %
}

TEST(Overrides, TakeAmmoniacalNitrogenOfNitrogenOrOfDryMatter) {
  EXPECT_NEAR(overridden("ammoniacal = \"30 % of nitrogen\"", "poultry_manure")
                  .material.ammoniacal_fraction,
              0.3, rounding);
  // 15000 mg/kg of 5 % nitrogen are 0.015/0.05.
  EXPECT_NEAR(
      overridden("ammoniacal = \"15000 mg/kg dry\"", "poultry_manure").material.ammoniacal_fraction,
      0.3, rounding);
}

TEST(Overrides, OtherCarbonPoolsMakeRoomForTheOnesGiven) {
  const auto [material, faults] = overridden("fast = \"20 % of carbon\"");
  EXPECT_TRUE(faults.empty());
  EXPECT_NEAR(material.fast_fraction, 0.2, rounding);
  // The rest had 35 + 37 + 20 = 92 %; now 80 %.
  EXPECT_NEAR(material.medium_fraction, 0.35 * 80 / 92, rounding);
  EXPECT_NEAR(material.resistant_fraction, 0.20 * 80 / 92, rounding);
  EXPECT_EQ(overridden("fast = \"60 % of carbon\"\nslow = \"50 % of carbon\"").faults.size(), 1U);
  EXPECT_EQ(overridden("fast = \"10 % of carbon\"\nmedium = \"30 % of carbon\"\n"
                       "slow = \"30 % of carbon\"\nresistant = \"20 % of carbon\"")
                .faults.size(),
            1U);
}

TEST(Overrides, LigninGivesThePools) {
  const auto [material, faults] = overridden("lignin = \"10 % of VS\"");
  EXPECT_TRUE(faults.empty());
  EXPECT_NEAR(material.fast_fraction + material.medium_fraction, 0.830 - 0.28, rounding);
  EXPECT_EQ(overridden("lignin = \"10 % of VS\"\nfast = \"5 % of carbon\"").faults.size(), 1U);
  EXPECT_EQ(overridden("lignin = \"60 % of VS\"").faults.size(), 1U);
}

struct BadOverride {
  const char* toml;
  const char* where;
  const char* what;
  const char* remedy;
};

TEST(Overrides, SayWhereAndWhatIsWrong) {
  for (const BadOverride& bad : std::vector<BadOverride>{
           {"moisture = 60", "pile.toml:1:12", "moisture: \"60\" has no unit", "\"60 % wet\""},
           {"nitrogen = 2.1", "pile.toml:1:12", "nitrogen: \"2.1\" has no unit", "\"2.1 % dry\""},
           {"nitrogen = \"2.1 %\"", "pile.toml:1:12", "is a share, but a share of the dry matter",
            "\"2.1 % dry\""},
           {"nitrogen = nan", "pile.toml:1:12", "does not start with a number", "% dry"},
           {"nitrogen = \"30 % dry\"", "pile.toml:1:12", "\"30 % dry\" is 30 % dry",
            "0 to 20 % dry"},
           {"nitrogen = true", "pile.toml:1:12", "neither text nor a number", "quotes"},
           {"nitrogen = [1]", "pile.toml:1:12", "neither text nor a number", "quotes"},
           {"moisture = \"99 % wet\"", "pile.toml:1:12", "\"99 % wet\" is 99 % wet",
            "0 to 98 % wet"},
           {"chop_size = \"3 weeks\"", "pile.toml:1:13", "is a time, but a length", "cm"},
           {"carbon = \"57 % dry\"", "pile.toml:1:1", "0.58 x 92 = 53.36 % dry", "raise"},
           {"bulk_density = \"1600 kg/m3\"\nmoisture = \"10 % wet\"", "pile.toml:1:1",
            "m3 of solids and water into 1 m3", "lower the bulk density"},
           {"carbon_to_nitrogen = 0", "pile.toml:1:22", "0 is not a C:N", "above 0"},
           {"carbon_to_nitrogen = \"25 kg\"", "pile.toml:1:22", "is a mass, but a ratio", "25"},
       }) {
    SCOPED_TRACE(bad.toml);
    const auto faults = overridden(bad.toml).faults;
    ASSERT_EQ(faults.size(), 1U);
    EXPECT_THAT(faults[0].where, HasSubstr(bad.where));
    EXPECT_THAT(faults[0].what, HasSubstr(bad.what));
    EXPECT_THAT(faults[0].remedy, HasSubstr(bad.remedy));
  }
}

TEST(Overrides, ReportAllFaultsTogether) {
  EXPECT_EQ(overridden("moisture = 60\nnitrogen = 2\nflow_size = \"3 kg\"").faults.size(), 3U);
}

TEST(Overrides, MoistureOfASlurryIsTakenWithoutABulkDensity) {
  // Swine manure of the library: 190 kg dry in a cubic metre at 80 %. At 90 % that would be 1900
  // kg.
  const auto [material, faults] = overridden("moisture = \"90 % wet\"", "swine_manure");
  EXPECT_TRUE(faults.empty());
  EXPECT_GT(material.bulk_density_wet_kg_m3, 900);
  EXPECT_LT(material.bulk_density_wet_kg_m3, 1050);
  EXPECT_EQ(overridden("moisture = \"90 % wet\"\nbulk_density = \"1900 kg/m3\"", "swine_manure")
                .faults.size(),
            1U);
}

// ---- materials of the user's own

std::string own_faults(const std::string& text) {
  try {
    (void)read_own_material(text, "own.toml", library());
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

TEST(OwnMaterial, IsLikeOneOfTheLibraryButForWhatIsGiven) {
  const Material own = read_own_material("name = \"ditch_hay\"\ntitle = \"Hay of the ditch\"\n"
                                         "like = \"hay\"\nnitrogen = \"1.9 % dry\"\n",
                                         "own.toml", library());
  const Material& hay = library().find("hay")->material;
  EXPECT_EQ(own.name, "ditch_hay");
  EXPECT_EQ(own.title, "Hay of the ditch");
  EXPECT_EQ(own.group, hay.group);
  EXPECT_NEAR(own.nitrogen_dry_basis, 0.019, rounding);
  EXPECT_EQ(own.carbon_dry_basis, hay.carbon_dry_basis);
  EXPECT_EQ(own.ageing_water_1_d, hay.ageing_water_1_d);
}

TEST(OwnMaterial, MayBeWrittenAsADataFileOfTheLibrary) {
  const Material own = read_own_material(sound_file(), "own.toml", library());
  EXPECT_EQ(own.name, "bark");
  EXPECT_EQ(own.carbon_dry_basis, library().find("bark")->material.carbon_dry_basis);
}

TEST(OwnMaterial, SaysWhatIsWrongWithLineAndColumn) {
  EXPECT_THAT(own_faults("like = \"hay\""), HasSubstr("\"name\" is not given as text"));
  EXPECT_THAT(own_faults("name = \"a\"\nlike = \"hey\""),
              ::testing::AllOf(HasSubstr("own.toml:2:8"), HasSubstr("did you mean \"hay\"?")));
  EXPECT_THAT(own_faults("name = \"a\"\nlike = \"hay\"\nnitrogn = \"1 % dry\""),
              ::testing::AllOf(HasSubstr("own.toml:3:1"), HasSubstr("did you mean \"nitrogen\"?")));
  EXPECT_THAT(own_faults("name = \"a\"\nlike = \"hay\"\nnitrogen = \"1 %\""),
              HasSubstr("own.toml:3:12"));
  EXPECT_THAT(own_faults("name = \"a\"\nlike = \"hay\"\ngroup = \"gren\""),
              HasSubstr("is not a group"));
  EXPECT_THAT(own_faults("name = \"a\"\nlike = \"hay\"\ncarbon = \"57 % dry\""),
              HasSubstr("0.58 x 92 = 53.36 % dry"));
  EXPECT_THAT(own_faults("name = \"a\""), HasSubstr("has no moisture"));
  EXPECT_THAT(own_faults("name = = "), HasSubstr("TOML"));
}

// ---- materials given in full

TEST(MaterialGivenInFull, NeedsItsComposition) {
  std::vector<Fault> faults;
  (void)material_given_in_full("hemp_shives", toml::parse("moisture = \"12 % wet\""), "pile.toml",
                               faults);
  std::vector<std::string> missing;
  missing.reserve(faults.size());
  for (const Fault& fault : faults) {
    missing.push_back(fault.what.substr(fault.what.find(" has no ") + 8));
  }
  EXPECT_THAT(missing, ElementsAre("volatile_solids", "nitrogen", "carbon or carbon_to_nitrogen",
                                   "lignin or carbon pools (fast, medium, slow, resistant)",
                                   "bulk_density", "water_holding", "flow_size", "chop_size"));
}

TEST(MaterialGivenInFull, IsMadeOfWhatIsGiven) {
  std::vector<Fault> faults;
  const Material material = material_given_in_full(
      "hemp_shives",
      toml::parse("moisture = \"12 % wet\"\nvolatile_solids = \"96 % dry\"\n"
                  "nitrogen = \"0.4 % dry\"\ncarbon_to_nitrogen = 110\nlignin = \"20 % of VS\"\n"
                  "bulk_density = \"110 kg/m3\"\nwater_holding = \"3 kg/kg\"\n"
                  "flow_size = \"4 mm\"\nchop_size = \"2 cm\""),
      "pile.toml", faults);
  EXPECT_TRUE(faults.empty());
  EXPECT_EQ(material.name, "hemp_shives");
  EXPECT_NEAR(material.carbon_dry_basis, 0.44, rounding);
  EXPECT_NEAR(material.bulk_density_wet_kg_m3, 110, rounding);
  EXPECT_NEAR(material.resistant_fraction, 0.25, rounding);
}

} // namespace
} // namespace heapcast::cli
