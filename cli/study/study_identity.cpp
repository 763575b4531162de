#include "cli/study/study_identity.hpp"

#include "cli/input/parse_toml.hpp"
#include "cli/joined.hpp"
#include "cli/output/output_context.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <exception>
#include <sstream>
#include <variant>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::string_view identity_names[] = {"program_version",  "study_file",
                                               "pile_file",        "material_files",
                                               "weather_checksum", "command_options"};

/// The lines of a TOML text with its keys in order, without comments; of another text its own.
std::vector<std::string> lines_of(const std::string& text) {
  std::string all = text;
  try {
    std::ostringstream out;
    out << toml::toml_formatter(parse_toml(text, ""));
    all = out.str();
  } catch (const std::exception&) {
    // Compared as it is.
  }
  std::vector<std::string> lines;
  std::istringstream in(all);
  for (std::string line; std::getline(in, line);) {
    line.erase(0, line.find_first_not_of(" \t"));
    if (!line.empty()) {
      lines.push_back(line);
    }
  }
  return lines;
}

/// Lines that are only in one of two lists, in order, with "was" and "is": what is left when the
/// longest common subsequence is taken out.
std::vector<std::string> line_difference(const std::vector<std::string>& old_lines,
                                         const std::vector<std::string>& new_lines) {
  const std::size_t rows = old_lines.size() + 1;
  const std::size_t columns = new_lines.size() + 1;
  std::vector<std::uint32_t> common(rows * columns, 0); // of the ends from (i, j) on
  const auto at = [&](std::size_t i, std::size_t j) -> std::uint32_t& {
    return common[i * columns + j];
  };
  for (std::size_t i = rows - 1; i-- > 0;) {
    for (std::size_t j = columns - 1; j-- > 0;) {
      at(i, j) = old_lines[i] == new_lines[j] ? at(i + 1, j + 1) + 1
                                              : std::max(at(i + 1, j), at(i, j + 1));
    }
  }
  std::vector<std::string> found;
  std::size_t i = 0;
  std::size_t j = 0;
  while (i < old_lines.size() || j < new_lines.size()) {
    if (i < old_lines.size() && j < new_lines.size() && old_lines[i] == new_lines[j]) {
      ++i;
      ++j;
    } else if (i < old_lines.size() && (j == new_lines.size() || at(i + 1, j) >= at(i, j + 1))) {
      found.push_back("was: " + old_lines[i++]);
    } else {
      found.push_back("is:  " + new_lines[j++]);
    }
  }
  return found;
}

} // namespace

StudyIdentity identity_of(const Study& study, const std::string& program_version) {
  return {{"program_version", program_version},
          {"study_file", study.text},
          {"pile_file", study.pile_text},
          {"material_files", material_files_text(study.material_files)},
          {"weather_checksum", joined(study.weather_checksums, " ")},
          {"command_options", command_options(study.overrides, {}, 1)}};
}

StudyIdentity identity_of(const engine::Attributes& attributes) {
  StudyIdentity identity;
  for (const std::string_view name : identity_names) {
    const auto found = std::ranges::find(attributes, name, &engine::Attributes::value_type::first);
    const auto* text =
        found == attributes.end() ? nullptr : std::get_if<std::string>(&found->second);
    identity.emplace_back(name, text == nullptr ? "" : *text);
  }
  return identity;
}

engine::Attributes study_attributes(const Study& study, const StudyIdentity& identity,
                                    std::size_t runs) {
  const models::PileDescription& pile = *study.pile.pile;
  engine::Attributes attributes = {
      {"Conventions", std::string("CF-1.8")},
      {"title", study.title},
      {"source", "Heapcast " + identity.front().second},
      {"comment", std::string("Model estimates: measure, and follow local rules.")},
      {"schema_version", results_schema_version},
      {"design_kind", study.kind_name},
      {"design_seed", static_cast<std::int64_t>(study.seed)},
      {"design_points", static_cast<std::int64_t>(study.points)},
      {"design_levels", static_cast<std::int64_t>(study.morris_levels)},
      {"weather_years", static_cast<std::int64_t>(study.weather_years)},
      {"study_runs", static_cast<std::int64_t>(runs)},
      {"start", pile.start},
      {"weather_source", pile.weather ? pile.weather->source : ""}};
  for (const auto& [name, text] : identity) {
    attributes.emplace_back(name, text);
  }
  return attributes;
}

std::string difference(const StudyIdentity& old_one, const StudyIdentity& new_one) {
  std::vector<std::string> found;
  for (const auto& [name, text] : new_one) {
    const auto other = std::ranges::find(old_one, name, &StudyIdentity::value_type::first);
    const std::string before = other == old_one.end() ? "" : other->second;
    if (text == before) {
      continue;
    }
    if (!name.ends_with("_file") && !name.ends_with("_files")) {
      found.push_back(fmt::format("{} was \"{}\", is \"{}\"", name, before, text));
      continue;
    }
    for (const std::string& line : line_difference(lines_of(before), lines_of(text))) {
      found.push_back(fmt::format("{} {}", name, line));
    }
  }
  constexpr std::size_t most = 12;
  if (found.size() > most) {
    const std::size_t more = found.size() - most;
    found.resize(most);
    found.push_back(fmt::format("and {} lines more", more));
  }
  return joined(found, "\n  ");
}

} // namespace heapcast::cli
