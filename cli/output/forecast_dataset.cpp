#include "cli/output/forecast_dataset.hpp"

#include "cli/output/cf_unit.hpp"
#include "cli/output/criteria.hpp"
#include "cli/report/cautions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace heapcast::cli {
namespace {

using engine::Attributes;
using engine::Dataset;
using engine::Variable;

const std::vector<std::string>& limit_words() {
  static const std::vector<std::string> words{"none",    "cold", "hot",     "dry",
                                              "airless", "food", "nitrogen"};
  return words;
}

Attributes described(const std::string& unit, const std::string& long_name) {
  const std::string units = cf_unit(unit);
  Attributes attributes{{"units", units}, {"long_name", long_name}};
  if (units != unit && !unit.empty()) {
    attributes.emplace_back("display_units", unit);
  }
  return attributes;
}

/// One line each.
template <typename Items, typename Text> std::string lines(const Items& items, const Text& text) {
  std::string all;
  for (const auto& item : items) {
    all += all.empty() ? "" : "\n";
    all += text(item);
  }
  return all;
}

Attributes root_attributes(const models::PileDescription& pile,
                           const models::ForecastResult& result, const OutputContext& context) {
  const models::Weather none;
  const models::Weather& weather = pile.weather ? *pile.weather : none;
  return {{"Conventions", std::string("CF-1.8")},
          {"title", pile.title},
          {"source", "Heapcast " + context.program_version},
          {"comment", std::string("Model estimates: measure, and follow local rules.")},
          {"schema_version", results_schema_version},
          {"program_version", context.program_version},
          {"seed", context.seed},
          {"command_options", context.command_options},
          {"start", pile.start},
          {"horizon_days", pile.horizon_days},
          {"resolution", std::string(resolution_name(pile.resolution))},
          {"pile_file", pile.text},
          {"material_files", material_files_text(pile.material_files)},
          {"weather_source", weather.source},
          {"weather_checksum", weather.checksum},
          {"weather_estimates", lines(weather.estimates,
                                      [](const models::WeatherEstimate& estimate) {
                                        return estimate.column + ": " + estimate.method;
                                      })},
          {"warnings", lines(result.warnings, [](const std::string& warning) { return warning; })},
          {"steps", std::int64_t{result.steps}},
          {"rejected_steps", std::int64_t{result.rejected_steps}},
          {"rate_calls", std::int64_t{result.rate_calls}}};
}

engine::Dimension time_axis(const std::string& name, const std::vector<double>& hours,
                            std::string start) {
  std::replace(start.begin(), start.end(), 'T', ' ');
  return {name,
          hours.size(),
          hours,
          {{"units", fmt::format("hours since {}:00", start)},
           {"standard_name", std::string("time")},
           {"calendar", std::string("standard")},
           {"axis", std::string("T")},
           {"long_name", std::string("time since the build, in local standard time")}}};
}

std::size_t most_corners(const models::ForecastResult& result) {
  std::size_t most = 0;
  for (const models::CellOutline& outline : result.outlines) {
    most = std::max(most, outline.x_m.size());
  }
  return most;
}

void add_limit(Dataset& data, const models::ForecastResult& result) {
  if (result.limit.empty()) {
    return;
  }
  const std::vector<std::string>& words = limit_words();
  Variable limit{"limit",
                 {"run", "time"},
                 {},
                 {},
                 {{"long_name", std::string("what held the pile back most")}},
                 words};
  for (const std::string& word : result.limit) {
    const auto found = std::find(words.begin(), words.end(), word);
    if (found == words.end()) {
      throw std::invalid_argument(fmt::format("forecast: \"{}\" is no limit", word));
    }
    limit.values.push_back(static_cast<double>(found - words.begin()));
  }
  data.variables.push_back(std::move(limit));
}

void add_scalars(Dataset& data, const models::ForecastResult& result) {
  for (const models::Scalar& scalar : result.scalars) {
    Variable variable{
        scalar.name, {"run"}, {scalar.value}, {}, described(scalar.unit, scalar.long_name)};
    if (!std::isnan(scalar.value)) {
      data.variables.push_back(std::move(variable));
      continue;
    }
    const std::string reason_name = scalar.name + "_reason";
    variable.attributes.emplace_back("ancillary_variables", reason_name);
    data.variables.push_back(std::move(variable));
    data.variables.push_back({reason_name,
                              {"run"},
                              {},
                              {scalar.reason},
                              {{"long_name", "why there is no value: " + scalar.long_name}}});
  }
}

void add_section(Dataset& data, const models::ForecastResult& result) {
  const auto add = [&](const char* name, const char* unit, const char* long_name,
                       const std::vector<double>& values) {
    data.variables.push_back({name, {"cell"}, values, {}, described(unit, long_name)});
  };
  add("cell_x", "m", "distance of the cell's centre from the axis at the build", result.cell_x_m);
  add("cell_z", "m", "height of the cell's centre above the ground at the build", result.cell_z_m);
  add("cell_depth", "m", "depth of the cell's centre below the nearest surface at the build",
      result.cell_depth_m);
  add("cell_volume", "m3", "volume of the cell at the build", result.cell_volume_m3);

  const std::size_t corners = most_corners(result);
  Variable x{"cell_corner_x",
             {"cell", "corner"},
             {},
             {},
             described("m", "distance of the cell's corners from the axis at the build")};
  Variable z{"cell_corner_z",
             {"cell", "corner"},
             {},
             {},
             described("m", "height of the cell's corners above the ground at the build")};
  for (const models::CellOutline& outline : result.outlines) {
    for (std::size_t i = 0; i < corners; ++i) {
      x.values.push_back(i < outline.x_m.size() ? outline.x_m[i] : models::unset);
      z.values.push_back(i < outline.z_m.size() ? outline.z_m[i] : models::unset);
    }
  }
  data.variables.push_back(std::move(x));
  data.variables.push_back(std::move(z));

  for (const models::Field& field : result.fields) {
    Variable variable{field.name,
                      {"run", "field_time", "cell"},
                      field.values,
                      {},
                      described(field.unit, field.long_name)};
    variable.attributes.emplace_back("coordinates", std::string("cell_x cell_z cell_depth"));
    data.variables.push_back(std::move(variable));
  }
}

void add_events(Dataset& data, const models::ForecastResult& result) {
  Variable day{
      "event_day", {"event"}, {}, {}, described("day", "days from the build to the event")};
  Variable kind{"event_kind", {"event"}, {}, {}, {{"long_name", std::string("what was done")}}};
  Variable reason{"event_reason",
                  {"event"},
                  {},
                  {},
                  {{"long_name", std::string("why it was done, or refused")}}};
  Variable litres{"event_litres", {"event"}, {}, {}, described("litre", "water added")};
  Variable kg{"event_kg", {"event"}, {}, {}, described("kg", "material added")};
  for (const models::EventRecord& event : result.events) {
    day.values.push_back(event.day);
    kind.texts.push_back(event.kind);
    reason.texts.push_back(event.reason);
    litres.values.push_back(event.litres);
    kg.values.push_back(event.kg);
  }
  for (Variable* variable : {&day, &kind, &reason, &litres, &kg}) {
    data.variables.push_back(std::move(*variable));
  }
}

/// A variable of the central run as one of the ensemble: a band, or marked as the central run's.
void widen(Variable& variable, const models::EnsembleResult& ensemble) {
  if (const models::Band* band = ensemble.band(variable.name)) {
    variable.dimensions = {"quantile", variable.dimensions.back()};
    variable.values = band->low;
    variable.values.insert(variable.values.end(), band->mid.begin(), band->mid.end());
    variable.values.insert(variable.values.end(), band->high.begin(), band->high.end());
    variable.attributes.emplace_back("comment",
                                     std::string("points of the runs' distribution, time by time"));
  } else if (variable.dimensions.front() == "run" || variable.dimensions.front() == "event") {
    std::erase(variable.dimensions, "run");
    variable.attributes.emplace_back(
        "comment", std::string("of the run with the pile's own parameters and weather"));
  }
}

void add_runs(Dataset& data, const models::PileDescription& pile,
              const models::EnsembleResult& ensemble) {
  const auto add_texts = [&](const std::string& name, std::vector<std::string> texts,
                             const std::string& long_name) {
    data.variables.push_back({name, {"run"}, {}, std::move(texts), {{"long_name", long_name}}});
  };
  for (std::size_t i = 0; i < ensemble.numbers.size(); ++i) {
    const models::RunValues& number = ensemble.numbers[i];
    Variable variable{
        number.name, {"run"}, number.values, {}, described(number.unit, number.long_name)};
    if (const double central = ensemble.central.scalars[i].value; std::isfinite(central)) {
      variable.attributes.emplace_back("central_run", central);
    }
    const bool all_there = std::ranges::all_of(number.reasons, &std::string::empty);
    if (!all_there) {
      variable.attributes.emplace_back("ancillary_variables", number.name + "_reason");
    }
    data.variables.push_back(std::move(variable));
    if (!all_there) {
      add_texts(number.name + "_reason", number.reasons,
                "why there is no value: " + number.long_name);
    }
  }
  if (std::ranges::any_of(ensemble.decided_by, [](const auto& key) { return !key.empty(); })) {
    add_texts("ready_decided_by", ensemble.decided_by, "what was met last, or is not met");
  }
  add_texts("run_start", ensemble.start, "start of the weather used, local standard time");
  std::vector<std::string> failures(ensemble.runs());
  for (const models::RunFailure& failure : ensemble.failed) {
    failures[failure.run] = failure.reason;
  }
  add_texts("run_failure", std::move(failures), "why the run failed; empty for one that did not");
  for (std::size_t p = 0; p < models::parameter_count; ++p) {
    const models::ParameterRow& row = models::parameter_table()[p];
    if (models::is_drawn(pile, p)) {
      Variable variable{fmt::format("parameter_{}", row.name),
                        {"run"},
                        {},
                        {},
                        described(std::string(row.unit), std::string(row.meaning))};
      for (const models::ParameterSet& drawn : ensemble.parameters) {
        variable.values.push_back(drawn[static_cast<models::Parameter>(p)]);
      }
      data.variables.push_back(std::move(variable));
    }
  }
}

Dataset run_dataset(const models::PileDescription& pile, const models::ForecastResult& result,
                    const OutputContext& context) {
  Dataset data;
  data.attributes = root_attributes(pile, result, context);
  data.dimensions = {{"run", 1, {}, {}},
                     time_axis("time", result.time_h, pile.start),
                     time_axis("field_time", result.field_time_h, pile.start),
                     time_axis("test_time", result.test_time_h, pile.start),
                     {"cell", result.cell_x_m.size(), {}, {}},
                     {"corner", most_corners(result), {}, {}},
                     {"event", result.events.size(), {}, {}}};
  for (const models::Series& series : result.series) {
    data.variables.push_back({series.name,
                              {"run", "time"},
                              series.values,
                              {},
                              described(series.unit, series.long_name)});
  }
  for (const models::Series& test : result.tests) {
    data.variables.push_back(
        {test.name, {"run", "test_time"}, test.values, {}, described(test.unit, test.long_name)});
  }
  add_limit(data, result);
  data.variables.push_back(
      {"ready_decided_by",
       {"run"},
       {},
       {result.decided_by},
       {{"long_name",
         std::string("criteria that were met last, or are not met within the horizon")}}});
  add_scalars(data, result);
  add_section(data, result);
  add_events(data, result);
  return data;
}

} // namespace

