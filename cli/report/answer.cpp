#include "cli/report/answer.hpp"

#include "cli/report/readiness.hpp"

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
  return results.time_h().empty() ? std::string("the time computed")
                                  : fmt::format("{:.0f} days", results.time_h().back() / 24.0);
}

/// "A", "A and B", "A, B and C"; of more than three the first two and how many more.
std::string listed(const std::vector<std::string>& keys) {
  constexpr std::size_t most = 3;
  const std::size_t named = keys.size() > most ? most - 1 : keys.size();
  std::string text;
  for (std::size_t i = 0; i < named; ++i) {
    const bool last = i + 1 == keys.size();
    text += i == 0 ? "" : last ? " and " : ", ";
    text += plain_words(keys[i]);
  }
  return named == keys.size() ? text : fmt::format("{} and {} more", text, keys.size() - named);
}

std::string came_last(const ResultsReader& results) {
  const auto last = deciders(results, true);
  return last.keys.empty() ? std::string()
                           : fmt::format("; {} came last{}", listed(last.keys),
                                         last.in_every_run ? "" : " most often");
}

/// Why runs are not ready, to follow "Not ready": of one thing alone with its numbers.
std::string because(const ResultsReader& results, const Number& ready) {
  const auto missing = deciders(results, false);
  if (missing.keys.empty()) {
    return ready.reason.empty() ? std::string() : ": " + results.in_words(ready.reason);
  }
  const auto& key = missing.keys.front();
  if (missing.keys.size() == 1 && key != "hygiene" && results.runs() == 1) {
    if (const auto day = results.number("ready_day_" + key); day && !day->reason.empty()) {
      auto reason = results.in_words(day->reason);
      if (const auto colon = reason.find(": "); colon != std::string::npos) {
        reason[colon] = ',';
      }
      return ": " + reason;
    }
  }
  return fmt::format("; {}missing: {}", missing.in_every_run ? "" : "most often ",
                     listed(missing.keys));
}

std::string with_stop(std::string sentence) {
  if (!sentence.ends_with('.')) {
    sentence += '.';
  }
  return sentence;
}

/// What is said of readiness: first the answer, then what qualifies it.
Answer ready_sentences(const ResultsReader& results, const Calendar& calendar) {
  const auto ready = results.number("ready_day");
  if (!ready) {
    return {};
  }
  const auto why = with_stop(because(results, *ready));
  if (results.runs() == 1) {
    if (std::isfinite(ready->mid)) {
      return {
          fmt::format("Ready about {}{}.", calendar.day_and_date(ready->mid), came_last(results)),
          {}};
    }
    return {fmt::format("Not ready within {}{}", horizon(results), why), {}};
  }
  if (!std::isfinite(ready->mid)) {
    const auto runs =
        ready->missing_runs == results.finished_runs()
            ? fmt::format("any of {} runs", results.finished_runs())
            : fmt::format("{} of {} runs", ready->missing_runs, results.finished_runs());
    return {fmt::format("Not ready within {} in {}{}", horizon(results), runs, why), {}};
  }
  const auto when = [&](double day) {
    return std::isfinite(day) ? calendar.short_date(day) : "beyond " + horizon(results);
  };
  const auto others =
      ready->missing_runs == 0
          ? std::string()
          : fmt::format("{} of {} runs are not ready within {}{}", ready->missing_runs,
                        results.finished_runs(), horizon(results), why);
  return {fmt::format("Ready about {}, between {} and {} (80\u00a0% of the runs){}.",
                      when(ready->mid), when(ready->low), when(ready->high), came_last(results)),
          others};
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
  return text.empty() ? text : results.in_words(text + ".");
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
  Answer text = ready_sentences(results, calendar);
  const auto heat = heat_sentence(results, calendar);
  if (text.headline.empty()) {
    return {heat, {}};
  }
  text.detail += text.detail.empty() || heat.empty() ? "" : " ";
  text.detail += heat;
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
      figures.push_back({results.in_words(label), shown(*number)});
    }
  }
  return figures;
}

} // namespace heapcast::cli
