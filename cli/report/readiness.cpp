#include "cli/report/readiness.hpp"

#include "cli/output/criteria.hpp"
#include "cli/report/answer.hpp"
#include "models/hygiene/hygiene_rule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <string_view>
#include <utility>

namespace heapcast::cli {

namespace {

constexpr std::string_view nothing = "–";

/// Where the value at the end of the run stands.
std::string final_name(const std::string& key) {
  return key == "carbon_dioxide" ? "final_carbon_dioxide_rate" : "final_" + key;
}

std::vector<std::string> split(const std::string& keys) {
  constexpr std::string_view between = ", ";
  std::vector<std::string> parts;
  for (std::size_t at = 0; at < keys.size();) {
    const auto end = std::min(keys.find(between, at), keys.size());
    parts.push_back(keys.substr(at, end - at));
    at = end + between.size();
  }
  return parts;
}

std::string limit_text(const CriterionFacts& facts, const ResultsReader& results) {
  return results.in_words(facts.unit == "1"
                              ? fmt::format("{:.3g} or less", facts.limit)
                              : fmt::format("{:.3g} {} or less", facts.limit, facts.unit));
}

std::string source_text(const CriterionFacts& facts, const ResultsReader& results) {
  return facts.provenance == "given" ? facts.source
                                     : results.in_words(sourced(facts.source, facts.provenance));
}

std::string own_day(const Number& day, const ResultsReader& results, const Calendar& calendar) {
  constexpr std::string_view untested = "not tested and ";
  const auto reason = results.in_words(day.reason);
  if (reason.starts_with(untested)) {
    return fmt::format("{}, {}", shown_day(day, results, calendar, "not tested"),
                       reason.substr(untested.size()));
  }
  // The title of the measure stands in the table already.
  const auto colon = reason.find(": ");
  const auto text = shown_day(day, results, calendar, "not met");
  return reason.empty()
             ? text
             : text + ": " + (colon == std::string::npos ? reason : reason.substr(colon + 2));
}

} // namespace

std::string sourced(std::string_view source, std::string_view provenance) {
  const auto known = provenance == "memory" ? "quoted from memory"
                     : provenance == "read" ? "source read"
                                            : provenance;
  return fmt::format("{}; {}", with_signs(std::string(source)), known);
}

std::string plain_words(const std::string& key) {
  static const std::map<std::string, std::string> words = {
      {"oxygen_uptake", "oxygen uptake"},
      {"carbon_dioxide", "carbon dioxide given off"},
      {"self_heating", "self-heating"},
      {"reheating", "warming after a turn"},
      {"above_air", "core above the air"},
      {"carbon_nitrogen_ratio", "C:N"},
      {"ammonium_nitrate_ratio", "ammonium over nitrate"},
      {"hygiene", "the hygiene rule"},
      {"addition", "the last material added"}};
  const auto found = words.find(key);
  if (found != words.end()) {
    return found->second;
  }
  std::string spaced = key;
  std::replace(spaced.begin(), spaced.end(), '_', ' ');
  return spaced;
}

std::string deciders_in_words(const std::string& keys) {
  std::string text;
  for (std::size_t begin = 0; begin < keys.size();) {
    const std::size_t end = std::min(keys.find(", ", begin), keys.size());
    text += (text.empty() ? "" : ", ") + plain_words(keys.substr(begin, end - begin));
    begin = end + 2;
  }
  return text;
}

Deciders deciders(const ResultsReader& results, bool of_ready_runs) {
  const auto by_run = results.run_texts("ready_decided_by");
  const auto days = results.run_values("ready_day");
  if (by_run.size() != days.size()) {
    return {};
  }
  std::vector<std::pair<std::string, std::size_t>> times; // by key, in the order they come
  std::size_t runs = 0;
  for (std::size_t run = 0; run < days.size(); ++run) {
    if (std::isfinite(days[run]) != of_ready_runs || by_run[run].empty()) {
      continue;
    }
    ++runs;
    for (const auto& key : split(by_run[run])) {
      const auto known = std::ranges::find(times, key, [](const auto& one) { return one.first; });
      if (known == times.end()) {
        times.emplace_back(key, 1);
      } else {
        ++known->second;
      }
    }
  }
  std::ranges::stable_sort(times, std::ranges::greater(),
                           [](const auto& one) { return one.second; });
  Deciders found;
  found.in_every_run = true;
  for (const auto& [key, count] : times) {
    if (found.keys.empty() || 2 * count >= runs) {
      found.keys.push_back(key);
      found.in_every_run = found.in_every_run && count == runs;
    }
  }
  return found;
}

std::string shown_day(const Number& day, const ResultsReader& results, const Calendar& calendar,
                      const std::string& none) {
  if (!std::isfinite(day.low)) {
    return none;
  }
  if (results.runs() == 1) {
    return calendar.day_and_date(day.mid);
  }
  const auto one = [&](double value) {
    return std::isfinite(value) ? calendar.short_date(value) : std::string("later");
  };
  auto text = std::isfinite(day.mid)
                  ? fmt::format("{} ({}\u2009–\u2009{})", one(day.mid), one(day.low), one(day.high))
                  : fmt::format("{} at the earliest", one(day.low));
  if (day.missing_runs > 0) {
    text += fmt::format("; {} in {} of {} runs", none, day.missing_runs, results.finished_runs());
  }
  return text;
}

ReadinessTable readiness_table(const ResultsReader& results, const Calendar& calendar) {
  ReadinessTable table;
  const auto all = criteria(results.data());
  const auto day_of = [&](const std::string& key) {
    const auto day = results.number("ready_day_" + key);
    if (!day) {
      return std::string(nothing);
    }
    table.numbers.push_back(day->name);
    return own_day(*day, results, calendar);
  };
  const auto value_of = [&](const std::string& key) {
    const auto value = results.number(final_name(key));
    if (!value) {
      return std::string(nothing);
    }
    table.numbers.push_back(value->name);
    return shown(*value);
  };
  for (const auto& facts : all) {
    table.lines.push_back({.title = results.in_words(facts.title),
                           .limit = limit_text(facts, results),
                           .at_end = value_of(facts.key),
                           .day = day_of(facts.key),
                           .asked = facts.asked,
                           .source = source_text(facts, results)});
  }
  if (const auto day = results.number("ready_day_hygiene"); day && !all.empty()) {
    table.numbers.push_back(day->name);
    const auto key = results.text("hygiene_rule");
    const auto* rule = models::find_hygiene_rule(key);
    table.lines.push_back({.title = "hygiene rule",
                           .limit = rule == nullptr ? key : results.in_words(rule->title),
                           .at_end = std::string(nothing),
                           .day = shown_day(*day, results, calendar, "not met"),
                           .asked = true,
                           .source = rule == nullptr ? std::string(nothing)
                                                     : sourced(rule->source, rule->provenance)});
  }
  if (!all.empty() && results.number("ready_day_addition")) {
    table.lines.push_back({.title = "last material added",
                           .limit = "not before it",
                           .at_end = std::string(nothing),
                           .day = day_of("addition"),
                           .asked = true,
                           .source = "what is laid on that day is raw; judgement"});
  }
  return table;
}

} // namespace heapcast::cli
