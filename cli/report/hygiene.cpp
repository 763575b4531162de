#include "cli/report/hygiene.hpp"

#include "cli/report/answer.hpp"
#include "cli/report/readiness.hpp"
#include "models/hygiene/hygiene_rule.hpp"
#include "models/properties/inactivation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace heapcast::cli {

namespace {

/// Thermal-death curves have tails: no more than this is claimed of what survives.
constexpr double lowest_log10_survivors = -5.0;

std::string log10_text(double log10_share) {
  return log10_share < lowest_log10_survivors ? fmt::format("below {:.0f}", lowest_log10_survivors)
                                              : fmt::format("{:.1f}", log10_share);
}

/// A number of three digits, in groups of three.
std::string grouped(double value) {
  const double scale = std::pow(10.0, std::max(0.0, std::floor(std::log10(value)) - 1.0));
  auto text = fmt::format("{:.0f}", std::round(value / scale) * scale);
  for (auto at = static_cast<std::ptrdiff_t>(text.size()) - 3; at > 0; at -= 3) {
    text.insert(static_cast<std::size_t>(at), "\u00a0");
  }
  return text;
}

std::string share_text(double log10_share) {
  if (log10_share < lowest_log10_survivors) {
    return "fewer than 1 in " + grouped(std::pow(10.0, -lowest_log10_survivors));
  }
  constexpr double half = -0.301; // log10 0.5: a share in percent reads better above
  return log10_share > half ? fmt::format("{:.0f}\u00a0%", 100.0 * std::pow(10.0, log10_share))
                            : "1 in " + grouped(std::pow(10.0, -log10_share));
}

std::string met_text(const Number& day, const ResultsReader& results, const Calendar& calendar) {
  auto text = shown_day(day, results, calendar, "not met");
  const bool in_some_runs_only = day.missing_runs > 0 && std::isfinite(day.low);
  if (!in_some_runs_only) {
    return text;
  }
  const auto runs = static_cast<double>(results.finished_runs());
  const double met = 100.0 * (runs - static_cast<double>(day.missing_runs)) / runs;
  return fmt::format("{}; met in {:.0f}\u00a0% of the runs", text.substr(0, text.find(';')), met);
}

RuleLine rule_line(const models::HygieneRule& rule, const Number& day, const Number& share,
                   const ResultsReader& results, const Calendar& calendar) {
  return {.title = results.in_words(rule.title),
          .asks = results.in_words(rule.asks),
          .met = met_text(day, results, calendar),
          .share = shown(share),
          .missing = results.in_words(day.reason),
          .source = sourced(rule.source, rule.provenance),
          .asked = results.text("hygiene_rule") == rule.key};
}

} // namespace

HygieneTables hygiene_tables(const ResultsReader& results, const Calendar& calendar) {
  HygieneTables tables;
  const bool has_probes = std::ranges::any_of(results.data().variables, [](const auto& variable) {
    return variable.name.starts_with("temperature_at_");
  });
  for (const auto& rule : models::hygiene_rules()) {
    const auto day = results.number(fmt::format("hygiene_met_day_{}", rule.key));
    const auto share = results.number(fmt::format("hygiene_volume_share_{}", rule.key));
    if (!day || !share) {
      continue;
    }
    tables.numbers.push_back(day->name);
    tables.numbers.push_back(share->name);
    // A rule that is not about this kind of pile has no share at all.
    if (!std::isfinite(share->mid)) {
      tables.other_rules.push_back(results.in_words(rule.title));
      continue;
    }
    tables.rules.push_back(rule_line(rule, *day, *share, results, calendar));
    const bool met = std::isfinite(day->mid);
    if (met && (tables.core_is_not_all.empty() || tables.rules.back().asked)) {
      tables.core_is_not_all =
          fmt::format("{}: met {}, and in {} of the volume.", tables.rules.back().title,
                      has_probes ? "at every probe" : "at the core", tables.rules.back().share);
    }
  }
  std::stable_partition(tables.rules.begin(), tables.rules.end(),
                        [](const RuleLine& line) { return line.asked; });
  for (const auto& organism : models::inactivation_table) {
    const auto left = results.number(fmt::format("log10_survivors_{}", organism.key));
    if (!left || !std::isfinite(left->mid)) {
      continue;
    }
    tables.numbers.push_back(left->name);
    auto log10_share = log10_text(left->mid);
    if (log10_text(left->low) != log10_text(left->high)) {
      log10_share += fmt::format(" ({} to {})", log10_text(left->low), log10_text(left->high));
    }
    tables.survivors.push_back({std::string(organism.name), log10_share, share_text(left->mid)});
  }
  return tables;
}

} // namespace heapcast::cli
