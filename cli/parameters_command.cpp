#include "cli/parameters_command.hpp"

#include "cli/text_layout.hpp"
#include "engine/errors.hpp"
#include "engine/nearest.hpp"
#include "models/materials/library.hpp"
#include "models/parameters.hpp"

#include <ostream>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace heapcast::cli {

namespace {

using models::ParameterRow;
using models::Prior;

std::string_view prior_name(Prior prior) {
  switch (prior) {
  case Prior::fixed:
    return "fixed";
  case Prior::uniform:
    return "uniform";
  case Prior::normal:
    return "normal";
  case Prior::lognormal:
    return "lognormal";
  }
  return "";
}

std::vector<const ParameterRow*> chosen(std::string_view query) {
  std::vector<const ParameterRow*> found;
  for (const ParameterRow& row : models::parameter_table()) {
    if (row.name == query || row.symbol == query) {
      return {&row};
    }
    for (const std::string_view text : {row.name, row.symbol, row.meaning}) {
      if (models::mentions(text, query)) {
        found.push_back(&row);
        break;
      }
    }
  }
  if (found.empty()) {
    std::vector<std::string> names;
    for (const ParameterRow& row : models::parameter_table()) {
      names.emplace_back(row.name);
    }
    const std::string meant = engine::nearest(query, names);
    throw InputError("parameters", fmt::format("no parameter fits \"{}\"", query),
                     meant.empty() ? "`heapcast parameters` lists them"
                                   : fmt::format("did you mean \"{}\"?", meant));
  }
  return found;
}

const ParameterRow& row_of(models::Parameter parameter) {
  return models::parameter_table()[static_cast<std::size_t>(parameter)];
}

std::string range(const ParameterRow& row) {
  return fmt::format("{:g} to {:g}", row.low, row.high);
}

/// The correlations of one parameter, or all.
std::vector<const models::ParameterCorrelation*> correlations_of(std::string_view name = {}) {
  std::vector<const models::ParameterCorrelation*> found;
  for (const models::ParameterCorrelation& pair : models::parameter_correlations()) {
    if (name.empty() || row_of(pair.first).name == name || row_of(pair.second).name == name) {
      found.push_back(&pair);
    }
  }
  return found;
}

std::string_view partner(const models::ParameterCorrelation& pair, std::string_view name) {
  return row_of(pair.first).name == name ? row_of(pair.second).name : row_of(pair.first).name;
}

void write_table(std::ostream& out, const std::vector<const ParameterRow*>& rows) {
  out << fmt::format("{:<24} {:<8} {:>8} {:<18} {:<9} {:<10} {}\n", "name", "symbol", "value",
                     "range", "unit", "prior", "status");
  for (const ParameterRow* row : rows) {
    out << fmt::format("{:<24} {:<8} {:>8g} ", row->name, row->symbol, row->value)
        << padded(range(*row), 19) << padded(row->unit, 10) << padded(prior_name(row->prior), 11)
        << row->status << '\n';
  }
  out << "\nDrawn together (the others independently):\n";
  for (const models::ParameterCorrelation* pair : correlations_of()) {
    out << fmt::format("{:<24} {:<24} {:>+8g} {:<18} {}\n", row_of(pair->first).name,
                       row_of(pair->second).name, pair->coefficient, "correlation", pair->status);
  }
  out << "\n`heapcast parameters NAME` shows meaning and source.\n";
}

void write_details(std::ostream& out, const ParameterRow& row) {
  const auto unit = row.unit == "-" ? std::string() : fmt::format(" {}", row.unit);
  out << fmt::format("{} ({})\n", row.name, row.symbol) << wrapped(row.meaning, 2)
      << fmt::format("  value   {:g}{}\n  range   {}{}, {}\n  status  {}\n", row.value, unit,
                     range(row), unit, prior_name(row.prior), row.status)
      << wrapped(fmt::format("source: {}", row.source), 2);
  for (const models::ParameterCorrelation* pair : correlations_of(row.name)) {
    out << wrapped(fmt::format("drawn with {}, correlation {:+g} ({}): {}",
                               partner(*pair, row.name), pair->coefficient, pair->status,
                               pair->reason),
                   2);
  }
}

nlohmann::ordered_json to_json(const ParameterRow& row) {
  auto correlations = nlohmann::ordered_json::array();
  for (const models::ParameterCorrelation* pair : correlations_of(row.name)) {
    correlations.push_back({{"with", partner(*pair, row.name)},
                            {"coefficient", pair->coefficient},
                            {"status", pair->status},
                            {"reason", pair->reason}});
  }
  return {{"name", row.name},           {"symbol", row.symbol},
          {"value", row.value},         {"low", row.low},
          {"high", row.high},           {"unit", row.unit},
          {"si_factor", row.si_factor}, {"prior", prior_name(row.prior)},
          {"status", row.status},       {"source", row.source},
          {"meaning", row.meaning},     {"correlations", correlations}};
}

} // namespace

int parameters_command(std::ostream& out, std::string_view query, bool json) {
  const auto rows = chosen(query);
  if (json) {
    auto array = nlohmann::ordered_json::array();
    for (const ParameterRow* row : rows) {
      array.push_back(to_json(*row));
    }
    out << array.dump(2) << '\n';
  } else if (query.empty()) {
    write_table(out, rows);
  } else {
    for (const ParameterRow* row : rows) {
      out << (row == rows.front() ? "" : "\n");
      write_details(out, *row);
    }
  }
  return 0;
}

} // namespace heapcast::cli
