// The library's materials beside every published value of the same material.
//
// The library takes one value where publications differ. A row that it cites must be met to the
// digits printed. Of another row with a printed range the
// library's value must lie in that range. Another single value is reported when the library's range
// holds it, which is no evidence, for the range is the library's own; it is a miss when it does
// not.

#include "cli/input/material_file.hpp"
#include "models/materials/material_property.hpp"
#include "models/properties/composition.hpp"
#include "tests/reference_csv.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

using models::MaterialRecord;
using models::PropertyNote;
using tests::Allowed;
using tests::CsvTable;
using tests::reference_row;
using tests::ReferenceRow;
using tests::within;

/// The library's material that stands beside a published one; null when materials.csv names none.
const MaterialRecord* beside(const std::string& published) {
  static const CsvTable table("../published/materials.csv");
  static const models::MaterialLibrary library = load_builtin_library();
  for (std::size_t i = 0; i < table.size(); ++i) {
    if (table.field(i, "reference") == published) {
      const MaterialRecord* found = library.find(table.field(i, "material"));
      EXPECT_NE(found, nullptr) << table.field(i, "material");
      return found;
    }
  }
  return nullptr;
}

const PropertyNote& note(const MaterialRecord& record, std::string_view key) {
  return *std::ranges::find(record.notes, key, &PropertyNote::key);
}

/// A library value with its range, in the unit of a row.
struct Own {
  double value, low, high;
  std::string source;
};

Own own(const PropertyNote& n, double factor = 1.0) {
  return {factor * n.value, factor * n.low, factor * n.high, n.source};
}

/// Of the matter as received: dry basis times dry matter, the range from the ends of both.
Own as_received(const MaterialRecord& record, std::string_view key) {
  const PropertyNote& dry = note(record, key);
  const PropertyNote& moisture = note(record, "moisture");
  return {dry.value * (1.0 - moisture.value / 100.0), dry.low * (1.0 - moisture.high / 100.0),
          dry.high * (1.0 - moisture.low / 100.0), dry.source};
}

bool cites(const std::string& source, const std::string& file, const std::string& id) {
  return source.substr(0, source.find(';')) == file + " " + id;
}

/// What a range says: the row's own tolerance, or the digits it prints.
struct Printed {
  Allowed allowed;
  bool is_range;
};

Printed printed(const ReferenceRow& row, const std::string& value) {
  const auto range = own_tolerance(row);
  return range ? Printed{*range, true} : Printed{within(row, tests::half_last_digit(value)), false};
}

/// Compares one value of the library with one number of a row, as told at the head of this file.
void compare(const ReferenceRow& row, const std::string& value_text, const Own& library,
             const std::string& cited_id) {
  const auto [allowed, is_range] = printed(row, value_text);
  if (cites(library.source, row.file, cited_id)) {
    expect_row(row, library.value, within(row, tests::half_last_digit(value_text)),
               "the library cites this row");
  } else if (is_range) {
    judge_row(row, library.value, allowed, "the library takes: " + library.source);
  } else if (library.low <= allowed.high && library.high >= allowed.low) {
    report_row(
        row, library.value,
        fmt::format("the library's own range, {:.4g} to {:.4g}, holds it; the library takes: {}",
                    library.low, library.high, library.source));
  } else {
    expect_miss(row, library.value, allowed,
                fmt::format("outside the library's own range too, {:.4g} to {:.4g}; the library "
                            "takes: {}",
                            library.low, library.high, library.source));
  }
}

