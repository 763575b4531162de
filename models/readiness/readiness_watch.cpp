#include "models/readiness/readiness_watch.hpp"

#include "models/properties/moist_air.hpp"
#include "models/readiness/stability_tests.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

constexpr long hours_per_day = 24;
constexpr std::size_t air_hours = 120;      ///< over which the air is averaged
constexpr std::size_t turn_hours = 120;     ///< in which a turned pile shows whether it reheats
constexpr double hot_K = freezing_K + 45.0; ///< the hot phase is above; judgement
constexpr double little_ammonium = 75e-6;   ///< kg N per kg dry matter [ccqc_nh4_vm]
constexpr double no_nitrate = 1e-9;         ///< kg N per kg dry matter: none

/// "31 mmol O2/kg OM/h", "8.2 K", "23"
std::string with_unit(double value, Measure measure) {
  const std::string_view unit = measure_row(measure).unit;
  return unit == "1" ? fmt::format("{:.3g}", value) : fmt::format("{:.3g} {}", value, unit);
}

double day_of(std::size_t hour) {
  return static_cast<double>(hour) / hours_per_day;
}

} // namespace

ReadinessWatch::ReadinessWatch(const PileDescription& pile, const PileSite& site)
    : pile_(pile), site_(site), use_(judged_use(pile)) {}

void ReadinessWatch::hour(double time_h, double core_K, double air_K, const PileState& state,
                          const Workspace& /*w*/) {
  core_K_.push_back(core_K);
  air_K_.push_back(air_K);
  if (std::lround(time_h) % hours_per_day != 0) {
    return;
  }
  const Coefficients& k = site_.coefficients;
  const Sample sample = mixed_sample(state);
  oxygen_uptake_.push_back(oxygen_uptake_test(k, sample).mmolO2_kg_h());
  carbon_dioxide_.push_back(carbon_dioxide_test(k, sample).mgC_g_d());
  self_heating_.push_back(self_heating_test(k, sample));
  carbon_nitrogen_.push_back(sample.total_carbon() / sample.total_nitrogen());
  last_ammonium_ = sample.ammonium_nitrogen / sample.dry_mass();
  last_nitrate_ = sample.nitrate_nitrogen / sample.dry_mass();
  ammonium_nitrate_.push_back(last_ammonium_ < little_ammonium ? 0.0
                              : last_nitrate_ > no_nitrate
                                  ? last_ammonium_ / last_nitrate_
                                  : std::numeric_limits<double>::infinity());
}

void ReadinessWatch::turned(double time_h, double core_K) {
  turns_.push_back({static_cast<std::size_t>(std::lround(time_h)), core_K});
}

std::vector<double> ReadinessWatch::above_air() const {
  std::vector<double> above;
  double sum = 0.0;
  for (std::size_t h = 0; h < core_K_.size(); ++h) {
    sum += air_K_[h];
    if (h >= air_hours) {
      sum -= air_K_[h - air_hours];
    }
    above.push_back(core_K_[h] - sum / static_cast<double>(std::min(h + 1, air_hours)));
  }
  return above;
}

ReadinessWatch::Verdict ReadinessWatch::judge_values(const Criterion& criterion,
                                                     const std::vector<double>& value,
                                                     double hours_apart) const {
  std::size_t first = value.size(); // from here on it holds
  while (first > 0 && value[first - 1] <= criterion.limit) {
    --first;
  }
  const double days_apart = hours_apart / hours_per_day;
  if (first < value.size()) {
    return {.day = static_cast<double>(first) * days_apart, .reason = {}};
  }
  const double last_day = static_cast<double>(value.size() - 1) * days_apart;
  const MeasureRow& row = measure_row(criterion.measure);
  const std::string state = std::isinf(value.back())
                                ? fmt::format("no nitrate yet on day {:.0f}", last_day)
                                : fmt::format("still {} on day {:.0f}",
                                              with_unit(value.back(), criterion.measure), last_day);
  return {.day = unset,
          .reason = fmt::format("{}: {}, must be {} or less", row.title, state,
                                with_unit(criterion.limit, criterion.measure))};
}