Dataset forecast_dataset(const models::PileDescription& pile, const models::ForecastResult& result,
                         const OutputContext& context) {
  Dataset data = run_dataset(pile, result, context);
  add_criteria(data, pile);
  add_cautions(data, models::cautions(models::caution_figures(pile, result)));
  return data;
}

Dataset forecast_dataset(const models::PileDescription& pile,
                         const models::EnsembleResult& ensemble, const OutputContext& context) {
  Dataset data = run_dataset(pile, ensemble.central, context);
  data.attributes.emplace_back("runs", static_cast<std::int64_t>(ensemble.runs()));
  data.attributes.emplace_back("failed_runs", static_cast<std::int64_t>(ensemble.failed.size()));
  if (!ensemble.failed.empty()) {
    data.attributes.emplace_back("first_failure", ensemble.failed.front().reason);
  }
  for (engine::Dimension& dimension : data.dimensions) {
    if (dimension.name == "run") {
      dimension.size = ensemble.runs();
    }
  }
  data.dimensions.push_back(
      {"quantile",
       models::spread_shares.size(),
       {models::spread_shares.begin(), models::spread_shares.end()},
       {{"units", std::string("1")},
        {"long_name", std::string("share of the runs at or below the value")}}});
  std::erase_if(data.variables, [](const Variable& one) {
    return one.dimensions == std::vector<std::string>{"run"};
  });
  for (Variable& variable : data.variables) {
    widen(variable, ensemble);
  }
  add_runs(data, pile, ensemble);
  add_criteria(data, pile);
  add_cautions(data, models::cautions(models::caution_figures(pile, ensemble)));
  return data;
}

} // namespace heapcast::cli
