#include "cli/materials_command.hpp"

#include "cli/input/material_file.hpp"
#include "cli/text_layout.hpp"
#include "engine/nearest.hpp"
#include "models/materials/material_property.hpp"

#include <ostream>
#include <sstream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace heapcast::cli {

namespace {

using models::MaterialRecord;

constexpr std::size_t most_in_detail = 3; ///< more than these are listed in a table

constexpr std::string_view ratio_meaning = "carbon per nitrogen, by mass";

std::string_view meaning(const models::PropertyNote& note) {
  const models::MaterialProperty* property = models::find_material_property(note.key);
  return property != nullptr ? property->meaning : ratio_meaning;
}

/// Every name, and every single word that the search would find.
std::vector<std::string> words_to_find(const models::MaterialLibrary& library) {
  std::vector<std::string> words = library.names();
  for (const MaterialRecord& record : library.all()) {
    std::string text = record.material.title;
    for (const std::string& other : record.material.words) {
      text += ' ' + other;
    }
    std::istringstream pieces(text);
    for (std::string piece; pieces >> piece;) {
      words.push_back(piece);
    }
  }
  return words;
}

/// `query` with the nearest word in place of each that nothing fits; "" when there is none.
std::string meant_by(const models::MaterialLibrary& library, std::string_view query) {
  const std::vector<std::string> known = words_to_find(library);
  std::string whole = engine::nearest(query, known);
  if (!whole.empty()) {
    return whole;
  }
  std::string meant;
  std::istringstream pieces{std::string(query)};
  for (std::string piece; pieces >> piece;) {
    const std::string word = library.search(piece).empty() ? engine::nearest(piece, known) : piece;
    if (word.empty()) {
      return "";
    }
    meant += (meant.empty() ? "" : " ") + word;
  }
  return !meant.empty() && !library.search(meant).empty() ? meant : "";
}

std::vector<const MaterialRecord*> chosen(const models::MaterialLibrary& library,
                                          std::string_view query) {
  if (const MaterialRecord* record = library.find(query)) {
    return {record};
  }
  auto found = library.search(query);
  if (found.empty()) {
    const std::string meant = meant_by(library, query);
    throw InputError("materials", fmt::format("no material fits \"{}\"", query),
                     meant.empty() ? "`heapcast materials` lists them"
                                   : fmt::format("did you mean \"{}\"?", meant));
  }
  return found;
}

void write_table(std::ostream& out, const std::vector<const MaterialRecord*>& records,
                 DisplayUnits units) {
  const DisplayUnit weight = display_unit("kg/m3", units);
  constexpr std::size_t name_columns = 25;
  constexpr std::size_t title_columns = 33;
  const auto head = [&](std::string_view name, std::string_view title, std::string_view moisture,
                        std::string_view ratio, std::string_view nitrogen,
                        std::string_view density) {
    out << padded(name, name_columns) << padded(title, title_columns)
        << fmt::format("{:>8} {:>5} {:>8} {:>7}", moisture, ratio, nitrogen, density);
  };
  head("name", "title", "moisture", "C:N", "nitrogen", "density");
  out << "  group\n";
  head("", "", "% wet", "", "% dry", weight.name);
  out << '\n';
  for (const MaterialRecord* record : records) {
    const models::Material& material = record->material;
    out << padded(material.name, name_columns) << padded(material.title, title_columns)
        << fmt::format("{:>8.3g} {:>5.3g} {:>8.3g} {:>7.0f}  {}\n",
                       100 * material.moisture_wet_basis, models::carbon_to_nitrogen(material),
                       100 * material.nitrogen_dry_basis, weight(material.bulk_density_wet_kg_m3),
                       material.group);
  }
  out << fmt::format(
      "\n{} materials. Typical values; every load differs. `heapcast materials NAME` "
      "shows ranges\nand sources.\n",
      records.size());
}

void write_details(std::ostream& out, const MaterialRecord& record, DisplayUnits units) {
  const models::Material& material = record.material;
  out << fmt::format("{} - {} ({})\n", material.name, material.title, material.group);
  std::string words;
  for (const std::string& word : material.words) {
    words += (words.empty() ? "also found as: " : ", ") + word;
  }
  out << wrapped(words, 2);
  if (!record.remark.empty()) {
    out << wrapped(record.remark, 2);
  }
  for (const models::PropertyNote& note : record.notes) {
    const DisplayUnit unit = display_unit(note.unit, units);
    // Values that are converted get no more digits than the library has.
    const auto shown = [&](double value) {
      return unit.factor == 1.0   ? fmt::format("{:g}", value)
             : unit(value) >= 100 ? fmt::format("{:.0f}", unit(value))
                                  : fmt::format("{:.3g}", unit(value));
    };
    out << fmt::format("  {:<19} ", note.key)
        << padded(fmt::format("{}{}", shown(note.value), note.unit == "-" ? "" : " " + unit.name),
                  19)
        << padded(fmt::format("{} to {}", shown(note.low), shown(note.high)), 17) << note.provenance
        << '\n'
        << wrapped(meaning(note), 22) << wrapped("from: " + note.source, 22);
  }
}

nlohmann::ordered_json to_json(const MaterialRecord& record) {
  nlohmann::ordered_json properties;
  for (const models::PropertyNote& note : record.notes) {
    properties[note.key] = {{"value", note.value},
                            {"unit", note.unit},
                            {"low", note.low},
                            {"high", note.high},
                            {"meaning", meaning(note)},
                            {"source", note.source},
                            {"provenance", note.provenance}};
  }
  return {{"name", record.material.name},   {"title", record.material.title},
          {"group", record.material.group}, {"words", record.material.words},
          {"note", record.remark},          {"properties", properties}};
}

} // namespace

int materials_command(std::ostream& out, std::string_view query, bool json, DisplayUnits units) {
  const models::MaterialLibrary library = load_builtin_library();
  const auto records = chosen(library, query);
  if (json) {
    auto array = nlohmann::ordered_json::array();
    for (const MaterialRecord* record : records) {
      array.push_back(to_json(*record));
    }
    out << array.dump(2) << '\n';
  } else if (query.empty() || records.size() > most_in_detail) {
    write_table(out, records, units);
  } else {
    for (const MaterialRecord* record : records) {
      out << (record == records.front() ? "" : "\n");
      write_details(out, *record, units);
    }
    out << "\nFiles named *.csv are in the folder validation/reference.\n";
  }
  return 0;
}

} // namespace heapcast::cli
