#include "models/hygiene/hygiene_watch.hpp"

#include "models/properties/moist_air.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>

namespace heapcast::models {

namespace {

constexpr std::size_t most_waiting = 24; ///< hours
constexpr const char* caution = "a model estimate: measure, and follow local rules";

bool is_bin(const PileDescription& pile) {
  return pile.shape.kind == ShapeKind::bin;
}

/// Why a rule is not about a pile of this kind; empty when it is.
std::string not_about(const HygieneRule& rule, const PileDescription& pile) {
  const bool turned = pile.turning.has_value();
  switch (rule.scope) {
  case RuleScope::turned_windrow:
    if (is_bin(pile)) {
      return "a rule for turned windrows: this pile stands in a bin";
    }
    return turned ? "" : "a rule for turned windrows: this pile is never turned";
  case RuleScope::vessel_or_static:
    return turned && !is_bin(pile)
               ? "a rule for vessels and static piles: this pile stands free and is turned"
               : "";
  case RuleScope::vessel:
    return is_bin(pile) ? "" : "a rule for closed vessels: this pile stands free";
  case RuleScope::any_pile:
  default:
    return "";
  }
}

double read(const std::vector<CellShare>& cells, std::span<const double> values) {
  double sum = 0.0;
  for (const CellShare& one : cells) {
    sum += one.share * values[one.cell];
  }
  return sum;
}

HotStretch one_hour(double before_K, double after_K, double moisture) {
  const double before = before_K - freezing_K;
  const double after = after_K - freezing_K;
  return {.hours = 1.0,
          .lowest_degC = std::min(before, after),
          .highest_degC = std::max(before, after),
          .mean_degC = 0.5 * (before + after),
          .moisture_wet_basis = moisture};
}

/// A name as a part of a name in the results: lower case, anything but letters and digits as one
/// `_`.
std::string word(const std::string& name) {
  std::string made;
  for (const char c : name) {
    if (std::isalnum(static_cast<unsigned char>(c)) != 0) {
      made += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    } else if (!made.empty() && made.back() != '_') {
      made += '_';
    }
  }
  while (!made.empty() && made.back() == '_') {
    made.pop_back();
  }
  return made.empty() ? "probe" : made;
}

} // namespace

HygieneWatch::HygieneWatch(const PileDescription& pile, const PileSite& site)
    : pile_(pile), site_(site) {
  for (const Probe& probe : pile.probes) {
    probes_.push_back({probe.name, probe.depth_m, {}, {}});
  }
  if (probes_.empty()) {
    probes_.push_back({"core", unset, {{core_cell(site.mesh), 1.0}}, {}});
  }
  const MixFacts mix = mix_facts(pile);
  for (const HygieneRule& rule : hygiene_rules()) {
    RuleWatch& watch = rules_.emplace_back();
    watch.rule = &rule;
    watch.not_about = not_about(rule, pile);
    if (!watch.not_about.empty()) {
      continue;
    }
    watch.probes.assign(probes_.size(), HygieneClock(rule, mix));
    if (watch.probes.front().mix_fits()) { // else no place can meet it
      const HygieneClock clock(rule, mix);
      watch.cells.assign(site.mesh.cells(), clock);
      watch.wakes_at_degC.assign(site.mesh.cells(), clock.wakes_at_degC());
    }
  }
  waiting_.resize(site.mesh.cells() * most_waiting);
  at_probes_.resize(probes_.size());
}

void HygieneWatch::place_probes(const Workspace& now) {
  for (Place& probe : probes_) {
    if (!std::isnan(probe.depth_m)) {
      probe.cells = is_bin(pile_) ? cells_down_the_middle(site_.mesh, now.scale, probe.depth_m)
                                  : cells_at_depth(site_.mesh, now.scale, probe.depth_m);
    }
  }
}

void HygieneWatch::hour(double /*time_h*/, std::span<const double> before_K, const Workspace& now) {
  place_probes(now);
  for (std::size_t i = 0; i < before_K.size(); ++i) {
    waiting_[i * most_waiting + hours_waiting_] =
        one_hour(before_K[i], now.temperature_K[i], now.moisture[i]);
  }
  for (std::size_t i = 0; i < probes_.size(); ++i) {
    const std::vector<CellShare>& cells = probes_[i].cells;
    at_probes_[i] =
        one_hour(read(cells, before_K), read(cells, now.temperature_K), read(cells, now.moisture));
  }
  for (RuleWatch& watch : rules_) {
    for (std::size_t i = 0; i < watch.probes.size(); ++i) {
      watch.probes[i].pass(at_probes_[i]);
    }
  }
  if (++hours_waiting_ == most_waiting) {
    catch_up();
  }
}

void HygieneWatch::catch_up() {
  for (std::size_t i = 0; i < site_.mesh.cells(); ++i) {
    const std::span<const HotStretch> hours(&waiting_[i * most_waiting], hours_waiting_);
    double hottest_degC = -std::numeric_limits<double>::infinity();
    for (const HotStretch& hour : hours) {
      hottest_degC = std::max(hottest_degC, hour.lowest_degC);
    }
    for (RuleWatch& watch : rules_) {
      // Most cells' clocks stand still most of the time.
      if (watch.cells.empty() || hottest_degC < watch.wakes_at_degC[i]) {
        continue;
      }
      HygieneClock& clock = watch.cells[i];
      double& wakes_at_degC = watch.wakes_at_degC[i];
      double passed_h = passed_h_;
      for (const HotStretch& hour : hours) {
        if (hour.lowest_degC >= wakes_at_degC) {
          clock.rest_until(passed_h);
          clock.pass(hour);
          wakes_at_degC = clock.wakes_at_degC();
        }
        passed_h += 1.0;
      }
    }
  }
  passed_h_ += static_cast<double>(hours_waiting_);
  hours_waiting_ = 0;
}

void HygieneWatch::turning(double /*time_h*/, const Workspace& now) {
  catch_up();
  place_probes(now);
  for (RuleWatch& watch : rules_) {
    for (std::size_t i = 0; i < watch.probes.size(); ++i) {
      watch.probes[i].turn(read(probes_[i].cells, now.temperature_K) - freezing_K);
    }
    for (std::size_t i = 0; i < watch.cells.size(); ++i) {
      watch.cells[i].rest_until(passed_h_);
      watch.cells[i].turn(now.temperature_K[i] - freezing_K);
      watch.wakes_at_degC[i] = watch.cells[i].wakes_at_degC();
    }
  }
}

void HygieneWatch::added(double time_h) {
  catch_up();
  added_h_ = time_h;
  for (RuleWatch& watch : rules_) {
    for (HygieneClock& clock : watch.probes) {
      clock.begin_again();
    }
    for (std::size_t i = 0; i < watch.cells.size(); ++i) {
      watch.cells[i].rest_until(passed_h_);
      watch.cells[i].begin_again();
      watch.wakes_at_degC[i] = watch.cells[i].wakes_at_degC();
    }
  }
}

void HygieneWatch::record(const Workspace& now) {
  place_probes(now);
  for (Place& probe : probes_) {
    probe.recorded_degC.push_back(read(probe.cells, now.temperature_K) - freezing_K);
  }
}

double HygieneWatch::met_day(const RuleWatch& watch) const {
  double last = watch.probes.empty() ? unset : 0.0;
  for (const HygieneClock& clock : watch.probes) {
    last = clock.met() ? std::max(last, clock.met_hour() / 24.0) : unset;
    if (!clock.met()) {
      break;
    }
  }
  return last;
}

double HygieneWatch::met_day(std::string_view rule) const {
  const auto found = std::find_if(rules_.begin(), rules_.end(),
                                  [&](const RuleWatch& watch) { return watch.rule->key == rule; });
  return found == rules_.end() ? unset : met_day(*found);
}

double HygieneWatch::volume_share(const RuleWatch& watch) const {
  double met = 0.0;
  for (std::size_t i = 0; i < watch.cells.size(); ++i) {
    met += watch.cells[i].met() ? site_.mesh.volume_m3[i] : 0.0;
  }
  return met / site_.mesh.total_volume_m3();
}

std::string HygieneWatch::reason(const RuleWatch& watch) const {
  if (!watch.not_about.empty()) {
    return watch.not_about;
  }
  std::string text;
  for (std::size_t i = 0; i < watch.probes.size(); ++i) {
    if (!watch.probes[i].met()) {
      text += fmt::format("{}{}: {}", text.empty() ? "" : "; ", probes_[i].name,
                          watch.probes[i].missing());
    }
  }
  if (!std::isnan(added_h_)) {
    text += fmt::format("; counted from day {:g}, when material was last added", added_h_ / 24.0);
  }
  return text;
}

void HygieneWatch::report(ForecastResult& result) {
  catch_up();
  for (const RuleWatch& watch : rules_) {
    const double day = met_day(watch);
    result.scalars.push_back(
        {fmt::format("hygiene_met_day_{}", watch.rule->key), "day",
         fmt::format("{}: day by which the forecast would meet it at every probe; {}",
                     watch.rule->title, caution),
         day, std::isnan(day) ? reason(watch) : ""});
    result.scalars.push_back(
        {fmt::format("hygiene_volume_share_{}", watch.rule->key), "1",
         fmt::format("{}: share of the volume in which the forecast would meet it; {}",
                     watch.rule->title, caution),
         watch.not_about.empty() ? volume_share(watch) : unset, watch.not_about});
  }
  for (std::size_t i = 0; i < pile_.probes.size(); ++i) {
    std::string name = "temperature_at_" + word(probes_[i].name);
    while (result.find_series(name) != nullptr) { // names that differ in signs only
      name += "_";
    }
    result.series.push_back({name, "degC",
                             fmt::format("temperature at the probe {}, {:.0f} cm below the surface",
                                         probes_[i].name, 100.0 * probes_[i].depth_m),
                             probes_[i].recorded_degC});
  }
}

} // namespace heapcast::models
