#include "cli/report/charts.hpp"

#include "cli/output/criteria.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>

namespace heapcast::cli {

namespace {

using enum Daily;

/// Longest table; a longer run has a row every few days.
constexpr std::size_t most_rows = 400;

constexpr std::string_view per_hour = "/h";

/// Index of the first output at or after the hour, with a second's slack for rounding in the file.
std::size_t index_at(const std::vector<double>& time_h, double hour) {
  constexpr double slack_h = 1.0 / 3600.0;
  return static_cast<std::size_t>(std::lower_bound(time_h.begin(), time_h.end(), hour - slack_h) -
                                  time_h.begin());
}

struct Row {
  double day;
  std::size_t first, last; ///< outputs at its start and end
};

/// One row for each whole day (or several days in a long run), and the rest of the last day.
std::vector<Row> table_rows(const std::vector<double>& time_h) {
  std::vector<Row> rows;
  if (time_h.size() < 2) {
    return rows;
  }
  const double days = (time_h.back() - time_h.front()) / 24.0;
  const double step_h = 24.0 * std::max(1.0, std::ceil(days / static_cast<double>(most_rows)));
  for (std::size_t first = 0; first + 1 < time_h.size();) {
    const double next_h = (std::floor(time_h[first] / step_h + 1e-9) + 1.0) * step_h;
    const std::size_t last = std::clamp(index_at(time_h, next_h), first + 1, time_h.size() - 1);
    rows.push_back({time_h[last] / 24.0, first, last});
    first = last;
  }
  return rows;
}

/// One value for each row. NaN where an output is missing.
std::vector<double> daily_values(const std::vector<double>& values, const std::string& unit,
                                 Daily rule, const std::vector<double>& time_h,
                                 const std::vector<Row>& rows) {
  const bool is_rate = unit.ends_with(per_hour);
  std::vector<double> daily;
  if (values.empty()) {
    return daily;
  }
  for (const auto& row : rows) {
    double sum = 0.0;
    for (std::size_t i = row.first + 1; i <= row.last; ++i) {
      sum += values[i] * (rule == Daily::sum && is_rate ? time_h[i] - time_h[i - 1] : 1.0);
    }
    if (rule == at_end) {
      daily.push_back(values[row.last]);
    } else if (rule == mean) {
      daily.push_back(sum / static_cast<double>(row.last - row.first));
    } else {
      daily.push_back(sum);
    }
  }
  return daily;
}

Curve daily_curve(const Curve& curve, Daily rule, const std::vector<double>& time_h,
                  const std::vector<Row>& rows) {
  Curve daily{curve.unit, daily_values(curve.mid, curve.unit, rule, time_h, rows),
              daily_values(curve.low, curve.unit, rule, time_h, rows),
              daily_values(curve.high, curve.unit, rule, time_h, rows)};
  if (rule == Daily::sum && curve.unit.ends_with(per_hour)) {
    daily.unit.erase(daily.unit.size() - per_hour.size());
  }
  return daily;
}

constexpr std::string_view probe_prefix = "temperature_at_";
constexpr std::string_view probe_words = "temperature at the probe ";
constexpr std::size_t probe_colours = 6; ///< that report.css has

/// A series for each probe of the file.
std::vector<ChartSeries> probe_series(const ResultsReader& results) {
  std::vector<ChartSeries> series;
  for (const auto& variable : results.data().variables) {
    if (!variable.name.starts_with(probe_prefix)) {
      continue;
    }
    auto label = attribute_text(find_attribute(variable.attributes, "long_name"));
    label = label.starts_with(probe_words) ? label.substr(probe_words.size())
                                           : variable.name.substr(probe_prefix.size());
    series.push_back(
        {variable.name, label, mean, true, fmt::format("probe_{}", series.size() % probe_colours)});
  }
  return series;
}

constexpr std::string_view test_prefix = "test_";

/// The limit that a chart's measure is judged by.
std::optional<Level> level_of(const Chart& chart, const std::vector<CriterionFacts>& judged_by,
                              DisplayUnits units) {
  // Above 55 °C germs and seeds die in days, the trade's usual mark.
  constexpr double hot_degC = 55.0;
  if (chart.id == "temperature" || chart.id == "probes") {
    const DisplayUnit degree = display_unit("degC", units);
    return Level{degree(hot_degC),
                 fmt::format("{:.0f} {}", degree(hot_degC), unit_sign(degree.name, true))};
  }
  if (!chart.id.starts_with(test_prefix)) {
    return std::nullopt;
  }
  const auto found =
      std::ranges::find(judged_by, chart.id.substr(test_prefix.size()), &CriterionFacts::key);
  if (found == judged_by.end() || !std::isfinite(found->limit)) {
    return std::nullopt;
  }
  const double limit = display_unit(found->unit, units)(found->limit);
  return Level{limit, fmt::format("limit {:.3g}{}", limit, found->asked ? "" : ", not asked for")};
}

/// Percentiles of hourly amounts do not add up to those of a day: with weather that differs from
/// run to run there is no daily sum to show.
bool can_be_summed(const Curve& curve) {
  return curve.low == curve.high;
}

/// Numbers for JSON: rounded, and null where there is none.
nlohmann::json numbers(const std::vector<double>& values, int digits = 4) {
  auto list = nlohmann::json::array();
  for (const double value : values) {
    list.push_back(std::isfinite(value) ? nlohmann::json(rounded(value, digits))
                                        : nlohmann::json());
  }
  return list;
}

std::vector<double> in_days(std::vector<double> hours) {
  for (auto& value : hours) {
    value /= 24.0;
  }
  return hours;
}

} // namespace

double rounded(double value, int digits) {
  if (value == 0.0 || !std::isfinite(value)) {
    return value;
  }
  // Not std::stod: it throws for numbers below 2.2e-308.
  return std::strtod(fmt::format("{:.{}g}", value, digits).c_str(), nullptr);
}

std::span<const Chart> all_charts() {
  static const std::array<Chart, 15> charts = {{
      {"heat",
       "temperature",
       "lines",
       "Temperature",
       {{"core_temperature", "Core"},
        {"skin_temperature", "Skin"},
        {"max_temperature", "Hottest place"},
        {"air_temperature", "Air"},
        {"mean_temperature", "Mean of the pile", mean, false}}},
      {"heat", "probes", "lines", "Temperature at the probes", {}},
      {"heat", "rain", "bars", "Rain", {{"rain", "Rain", Daily::sum}}},
      {"ready",
       "test_oxygen_uptake",
       "lines",
       "Oxygen uptake of a mixed sample, 30 °C",
       {{"test_oxygen_uptake", "Oxygen uptake", at_end}},
       "test_time"},
      {"ready",
       "test_carbon_dioxide",
       "lines",
       "Carbon dioxide from a mixed sample, 37 °C",
       {{"test_carbon_dioxide", "Carbon dioxide", at_end}},
       "test_time"},
      {"ready",
       "test_self_heating",
       "lines",
       "Self-heating of a mixed sample, over 20 °C",
       {{"test_self_heating", "Self-heating", at_end}},
       "test_time"},
      {"water",
       "moisture",
       "lines",
       "Moisture of the whole pile, wet basis",
       {{"moisture_wet_basis", "Moisture"}}},
      {"water",
       "water",
       "lines",
       "Water in and out since the build",
       {{"cumulative_rain", "Rain taken in", at_end},
        {"cumulative_water_added", "Watering", at_end},
        {"cumulative_evaporation", "Evaporated", at_end},
        {"cumulative_leachate", "Drained out", at_end}}},
      {"air",
       "oxygen",
       "lines",
       "Oxygen in the core and free air space",
       {{"core_oxygen", "Oxygen, core"}, {"free_air_space", "Free air space"}}},
      {"air", "air_flow", "lines", "Air moving through the pile", {{"air_flow", "Air flow"}}},
      {"air",
       "activity",
       "lines",
       "Oxygen uptake, at 30 °C and not held back",
       {{"oxygen_uptake_rate", "Oxygen uptake"}}},
      {"carbon",
       "carbon",
       "stack",
       "Where the carbon is",
       {{"humus_carbon", "Humus", at_end},
        {"resistant_carbon", "Resistant", at_end},
        {"slow_carbon", "Slow", at_end},
        {"fast_carbon", "Fast", at_end},
        {"biomass_carbon", "Microbes", at_end},
        {"cumulative_carbon_dioxide_carbon", "Gone as CO₂", at_end},
        {"cumulative_methane_carbon", "Gone as methane", at_end}}},
      {"nitrogen",
       "nitrogen",
       "stack",
       "Where the nitrogen is",
       {{"organic_nitrogen", "Organic", at_end},
        {"ammonium_nitrogen", "Ammonium", at_end},
        {"nitrate_nitrogen", "Nitrate", at_end},
        {"cumulative_ammonia_nitrogen", "Gone as ammonia", at_end},
        {"cumulative_dinitrogen_nitrogen", "Gone as N₂", at_end},
        {"cumulative_nitrous_oxide_nitrogen", "Gone as N₂O", at_end},
        {"cumulative_leachate_nitrogen", "Drained out", at_end}}},
      {"mass",
       "mass",
       "stack",
       "Mass",
       {{"dry_mass", "Dry matter", at_end}, {"water_mass", "Water", at_end}}},
      {"mass", "volume", "lines", "Volume", {{"volume", "Volume", at_end}}},
  }};
  return charts;
}

std::vector<FilledChart> fill_charts(const ResultsReader& results) {
  const auto judged_by = criteria(results.data());
  std::vector<FilledChart> filled;
  for (const auto& chart : all_charts()) {
    const std::string axis(chart.axis);
    const auto& time_h = results.axis_h(axis);
    const auto rows = table_rows(time_h);
    FilledChart one{&chart, {}, {}, level_of(chart, judged_by, results.units())};
    for (const auto& series : chart.id == "probes" ? probe_series(results) : chart.series) {
      auto curve = results.curve(series.variable, axis);
      if (curve && (series.daily != Daily::sum || can_be_summed(*curve))) {
        auto daily = daily_curve(*curve, series.daily, time_h, rows);
        one.series.push_back({series, std::move(*curve), std::move(daily)});
      }
    }
    if (!one.series.empty()) {
      for (const auto& row : rows) {
        one.row_days.push_back(row.day);
      }
      filled.push_back(std::move(one));
    }
  }
  return filled;
}

DailyTable daily_table(const FilledChart& chart, const Calendar& calendar) {
  auto table = table_of_days(chart.row_days, calendar);
  for (const auto& one : chart.series) {
    const auto& label = one.series.label;
    const auto& daily = one.daily;
    if (!daily.low.empty()) {
      add_column(table, with_unit(label + " (10 %)", daily.unit), daily.low);
    }
    add_column(table, with_unit(label, daily.unit), daily.mid);
    if (!daily.high.empty()) {
      add_column(table, with_unit(label + " (90 %)", daily.unit), daily.high);
    }
  }
  return table;
}

nlohmann::json chart_data(const ResultsReader& results, const std::vector<FilledChart>& charts,
                          std::size_t most_points) {
  const auto days = in_days(results.time_h());
  const bool by_day = days.size() > most_points;
  nlohmann::json data;
  data["last_day"] = days.empty() ? 0.0 : days.back();
  data["charts"] = nlohmann::json::array();
  data["row_days"] = nlohmann::json::array();
  for (const auto& chart : charts) {
    const auto& unit = chart.series.front().daily.unit;
    const bool over_time = chart.chart->axis == "time";
    const bool daily = over_time && (by_day || chart.chart->kind == "bars");
    auto series_list = nlohmann::json::array();
    for (const auto& one : chart.series) {
      const auto& curve = daily ? one.daily : one.curve;
      series_list.push_back(
          {{"name", one.series.variable},
           {"label", one.series.label},
           {"colour", one.series.colour.empty() ? one.series.variable : one.series.colour},
           {"unit", one.daily.unit},
           {"drawn", one.series.drawn && one.daily.unit == unit},
           {"mid", numbers(curve.mid)}});
      if (!curve.low.empty()) {
        series_list.back()["low"] = numbers(curve.low);
        series_list.back()["high"] = numbers(curve.high);
      }
    }
    data["charts"].push_back({{"id", chart.chart->id},
                              {"kind", chart.chart->kind},
                              {"unit", unit},
                              {"daily", daily},
                              {"series", series_list}});
    if (chart.level) {
      data["charts"].back()["level"] = {{"value", chart.level->value},
                                        {"label", chart.level->label}};
    }
    if (over_time) {
      data["row_days"] = numbers(chart.row_days, 6);
    } else {
      data["charts"].back()["days"] =
          numbers(in_days(results.axis_h(std::string(chart.chart->axis))), 6);
    }
  }
  data["days"] = by_day ? nlohmann::json() : numbers(days, 6);
  return data;
}

} // namespace heapcast::cli
