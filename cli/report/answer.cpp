#include "cli/report/answer.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <string_view>
#include <utility>

namespace heapcast::cli {

namespace {

bool is_spread(const Number& number) {
  return number.low != number.high;
}

std::string plain(double value) {
  if (!std::isfinite(value)) {
    return "none";
  }
  if (std::abs(value) >= 1000.0) {
    return fmt::format("{:.0f}", value);
  }
  return fmt::format("{:.3g}", value);
}

std::string horizon(const ResultsReader& results) {
  return results.time_h().empty()
             ? std::string("the time computed")
             : fmt::format("the {:.0f} days computed", results.time_h().back() / 24.0);
}

std::string ready_sentence(const ResultsReader& results, const Calendar& calendar) {
  const auto ready = results.number("ready_day");
  if (!ready) {
    return {};
  }
  auto because = ready->reason.empty() ? std::string() : ": " + ready->reason;
  if (!because.ends_with('.')) {
    because += '.';
  }
  if (results.runs() == 1) {
    return std::isfinite(ready->mid)
               ? fmt::format("Ready about {}.", calendar.day_and_date(ready->mid))
               : "No ready day is given" + because;
  }
  const auto share =
      ready->missing_runs == 0
          ? std::string()
          : fmt::format(" {} of {} runs have no ready day within {}{}", ready->missing_runs,
                        results.finished_runs(), horizon(results), because);
  if (!std::isfinite(ready->mid)) {
    return share.substr(1);
  }
  const auto when = [&](double day) {
    if (!std::isfinite(day)) {
      return "beyond " + horizon(results);
    }
    return calendar.known() ? calendar.date(day) : fmt::format("day {:.0f}", day);
  };
  return fmt::format("Ready about {}, between {} and {}.{}", when(ready->mid), when(ready->low),
                     when(ready->high), share);
}

std::string heat_sentence(const ResultsReader& results, const Calendar& calendar) {
  std::string text;
  const auto peak = results.number("peak_temperature");
  const auto day = results.number("peak_day");
  if (peak && std::isfinite(peak->mid)) {
    text = fmt::format("The core peaks at {}", shown(*peak));
    if (day && std::isfinite(day->mid)) {
      text += " on " + calendar.day_and_date(day->mid);
    }
  }
  const auto above = results.number("days_above_55");
  if (above && std::isfinite(above->mid)) {
    text += text.empty() ? "The core is" : " and is";
    text += above->high > 0.0 ? fmt::format(" above 55 °C for {}", shown(*above))
                              : std::string(" never above 55 °C");
  }
  return text.empty() ? text : text + ".";
}

} // namespace

std::string shown(const Number& number) {
  const auto unit = number.unit.empty() ? "" : "\u00a0" + number.unit;
  if (!is_spread(number)) {
    return plain(number.mid) + (std::isfinite(number.mid) ? unit : "");
  }
  return fmt::format("{}{} ({}\u2009–\u2009{})", plain(number.mid), unit, plain(number.low),
                     plain(number.high));
}

Answer answer(const ResultsReader& results, const Calendar& calendar) {
  const auto ready = results.number("ready_day");
  Answer text{ready_sentence(results, calendar), heat_sentence(results, calendar)};
  const bool no_run_is_ready = !ready || !std::isfinite(ready->low);
  if (no_run_is_ready && !text.detail.empty()) {
    std::swap(text.headline, text.detail);
  }
  return text;
}

std::vector<KeyFigure> key_figures(const ResultsReader& results) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 9> wanted = {{
      {"peak_temperature", "hottest core"},
      {"days_above_55", "core above 55 °C"},
      {"volume_fraction", "of the volume left"},
      {"carbon_lost_fraction", "of the carbon lost"},
      {"nitrogen_lost_fraction", "of the nitrogen lost"},
      {"water_added", "water added"},
      {"leachate", "drained out"},
      {"turns", "turns"},
      {"labour_hours", "labour"},
  }};
  std::vector<KeyFigure> figures;
  for (const auto& [name, label] : wanted) {
    if (const auto number = results.number(std::string(name));
        number && std::isfinite(number->mid)) {
      figures.push_back({std::string(label), shown(*number)});
    }
  }
  return figures;
}

} // namespace heapcast::cli
