#include "cli/report/report.hpp"

#include "cli/joined.hpp"
#include "cli/report/answer.hpp"
#include "cli/report/balance_tables.hpp"
#include "cli/report/calendar.hpp"
#include "cli/report/cautions.hpp"
#include "cli/report/charts.hpp"
#include "cli/report/hygiene.hpp"
#include "cli/report/limits.hpp"
#include "cli/report/parts.hpp"
#include "cli/report/readiness.hpp"
#include "cli/report/results_reader.hpp"
#include "cli/report/section_picture.hpp"

#include <fmt/format.h>
#include <kainjow/mustache.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <sstream>
#include <string_view>

namespace heapcast::cli {

namespace {

using kainjow::mustache::data;
using kainjow::mustache::mustache;

/// Outputs that are drawn one by one: hourly for four months, with three curves a series for two.
constexpr std::size_t most_points = 3000;
constexpr std::size_t most_ensemble_points = 1500;

constexpr std::string_view closure_prefix = "closure_";

data text_list(const std::vector<std::string>& texts) {
  data list{data::type::list};
  for (const auto& text : texts) {
    list.push_back(text);
  }
  return list;
}

std::vector<std::string> lines(const std::string& text) {
  std::vector<std::string> found;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) {
    if (line.find_first_not_of(" \t\r") != std::string::npos) {
      found.push_back(line);
    }
  }
  return found;
}

data object(std::initializer_list<std::pair<std::string, data>> entries) {
  data made{data::type::object};
  for (const auto& [name, value] : entries) {
    made.set(name, value);
  }
  return made;
}

data table_view(const DailyTable& table, const std::string& csv_id) {
  data rows{data::type::list};
  for (const auto& row : table.rows) {
    rows.push_back(object({{"cells", text_list(row)}}));
  }
  return object({{"csv_id", csv_id}, {"head", text_list(table.head)}, {"rows", rows}});
}

data chart_view(const FilledChart& chart, const ResultsReader& results, const Calendar& calendar) {
  const std::string id(chart.chart->id);
  return object({{"chart_id", id},
                 {"chart_title", results.in_words(chart.chart->title)},
                 {"table", table_view(daily_table(chart, calendar), id)}});
}

data caution_list(const std::vector<models::Caution>& cautions, bool applies,
                  const ResultsReader& results) {
  data list{data::type::list};
  for (const auto& caution : cautions) {
    if (caution.applies == applies) {
      list.push_back(
          object({{"caution_title", caution.title},
                  {"finding",
                   caution.finding.empty() ? data(false) : data(results.in_words(caution.finding))},
                  {"advice", results.in_words(caution.advice)}}));
    }
  }
  return list;
}

/// What the flags of `limit` mean to someone who tends a pile.
std::string limit_label(const std::string& flag) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 7> labels = {{
      {"none", "nothing"},
      {"cold", "too cold"},
      {"hot", "too hot"},
      {"dry", "too dry"},
      {"airless", "too little air"},
      {"food", "food for microbes used up"},
      {"nitrogen", "too little nitrogen"},
  }};
  const auto* found = std::find_if(labels.begin(), labels.end(),
                                   [&](const auto& row) { return row.first == flag; });
  return found == labels.end() ? flag : std::string(found->second);
}

data limit_list(const ResultsReader& results) {
  data list{data::type::list};
  for (const auto& lane : limit_lanes(results)) {
    data spans{data::type::list};
    for (const auto& span : lane.spans) {
      spans.push_back(object({{"from", fmt::format("{:.2f}", span.from_percent)},
                              {"width", fmt::format("{:.2f}", span.width_percent)}}));
    }
    list.push_back(object({{"limit_name", limit_label(lane.name)},
                           {"share", fmt::format("{:.0f}", lane.share_percent)},
                           {"spans", spans}}));
  }
  return list;
}

std::string event_name(const std::string& kind) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 5> names = {{
      {"turn", "turned"},
      {"water", "watered"},
      {"add", "material added"},
      {"cover", "cover changed"},
      {"refused", "not done"},
  }};
  const auto* found =
      std::find_if(names.begin(), names.end(), [&](const auto& row) { return row.first == kind; });
  return found == names.end() ? kind : std::string(found->second);
}

/// One entry of what was done, as the file has it.
struct Event {
  double day = 0.0;
  std::string kind, reason;
  double litres = 0.0;
  double kg = 0.0;
};

