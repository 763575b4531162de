#include "cli/output/forecast_dataset.hpp"

#include "cli/output/cf_unit.hpp"

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

} // namespace

Dataset forecast_dataset(const models::PileDescription& pile, const models::ForecastResult& result,
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

} // namespace heapcast::cli