std::size_t ReadinessWatch::end_of_window(std::size_t turn) const {
  const std::size_t next =
      turn + 1 < turns_.size() ? turns_[turn + 1].hour : std::numeric_limits<std::size_t>::max();
  return std::min(turns_[turn].hour + turn_hours, next);
}

ReadinessWatch::Verdict ReadinessWatch::judge_reheating(double limit_K) const {
  const std::size_t last_hour = core_K_.size() - 1;
  std::size_t cool_from = core_K_.size();
  while (cool_from > 0 && core_K_[cool_from - 1] < hot_K) {
    --cool_from;
  }
  double day = unset;
  for (std::size_t i = 0; i < turns_.size(); ++i) {
    const std::size_t start = turns_[i].hour;
    const std::size_t end = end_of_window(i);
    if (start < cool_from) {
      continue;
    }
    const auto first = core_K_.begin() + static_cast<std::ptrdiff_t>(start) + 1;
    const auto last = core_K_.begin() + static_cast<std::ptrdiff_t>(std::min(end, last_hour)) + 1;
    const double warmed_K =
        first < last ? std::max(0.0, *std::max_element(first, last) - turns_[i].core_K) : 0.0;
    if (warmed_K > limit_K) {
      if (end > last_hour) {
        return {.day = unset,
                .reason = fmt::format("{}: {:.3g} K after the turn on day {:.0f}, must be {:.3g} K "
                                      "or less",
                                      measure_row(Measure::reheating).title, warmed_K,
                                      day_of(start), limit_K)};
      }
      day = day_of(end);
    } else if (std::isnan(day) && end <= last_hour) {
      day = day_of(start);
    }
  }
  if (std::isnan(day)) {
    return {.day = unset,
            .reason = "not tested and left out: no turn after the hot phase that was followed for "
                      "5 days",
            .tested = false};
  }
  return {.day = day, .reason = {}};
}

ReadinessWatch::Verdict ReadinessWatch::judge(const Criterion& criterion) const {
  switch (criterion.measure) {
  case Measure::oxygen_uptake:
    return judge_values(criterion, oxygen_uptake_, hours_per_day);
  case Measure::carbon_dioxide:
    return judge_values(criterion, carbon_dioxide_, hours_per_day);
  case Measure::self_heating:
    return judge_values(criterion, self_heating_, hours_per_day);
  case Measure::reheating:
    return judge_reheating(criterion.limit);
  case Measure::above_air:
    return judge_values(criterion, above_air(), 1.0);
  case Measure::carbon_nitrogen_ratio:
    return judge_values(criterion, carbon_nitrogen_, hours_per_day);
  case Measure::ammonium_nitrate_ratio:
    return judge_values(criterion, ammonium_nitrate_, hours_per_day);
  case Measure::count:
    break;
  }
  throw std::logic_error("no such measure");
}

void ReadinessWatch::report_finals(ForecastResult& result) const {
  const auto add = [&](const char* name, Measure measure, const char* long_name, double value,
                       const char* reason = "") {
    result.scalars.push_back(
        {name, std::string(measure_row(measure).unit), long_name, value, reason});
  };
  add("final_oxygen_uptake", Measure::oxygen_uptake,
      "largest oxygen uptake at 30 degC in a test of the last sample", oxygen_uptake_.back());
  add("final_carbon_dioxide_rate", Measure::carbon_dioxide,
      "carbon dioxide evolution at 37 degC in a test of the last sample", carbon_dioxide_.back());
  add("final_self_heating", Measure::self_heating,
      "peak rise of the last sample in the self-heating vessel", self_heating_.back());
  add("final_carbon_nitrogen_ratio", Measure::carbon_nitrogen_ratio,
      "carbon over nitrogen by mass in the last sample", carbon_nitrogen_.back());
  const bool nitrate = last_nitrate_ > no_nitrate;
  add("final_ammonium_nitrate_ratio", Measure::ammonium_nitrate_ratio,
      "ammonium over nitrate nitrogen by mass in the last sample",
      nitrate ? last_ammonium_ / last_nitrate_ : unset, nitrate ? "" : "there is no nitrate");
}