TEST(LibraryReference, EveryPublishedPropertyOfAMaterialIsComparedOrNamed) {
  const std::map<std::string, std::string> keys = {{"MC", "moisture"},
                                                   {"VS", "volatile_solids"},
                                                   {"N", "nitrogen"},
                                                   {"CN", "carbon_to_nitrogen"},
                                                   {"BD", "bulk_density"}};
  const std::map<std::string, std::string> keys_as_received = {{"C", "carbon"}, {"Nw", "nitrogen"}};
  const CsvTable table("feedstock_properties.csv");
  std::vector<std::string> compared;
  for (std::size_t i = 0; i < table.size(); ++i) {
    const ReferenceRow row = reference_row(table, i);
    const std::size_t dot = row.id.find('.');
    const std::string what = row.id.substr(dot + 1);
    const MaterialRecord* record = beside(row.id.substr(0, dot));
    if (record == nullptr || what == "BF" || what == "ligVS") {
      continue;
    }
    const Own library = keys.contains(what) ? own(note(*record, keys.at(what)))
                                            : as_received(*record, keys_as_received.at(what));
    compare(row, table.field(i, "value"), library, row.id);
    compared.push_back(row.id);
  }
  EXPECT_GT(compared.size(), 150U);
  for (const char* kind : {"food", "newsprint", "office", "cardboard", "yard"}) {
    compared.push_back(fmt::format("tb_{}.BF", kind)); // below
  }
  tests::expect_every_row_named(table, compared);
}

TEST(LibraryReference, FinishedCompostHasMoreCarbonForItsNitrogenThanIsTypical) {
  static const models::MaterialLibrary library = load_builtin_library();
  const ReferenceRow row = reference_row(CsvTable("stability.csv"), std::string("cn_finish"));
  const PropertyNote& ratio = note(*library.find("finished_compost"), "carbon_to_nitrogen");
  expect_miss(row, ratio.value, *own_tolerance(row),
              "the library's finished compost; it takes: " + ratio.source);
}

TEST(LibraryReference, DegradableShareFollowsFromTheLigninOfItsRow) {
  const CsvTable table("feedstock_properties.csv");
  for (const char* kind : {"food", "newsprint", "office", "cardboard", "yard"}) {
    const double lignin_percent = reference_row(table, fmt::format("tb_{}.ligVS", kind)).value;
    const ReferenceRow row = reference_row(table, fmt::format("tb_{}.BF", kind));
    // 0.01 of volatile solids: the last digit printed.
    expect_row(row, models::biodegradable_fraction(lignin_percent / 100.0), within(row, 0.01));
  }
}

TEST(LibraryReference, EveryNumberOfThePoolsTableIsCompared) {
  struct Column {
    const char* name;
    const char* key;
    double factor; ///< from the library's unit to the table's
  };
  const CsvTable table("feedstock_pools.csv");
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::string& feedstock = table.field(i, "feedstock");
    const MaterialRecord* record = beside(feedstock);
    ASSERT_NE(record, nullptr) << feedstock;
    for (const Column& column : {Column{"MC_pct", "moisture", 1.0},
                                 {"VS_pctDM", "volatile_solids", 1.0},
                                 {"C_pctDM", "carbon", 1.0},
                                 {"N_pctDM", "nitrogen", 1.0},
                                 {"CN", "carbon_to_nitrogen", 1.0},
                                 {"fast", "fast", 0.01},
                                 {"medium", "medium", 0.01},
                                 {"slow", "slow", 0.01},
                                 {"recalc", "resistant", 0.01},
                                 {"wet_bulk_kg_m3", "bulk_density", 1.0},
                                 {"WHC_kg_kgDM", "water_holding", 1.0},
                                 {"d_e_mm", "flow_size", 1.0},
                                 {"pH0", "ph", 1.0},
                                 {"B0", "active_biomass", 0.01},
                                 {"tan_frac", "ammoniacal", 0.01}}) {
      const std::string& value = table.field(i, column.name);
      Own library = own(note(*record, column.key), column.factor);
      if (std::string_view(column.key) == "resistant") { // the table has no humus apart
        const Own humus = own(note(*record, "humus"), column.factor);
        library.value += humus.value;
        library.high += humus.high;
        library.low += humus.low;
      }
      const ReferenceRow row{feedstock, std::stod(value), "", "digits", table.name(), column.name};
      compare(row, value, library, feedstock + ": " + column.name);
    }
  }
}

} // namespace
} // namespace heapcast::cli