std::vector<Event> read_events(const engine::Dataset& file) {
  const auto* days = file.variable("event_day");
  const auto* kinds = file.variable("event_kind");
  if (days == nullptr || kinds == nullptr || days->values.size() != kinds->texts.size()) {
    return {};
  }
  const auto* reasons = file.variable("event_reason");
  const auto* litres = file.variable("event_litres");
  const auto* kg = file.variable("event_kg");
  const auto value = [](const engine::Variable* variable, std::size_t i) {
    return variable != nullptr && i < variable->values.size() ? variable->values[i] : 0.0;
  };
  std::vector<Event> events;
  for (std::size_t i = 0; i < days->values.size(); ++i) {
    events.push_back({days->values[i], kinds->texts[i],
                      reasons != nullptr && i < reasons->texts.size() ? reasons->texts[i] : "",
                      value(litres, i), value(kg, i)});
  }
  return events;
}

std::string event_amount(const Event& event, DisplayUnits units) {
  const DisplayUnit water = display_unit("L", units);
  const DisplayUnit mass = display_unit("kg", units);
  std::string text = event.litres > 0.0
                         ? fmt::format("{:.0f} {}", water(event.litres),
                                       units == DisplayUnits::us ? "gallons" : "litres")
                         : "";
  if (event.kg > 0.0) {
    text += fmt::format("{}{:.0f} {}", text.empty() ? "" : ", ", mass(event.kg), mass.name);
  }
  return text;
}

data event_list(const std::vector<Event>& events, const ResultsReader& results,
                const Calendar& calendar) {
  data list{data::type::list};
  for (const auto& event : events) {
    list.push_back(object({{"event_day", fmt::format("{:.1f}", event.day)},
                           {"event_date", calendar.date(event.day)},
                           {"event_name", event_name(event.kind)},
                           {"event_reason", in_display_units(event.reason, results.units())},
                           {"event_amount", event_amount(event, results.units())}}));
  }
  return list;
}

data figure_list(const std::vector<KeyFigure>& figures) {
  data list{data::type::list};
  for (const KeyFigure& figure : figures) {
    list.push_back(object({{"label", figure.label}, {"value", figure.value}}));
  }
  return list;
}

data week_list(const std::vector<WaterWeek>& weeks, DisplayUnits units) {
  const auto litres = [water = display_unit("L", units)](double value) {
    return fmt::format("{:.0f}", water(value) + 0.0);
  };
  data list{data::type::list};
  for (const WaterWeek& one : weeks) {
    list.push_back(object({{"week", std::to_string(one.week)},
                           {"given", litres(one.given)},
                           {"rain", litres(one.rain)},
                           {"evaporated", litres(one.evaporated)},
                           {"drained", litres(one.drained)}}));
  }
  return list;
}

/// The section pictures for print and for readers without scripts, a row for each field.
data picture_list(const SectionPicture& section) {
  const auto story = story_days(section.days);
  data list{data::type::list};
  for (std::size_t field = 0; field < section.fields.size(); ++field) {
    const auto& map = section.fields[field].map;
    data pictures{data::type::list};
    for (const auto day : story) {
      pictures.push_back(object({{"picture_day", fmt::format("{:.0f}", section.days[day])},
                                 {"svg", section.svg(field, day)}}));
    }
    data legend{data::type::list};
    for (std::size_t k = 0; k <= map.breaks.size(); ++k) {
      legend.push_back(
          object({{"class", std::to_string(k)},
                  {"from", k == 0 ? std::string() : fmt::format("{:g}", map.breaks[k - 1])}}));
    }
    list.push_back(object({{"map_name", std::string(map.name)},
                           {"map_title", std::string(map.title)},
                           {"map_unit", std::string(map.unit)},
                           {"legend", legend},
                           {"pictures", pictures}}));
  }
  return list;
}

nlohmann::json section_data(const SectionPicture& section) {
  auto centres = nlohmann::json::array();
  for (const auto& [x, z] : section.centres_m) {
    centres.push_back({rounded(x, 4), rounded(z, 4)});
  }
  nlohmann::json made = {{"view_box", section.view_box()}, {"seam", section.seam_mm()},
                         {"frame", section.frame()},       {"mirrored", section.mirrored},
                         {"cells", section.cells},         {"centres", centres},
                         {"days", section.days},           {"fields", nlohmann::json::array()}};
  for (const auto& field : section.fields) {
    auto values = nlohmann::json::array();
    for (const double value : field.values) {
      values.push_back(std::isfinite(value) ? nlohmann::json(rounded(value, 3)) : nlohmann::json());
    }
    made["fields"].push_back({{"name", field.map.name},
                              {"unit", field.map.unit},
                              {"breaks", field.map.breaks},
                              {"values", values}});
  }
  return made;
}

