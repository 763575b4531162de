#pragma once

#include "cli/output/output_context.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <cmath>
#include <cstddef>
#include <memory>
#include <string>
#include <utility>

namespace heapcast::cli {

/// An invented pile; nothing of it is computed by the model.
inline models::PileDescription sample_pile() {
  auto weather = std::make_shared<models::Weather>();
  weather->source = "weather.csv";
  weather->checksum = "00ff00ff00ff00ff";
  weather->estimates = {{"humidity", "dew point equals tmin (FAO-56 eq. 48)"},
                        {"wind", "2 m/s (FAO-56)"}};
  models::PileDescription pile;
  pile.title = "An invented heap, 3 °C at the start";
  pile.text = "title = \"An invented heap\"\n[pile]\nshape = \"heap\"\n";
  pile.start = "2025-02-28T09:00";
  pile.weather = weather;
  pile.horizon_days = 60;
  return pile;
}

/// Three hours, two section times, a triangle and a quadrangle as cells.
inline models::ForecastResult sample_forecast() {
  models::ForecastResult result;
  result.time_h = {0, 1, 2};
  result.series = {{"core_temperature", "degC", "temperature of the core", {12.5, 40.1, 61}},
                   {"air_flow", "m3/h", "air through the pile", {0, 1.0 / 3.0, models::unset}}};
  result.limit = {"cold", "none", "airless"};
  result.scalars = {
      {"peak_temperature", "degC", "highest temperature of the core", 61.25, ""},
      {"ready_day", "d", "day the pile is ready", models::unset, "not within 60 days, \"hot\""},
      {"water_added", "litre", "water added", 120, ""},
      {"labour_hours", "hours", "work", 7.5, ""}};
  result.field_time_h = {0, 24};
  result.cell_x_m = {0.25, 0.75};
  result.cell_z_m = {0.5, 0.4};
  result.cell_depth_m = {0.5, 0.1};
  result.cell_volume_m3 = {0.2, 0.6};
  result.outlines = {{{0, 0.5, 0}, {0, 0, 1}}, {{0.5, 1, 1, 0.5}, {0, 0, 0.8, 1}}};
  result.fields = {{"temperature", "degC", "temperature", {12, 13, 60, 45.5}},
                   {"moisture", "%", "water, wet basis", {60, 61, 55, 50}}};
  result.events = {{1.0 + 1.0 / 24.0, "turn", "every 2 days", 0, 0},
                   {2, "refused", "turn: frost", 0, 0},
                   {3, "turn", "core_temperature < 50 degC after > 55 degC", 40, 0}};
  result.warnings = {"Very wet at the start.", "Hot and dry: measure."};
  result.test_time_h = {0, 24};
  result.tests = {
      {"test_oxygen_uptake", "mmol O2/kg OM/h", "oxygen uptake in a test", {31.5, 27.25}},
      {"test_self_heating", "K", "rise in the vessel", {44, models::unset}}};
  result.decided_by = "oxygen_uptake, hygiene";
  result.steps = 77;
  result.compute_seconds = 0.05;
  return result;
}

/// Four runs about the sample forecast, the last of which failed; one parameter was drawn.
inline models::EnsembleResult sample_ensemble() {
  models::EnsembleResult result;
  result.central = sample_forecast();
  result.numbers = {{"peak_temperature", "degC", "highest temperature of the core", {}, {}},
                    {"ready_day", "d", "day the pile is ready", {}, {}},
                    {"water_added", "litre", "water added", {}, {}},
                    {"labour_hours", "hours", "work", {}, {}}};
  result.numbers[0].values = {60, 70, 65, models::unset};
  result.numbers[1].values = {models::unset, 40, 50, models::unset};
  result.numbers[2].values = {120, 120, 120, models::unset};
  result.numbers[3].values = {7, 8, 9, models::unset};
  for (models::RunValues& number : result.numbers) {
    number.reasons = {"", "", "", "the run failed"};
  }
  result.numbers[1].reasons[0] = "not within 60 days";
  result.bands = {
      {"core_temperature",
       "degC",
       "temperature of the core",
       {10, 35, 55},
       {12, 40, 60},
       {13, 45, 66}},
      {"air_flow", "m3/h", "air through the pile", {0, 0.25, 0.5}, {0, 0.5, 1}, {0, 0.75, 1.5}}};
  result.decided_by = {"oxygen_uptake", "above_air", "above_air", ""};
  result.start = {"2025-02-28T09:00", "2024-02-28T09:00", "2023-02-28T09:00", "2024-02-28T09:00"};
  result.failed = {{3, "the bin is too small"}};
  for (const double rate : {0.4, 0.5, 0.6, 0.7}) {
    models::ParameterSet& drawn = result.parameters.emplace_back();
    drawn.set(models::find_parameter("fast_rate"), rate);
  }
  return result;
}

/// The sample pile with every parameter given but `fast_rate`.
inline models::PileDescription sample_pile_of_runs() {
  models::PileDescription pile = sample_pile();
  for (std::size_t p = 0; p < models::parameter_count; ++p) {
    if (p != models::find_parameter("fast_rate")) {
      pile.given_parameters.push_back(p);
    }
  }
  return pile;
}

inline OutputContext sample_context() {
  return {"0.1.0", 42, "--resolution fine"};
}

/// Of the size of a common forecast: 60 days, hourly, 35 series; 100 cells daily, 6 fields.
/// A little that never repeats keeps the numbers from compressing better than real ones.
inline models::ForecastResult full_size_forecast() {
  models::ForecastResult result;
  const std::size_t hours = 60 * 24 + 1;
  const std::size_t days = 61;
  const std::size_t cells = 100;
  const auto curve = [](std::size_t i, std::size_t which) {
    const auto t = static_cast<double>(i);
    return 20.0 + 40.0 * std::exp(-t / 700.0) * std::sin(t / (200.0 + static_cast<double>(which))) +
           std::sin(t * 0.2618) + 1e-4 * std::sin(t * t);
  };
  for (std::size_t i = 0; i < hours; ++i) {
    result.time_h.push_back(static_cast<double>(i));
    result.limit.emplace_back(i % 200 < 50 ? "cold" : "none");
  }
  for (std::size_t s = 0; s < 35; ++s) {
    models::Series series{"series_" + std::to_string(s), "kg", "an invented curve", {}};
    for (std::size_t i = 0; i < hours; ++i) {
      series.values.push_back(curve(i, s));
    }
    result.series.push_back(std::move(series));
  }
  for (std::size_t s = 0; s < 40; ++s) {
    result.scalars.push_back({"scalar_" + std::to_string(s), "1", "an invented number",
                              s % 4 == 0 ? models::unset : 1.5, s % 4 == 0 ? "a reason" : ""});
  }
  for (std::size_t i = 0; i < days; ++i) {
    result.field_time_h.push_back(24.0 * static_cast<double>(i));
  }
  for (std::size_t cell = 0; cell < cells; ++cell) {
    const auto x = static_cast<double>(cell);
    result.cell_x_m.push_back(x);
    result.cell_z_m.push_back(x);
    result.cell_depth_m.push_back(x);
    result.cell_volume_m3.push_back(0.01);
    result.outlines.push_back({{x, x + 1, x + 1, x}, {0, 0, 1, 1}});
  }
  for (std::size_t f = 0; f < 6; ++f) {
    models::Field field{"field_" + std::to_string(f), "%", "an invented field", {}};
    for (std::size_t i = 0; i < days * cells; ++i) {
      field.values.push_back(curve(i, f));
    }
    result.fields.push_back(std::move(field));
  }
  for (std::size_t i = 0; i < 30; ++i) {
    result.events.push_back({2.0 * static_cast<double>(i), "turn", "every 2 days", 0, 0});
  }
  return result;
}

} // namespace heapcast::cli