void ReadinessWatch::report(double hygiene_met_day, ForecastResult& result) const {
  for (std::size_t day = 0; day < oxygen_uptake_.size(); ++day) {
    result.test_time_h.push_back(static_cast<double>(day) * hours_per_day);
  }
  const auto unit = [](Measure measure) { return std::string(measure_row(measure).unit); };
  result.tests = {
      {"test_oxygen_uptake", unit(Measure::oxygen_uptake),
       "oxygen uptake of a mixed sample at 30 degC, largest of a 5 day test", oxygen_uptake_},
      {"test_carbon_dioxide", unit(Measure::carbon_dioxide),
       "carbon dioxide evolution of a mixed sample at 37 degC, mean of days 2 to 4",
       carbon_dioxide_},
      {"test_self_heating", unit(Measure::self_heating),
       "peak rise of a mixed sample over 20 degC in the self-heating vessel", self_heating_}};

  double ready = 0.0;
  std::string last;
  std::string not_met;
  std::string reasons;
  const auto count = [&](std::string_view key, const Verdict& verdict) {
    if (std::isnan(verdict.day)) {
      not_met += fmt::format("{}{}", not_met.empty() ? "" : ", ", key);
      reasons += fmt::format("{}{}", reasons.empty() ? "" : "; ", verdict.reason);
    } else if (last.empty() || verdict.day > ready) {
      ready = verdict.day;
      last = key;
    }
  };
  std::vector<Scalar> own_days;
  for (std::size_t m = 0; m < static_cast<std::size_t>(Measure::count); ++m) {
    const auto measure = static_cast<Measure>(m);
    const MeasureRow& row = measure_row(measure);
    const auto asked = std::find_if(use_.criteria.begin(), use_.criteria.end(),
                                    [&](const Criterion& c) { return c.measure == measure; });
    const bool counts = asked != use_.criteria.end();
    const double limit = counts ? asked->limit : built_in_limit(default_use, measure);
    const Verdict verdict = judge({measure, limit});
    if (counts && verdict.tested) {
      count(row.key, verdict);
    }
    own_days.push_back({fmt::format("ready_day_{}", row.key), "day",
                        fmt::format("day from which {} stays at {} or less{}", row.title,
                                    with_unit(limit, measure),
                                    counts ? "" : "; not asked for, the limit of a garden bed"),
                        verdict.day, verdict.reason});
  }
  if (asks_for_hygiene(use_, pile_)) {
    const Verdict verdict{.day = hygiene_met_day,
                          .reason =
                              std::isnan(hygiene_met_day)
                                  ? fmt::format("the hygiene rule {} is not met", use_.hygiene_rule)
                                  : ""};
    count("hygiene", verdict);
    own_days.push_back({"ready_day_hygiene", "day",
                        fmt::format("day on which the hygiene rule {} is met, a model estimate",
                                    use_.hygiene_rule),
                        verdict.day, verdict.reason});
  }
  if (!std::isnan(last_addition_h_)) {
    const Verdict verdict{.day = last_addition_h_ / hours_per_day, .reason = {}};
    count("addition", verdict);
    own_days.push_back(
        {"ready_day_addition", "day", "day of the last addition of material", verdict.day, ""});
  }
  result.decided_by = not_met.empty() ? last : not_met;
  const std::string given =
      pile_.use.name.empty() ? "; no use is given, so it is judged for this one" : "";
  result.scalars.push_back(
      {"ready_day", "day",
       fmt::format("day when the compost is ready for use: {}{}", use_title(use_), given),
       not_met.empty() ? ready : unset, reasons});
  result.scalars.insert(result.scalars.end(), own_days.begin(), own_days.end());
  report_finals(result);
}

} // namespace heapcast::models