data criterion_list(const ReadinessTable& table) {
  data list{data::type::list};
  for (const CriterionLine& line : table.lines) {
    list.push_back(object({{"criterion", line.title},
                           {"limit", line.limit},
                           {"at_end", line.at_end == "–" ? data(false) : data(line.at_end)},
                           {"own_day", line.day},
                           {"asked", line.asked},
                           {"source", line.source}}));
  }
  return list;
}

data rule_list(const HygieneTables& tables) {
  data list{data::type::list};
  for (const RuleLine& line : tables.rules) {
    list.push_back(object({{"rule_title", line.title},
                           {"asks", line.asks},
                           {"met", line.met},
                           {"share", line.share},
                           {"missing", line.missing.empty() ? data(false) : data(line.missing)},
                           {"asked", line.asked},
                           {"source", line.source}}));
  }
  return list;
}

data survivor_list(const HygieneTables& tables) {
  data list{data::type::list};
  for (const SurvivorLine& line : tables.survivors) {
    list.push_back(object(
        {{"organism", line.organism}, {"log10_share", line.log10_share}, {"share", line.share}}));
  }
  return list;
}

/// What tells numbers with the same long name apart.
std::string short_name(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

/// The numbers that do not stand in a table of their own.
data number_list(const ResultsReader& results, const std::vector<std::string>& shown_elsewhere) {
  const auto numbers = results.numbers();
  data list{data::type::list};
  for (const auto& number : numbers) {
    if (number.name.starts_with(closure_prefix) ||
        std::ranges::find(shown_elsewhere, number.name) != shown_elsewhere.end()) {
      continue;
    }
    const auto alike = std::count_if(numbers.begin(), numbers.end(), [&](const auto& other) {
      return other.long_name == number.long_name;
    });
    list.push_back(object({{"number_name", results.in_words(alike > 1 ? short_name(number.name) +
                                                                            ": " + number.long_name
                                                                      : number.long_name)},
                           {"number_value", shown(number)},
                           {"number_reason", results.in_words(number.reason)}}));
  }
  return list;
}

data closure_list(const ResultsReader& results) {
  // The project's own promise: what goes in less what comes out less what is stored, as a share of
  // the throughput.
  constexpr double mass_limit = 1e-9;
  constexpr double energy_limit = 1e-6;
  data list{data::type::list};
  for (const auto& number : results.numbers()) {
    if (number.name.starts_with(closure_prefix)) {
      const double limit = number.name.ends_with("energy") ? energy_limit : mass_limit;
      const bool closes = number.missing_runs == 0 && number.largest_size <= limit;
      list.push_back(object({{"balance", number.name.substr(closure_prefix.size())},
                             {"residual", fmt::format("{:.1e}", number.largest_size)},
                             {"limit", fmt::format("{:.0e}", limit)},
                             {"closes", closes}}));
    }
  }
  return list;
}

/// Root attributes that no other part of the report shows.
data provenance_list(const engine::Dataset& file) {
  static constexpr std::array<std::string_view, 8> shown_elsewhere = {
      "title",    "pile_file", "material_files", "weather_source", "weather_estimates",
      "warnings", "use",       "hygiene_rule"};
  data list{data::type::list};
  for (const auto& [name, value] : file.attributes) {
    if (std::find(shown_elsewhere.begin(), shown_elsewhere.end(), name) == shown_elsewhere.end()) {
      list.push_back(object({{"fact", name}, {"fact_value", attribute_text(&value)}}));
    }
  }
  return list;
}

/// JSON that can stand inside a script element whatever the texts in it.
std::string script_json(const nlohmann::json& value) {
  const auto text = value.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  std::string safe;
  safe.reserve(text.size());
  for (const char c : text) {
    if (c == '<') {
      safe += "\\u003c";
    } else {
      safe += c;
    }
  }
  return safe;
}

/// Sets a part's data, unless it is empty: then the template leaves the part out.
void set_part(data& view, const std::string& name, data part) {
  if (!(part.is_list() && part.is_empty_list()) &&
      !(part.is_string() && part.string_value().empty())) {
    view.set(name, object({{"content", std::move(part)}}));
  }
}

} // namespace

