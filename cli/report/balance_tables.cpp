#include "cli/report/balance_tables.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <string_view>
#include <utility>

namespace heapcast::cli {

namespace {

struct Wanted {
  std::string_view name, label;
};

std::vector<KeyFigure> figures(const ResultsReader& results, std::span<const Wanted> wanted) {
  std::vector<KeyFigure> all;
  for (const Wanted& one : wanted) {
    const auto number = results.number(std::string(one.name));
    if (number && std::isfinite(number->mid)) {
      all.push_back({std::string(one.label), shown(*number)});
    }
  }
  return all;
}

} // namespace

std::vector<WaterWeek> water_weeks(const std::vector<double>& time_h,
                                   const CumulativeWater& water) {
  constexpr double week_h = 7.0 * 24.0;
  std::vector<WaterWeek> weeks;
  for (const auto* curve : {&water.given, &water.rain, &water.evaporated, &water.drained}) {
    if (curve->size() != time_h.size()) {
      return weeks;
    }
  }
  for (std::size_t begin = 0; begin + 1 < time_h.size();) {
    const double end_h = week_h * static_cast<double>(weeks.size() + 1);
    const auto after = std::upper_bound(time_h.begin(), time_h.end(), end_h);
    const auto end = std::max(static_cast<std::size_t>(after - time_h.begin()) - 1, begin + 1);
    const auto passed = [&](const std::vector<double>& curve) { return curve[end] - curve[begin]; };
    weeks.push_back({static_cast<int>(weeks.size()) + 1, passed(water.given), passed(water.rain),
                     passed(water.evaporated), passed(water.drained)});
    begin = end;
  }
  return weeks;
}

std::vector<WaterWeek> water_weeks(const ResultsReader& results) {
  const auto curve = [&](const char* name) {
    const auto found = results.curve(name);
    return found ? found->mid : std::vector<double>{};
  };
  return water_weeks(results.time_h(), {.given = curve("cumulative_water_added"),
                                        .rain = curve("cumulative_rain"),
                                        .evaporated = curve("cumulative_evaporation"),
                                        .drained = curve("cumulative_leachate")});
}

std::vector<KeyFigure> work_figures(const ResultsReader& results) {
  static constexpr Wanted wanted[] = {{"labour_hours_building", "building"},
                                      {"labour_hours_turning", "turning"},
                                      {"labour_hours_watering", "watering"},
                                      {"labour_hours_adding", "adding material"},
                                      {"labour_hours", "all work"}};
  return figures(results, wanted);
}

std::vector<KeyFigure> yield_figures(const ResultsReader& results) {
  static constexpr Wanted wanted[] = {{"compost_volume", "compost"},
                                      {"compost_mass", "as it lies"},
                                      {"compost_dry_mass", "dry matter"},
                                      {"nitrogen_kept", "nitrogen in it"},
                                      {"compost_carbon_nitrogen_ratio", "C:N"}};
  return figures(results, wanted);
}

std::vector<KeyFigure> nitrogen_figures(const ResultsReader& results) {
  static constexpr Wanted wanted[] = {{"nitrogen_in", "went in"},
                                      {"nitrogen_kept", "is kept"},
                                      {"nitrogen_lost_ammonia", "left as ammonia"},
                                      {"nitrogen_lost_nitrous_oxide", "left as nitrous oxide"},
                                      {"nitrogen_lost_dinitrogen", "left as dinitrogen"},
                                      {"nitrogen_lost_leachate", "drained out"}};
  return figures(results, wanted);
}

} // namespace heapcast::cli