std::string html_report(const engine::Dataset& results, DisplayUnits units) {
  const ResultsReader reader(results, units);
  const Calendar calendar(reader.text("start"));
  const auto charts = fill_charts(reader);
  const auto section = read_section(reader);
  const auto events = read_events(results);
  const auto words = answer(reader, calendar);
  const auto all_cautions = cautions(reader);
  const auto readiness = readiness_table(reader, calendar);
  const auto hygiene = hygiene_tables(reader, calendar);
  const auto title = reader.text("title");

  auto drawing =
      chart_data(reader, charts, reader.runs() == 1 ? most_points : most_ensemble_points);
  drawing["start"] = reader.text("start");
  drawing["events"] = nlohmann::json::array();
  for (const auto& event : events) {
    drawing["events"].push_back({{"day", event.day}, {"kind", event.kind}});
  }
  if (section) {
    drawing["section"] = section_data(*section);
  }

  data view{data::type::object};
  view.set("title", title.empty() ? "Compost pile" : title);
  view.set("headline", words.headline.empty() ? data(false) : data(words.headline));
  view.set("detail", words.detail.empty() ? data(false) : data(words.detail));
  set_part(view, "judged_for", reader.text("use"));
  set_part(view, "start_date", calendar.date(0.0));
  if (reader.runs() > 1) {
    const std::size_t failed = reader.runs() - reader.finished_runs();
    view.set("ensemble",
             object({{"runs", std::to_string(reader.runs())},
                     {"failed", failed == 0 ? data(false) : data(std::to_string(failed))}}));
  }
  view.set("drawn_by_day", drawing["days"].is_null());
  set_part(view, "figures", figure_list(key_figures(reader)));
  set_part(view, "nitrogen_figures", figure_list(nitrogen_figures(reader)));
  set_part(view, "work_figures", figure_list(work_figures(reader)));
  set_part(view, "yield_figures", figure_list(yield_figures(reader)));
  set_part(view, "water_weeks", week_list(water_weeks(reader), reader.units()));
  view.set("water_unit", units == DisplayUnits::us ? "Gallons" : "Litres");
  view.set("hottest_modelled", reader.in_words("80 °C"));
  for (const auto& chart : charts) {
    view.set("part_" + std::string(chart.chart->part), true);
    view.set("chart_" + std::string(chart.chart->id), chart_view(chart, reader, calendar));
  }
  view.set("chart", kainjow::mustache::partial([] { return std::string(parts::chart_template); }));
  view.set("numbers_table",
           kainjow::mustache::partial([] { return std::string(parts::numbers_template); }));
  set_part(view, "applying_cautions", caution_list(all_cautions, true, reader));
  set_part(view, "other_cautions", caution_list(all_cautions, false, reader));
  set_part(view, "warnings", text_list(lines(reader.in_words(reader.text("warnings")))));
  if (section) {
    set_part(view, "section", picture_list(*section));
    view.set("section_numbers", table_view(section_table(*section, calendar), "section"));
    view.set("mirrored", section->mirrored);
    view.set("last_picture", std::to_string(section->days.size() - 1));
  }
  set_part(view, "limits", limit_list(reader));
  if (!reader.time_h().empty()) {
    view.set("last_day", fmt::format("{:.0f}", reader.time_h().back() / 24.0));
  }
  set_part(view, "events", event_list(events, reader, calendar));
  set_part(view, "pile_file", reader.text("pile_file"));
  set_part(view, "material_files", reader.text("material_files"));
  set_part(view, "weather_source", reader.text("weather_source"));
  set_part(view, "weather_estimates",
           text_list(lines(reader.in_words(reader.text("weather_estimates")))));
  set_part(view, "criteria", criterion_list(readiness));
  if (!readiness.lines.empty()) {
    view.set("part_ready", true);
  }
  view.set("some_not_asked", !std::ranges::all_of(readiness.lines, &CriterionLine::asked));
  set_part(view, "rules", rule_list(hygiene));
  set_part(view, "other_rules", joined(hygiene.other_rules, "; "));
  set_part(view, "core_is_not_all", hygiene.core_is_not_all);
  set_part(view, "survivors", survivor_list(hygiene));
  if (!hygiene.numbers.empty()) {
    view.set("part_hygiene", true);
  }
  auto shown_elsewhere = readiness.numbers;
  shown_elsewhere.insert(shown_elsewhere.end(), hygiene.numbers.begin(), hygiene.numbers.end());
  set_part(view, "numbers", number_list(reader, shown_elsewhere));
  set_part(view, "closures", closure_list(reader));
  set_part(view, "provenance", provenance_list(results));
  view.set("style", std::string(parts::style_sheet));
  view.set("library", std::string(parts::chart_library));
  view.set("licence", std::string(parts::chart_licence));
  view.set("script", std::string(parts::drawing_script));
  view.set("drawing", script_json(drawing));

  mustache page{std::string(parts::page_template)};
  auto html = page.render(view);
  assert(page.is_valid());
  return html;
}

} // namespace heapcast::cli
