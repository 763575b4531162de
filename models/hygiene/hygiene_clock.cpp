#include "models/hygiene/hygiene_clock.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace heapcast::models {

namespace {

// What rounding leaves: temperatures come from kelvin, times are summed.
constexpr double slack_K = 1e-9;
constexpr double slack_h = 1e-9;

/// "3 days", "48 hours": what a rule asks for.
std::string time_text(double hours) {
  return hours > 48.0 ? fmt::format("{:g} days", hours / 24.0) : fmt::format("{:g} hours", hours);
}

/// "6.2 of 15 days", "20.1 days, 15 days asked". Never shows as complete what is not.
std::string progress_text(double had_hours, double asked_hours) {
  const bool in_days = asked_hours > 48.0;
  const double had = std::floor(10.0 * had_hours / (in_days ? 24.0 : 1.0)) / 10.0;
  return had_hours < asked_hours ? fmt::format("{:.1f} of {}", had, time_text(asked_hours))
                                 : fmt::format("{:.1f} {}, {} asked", had,
                                               in_days ? "days" : "hours", time_text(asked_hours));
}

std::string limit_text(const HotProfile& profile) {
  return profile.above ? fmt::format("above {:g} degC", profile.degC)
                       : fmt::format("at {:g} degC or more", profile.degC);
}

void join(std::string& text, const std::string& part) {
  if (!text.empty() && !part.empty()) {
    text += "; ";
  }
  text += part;
}

} // namespace

HygieneClock::HygieneClock(const HygieneRule& rule, const MixFacts& mix)
    : rule_(&rule), mix_(mix), mix_fits_(wrong_mix().empty()), coolest_degC_(rule.line.from_degC) {
  if (!(rule.line.hours > 0.0)) {
    coolest_degC_ = std::numeric_limits<double>::infinity();
    for (const HotProfile& profile : rule.profiles) {
      if (profile.hours > 0.0) {
        coolest_degC_ = std::min(coolest_degC_, profile.degC);
      }
    }
  }
}

bool HygieneClock::met() const {
  return !std::isnan(met_hour());
}

double HygieneClock::met_hour() const {
  return mix_fits_ ? met_h_ : unset;
}

bool HygieneClock::warm(const HotProfile& profile, double temperature_degC) const {
  return profile.above ? temperature_degC > profile.degC + slack_K
                       : temperature_degC >= profile.degC - slack_K;
}

double HygieneClock::wakes_at_degC() const {
  if (!std::isnan(met_h_)) {
    return std::numeric_limits<double>::infinity();
  }
  return running_ ? -std::numeric_limits<double>::infinity() : coolest_degC_ - slack_K;
}

void HygieneClock::pass(const HotStretch& stretch) {
  if (!(stretch.hours > 0.0)) {
    return;
  }
  now_h_ += stretch.hours;
  hottest_degC_ = std::max(hottest_degC_, stretch.lowest_degC);
  if (!std::isnan(met_h_) || (stretch.lowest_degC < coolest_degC_ - slack_K && !running_)) {
    return;
  }
  if (rule_->line.hours > 0.0) {
    score(stretch);
    return;
  }
  running_ = false;
  for (std::size_t i = 0; i < rule_->profiles.size() && rule_->profiles[i].hours > 0.0; ++i) {
    count(rule_->profiles[i], counts_[i], stretch);
    running_ = running_ || counts_[i].hours > 0.0;
  }
}

void HygieneClock::score(const HotStretch& stretch) {
  const double asked = hours_asked(rule_->line, stretch.lowest_degC);
  const double left = (1.0 - score_) * asked;
  if (left <= stretch.hours + slack_h) {
    met_h_ = now_h_ - stretch.hours + std::min(left, stretch.hours);
  }
  score_ += stretch.hours / asked;
}

void HygieneClock::count(const HotProfile& profile, Count& c, const HotStretch& stretch) {
  const bool hot = warm(profile, stretch.lowest_degC);
  const bool suits = stretch.highest_degC <= rule_->highest_degC + slack_K &&
                     stretch.moisture_wet_basis >= rule_->least_moisture_wet_basis;
  if (!hot || !suits) {
    const bool recovering = suits && now_h_ <= c.recovers_until_h + slack_h;
    if (profile.count == HotCount::added_up || recovering) {
      return;
    }
    c.hours = 0.0;
    c.degree_hours = 0.0;
    c.recovers_until_h = -1.0;
    c.spell_h = unset;
    hotter_.clear();
    if (profile.count != HotCount::before_each_turn) {
      c.turns = 0;
    }
    return;
  }

  const double start = now_h_ - stretch.hours;
  follow_spell(c, stretch);
  double left = std::max(profile.hours - c.hours, 0.0);
  if (rule_->spell.hours > 0.0) {
    left = std::isnan(c.spell_h) ? std::numeric_limits<double>::infinity()
                                 : std::max(left, c.spell_h - start);
  }
  if (std::isfinite(rule_->average_above_degC)) {
    left = average_reached_in(c, stretch, left);
  }
  if (profile.count != HotCount::before_each_turn && c.turns >= rule_->turns.least &&
      left <= stretch.hours + slack_h) {
    met_h_ = std::min(std::isnan(met_h_) ? now_h_ : met_h_, start + std::min(left, stretch.hours));
  }
  c.hours += stretch.hours;
  c.degree_hours += stretch.mean_degC * stretch.hours;
  remember_best(c);
}

/// Hours into the stretch, `earliest` or later, from which the average since the count began is
/// high enough; infinite when it is not within the stretch.
double HygieneClock::average_reached_in(const Count& c, const HotStretch& stretch,
                                        double earliest) const {
  const double average = rule_->average_above_degC;
  const double lacking = average * c.hours - c.degree_hours; // degree-hours before the stretch
  const double surplus = stretch.mean_degC - average;        // and gained in each hour of it
  const auto above_after = [&](double hours) {
    return surplus * hours - lacking > slack_K * (c.hours + hours);
  };
  if (above_after(earliest)) {
    return earliest;
  }
  return surplus > 0.0 && above_after(stretch.hours) ? std::max(earliest, lacking / surplus)
                                                     : std::numeric_limits<double>::infinity();
}

/// Looks for the spell's hours within a window of its length: it is there as soon as the last of
/// them ends within the window from the first. Windows beginning with a segment are enough.
void HygieneClock::follow_spell(Count& c, const HotStretch& stretch) {
  const HotSpell& spell = rule_->spell;
  if (!(spell.hours > 0.0) || !std::isnan(c.spell_h) ||
      !(stretch.lowest_degC > spell.above_degC + slack_K)) {
    return;
  }
  const double start = now_h_ - stretch.hours;
  hotter_.push_back({start, stretch.hours});
  double hours = 0.0; // from a segment on to the end of this stretch
  for (auto first = hotter_.rbegin(); first != hotter_.rend(); ++first) {
    hours += first->hours;
    const double complete_h = now_h_ - (hours - spell.hours);
    const bool in_this_stretch = complete_h > start && hours >= spell.hours - slack_h;
    if (in_this_stretch && complete_h - first->start_h <= spell.within_hours + slack_h) {
      c.spell_h = complete_h; // an earlier segment would have it earlier
    }
  }
  std::erase_if(hotter_, [&](const Segment& s) { return s.start_h < now_h_ - spell.within_hours; });
}

void HygieneClock::remember_best(Count& c) const {
  if (c.hours >= c.best_hours) {
    c.best_hours = c.hours;
    c.best_turns = c.turns;
    c.best_average_degC = c.degree_hours / c.hours;
  }
}

void HygieneClock::turn(double before_degC) {
  if (!std::isnan(met_h_)) {
    return;
  }
  for (std::size_t i = 0; i < rule_->profiles.size() && rule_->profiles[i].hours > 0.0; ++i) {
    const HotProfile& profile = rule_->profiles[i];
    Count& c = counts_[i];
    const bool found_hot =
        c.hours > 0.0 && warm(profile, before_degC) && before_degC <= rule_->highest_degC + slack_K;
    if (!found_hot) {
      continue;
    }
    c.recovers_until_h = now_h_ + rule_->turns.recovery_hours;
    const bool complete = c.hours >= profile.hours - slack_h;
    const bool counts =
        profile.count == HotCount::before_each_turn
            ? complete
            : c.turns == 0 || now_h_ - c.last_turn_h >= rule_->turns.gap_hours - slack_h;
    if (counts) {
      ++c.turns;
      c.last_turn_h = now_h_;
      remember_best(c);
      if (complete && rule_->turns.least > 0 && c.turns >= rule_->turns.least) {
        met_h_ = now_h_;
      }
    }
    if (profile.count == HotCount::before_each_turn) {
      c.hours = 0.0;
      c.degree_hours = 0.0;
    }
  }
}

void HygieneClock::begin_again() {
  const double now = now_h_;
  *this = HygieneClock(*rule_, mix_);
  now_h_ = now;
}

std::string HygieneClock::wrong_mix() const {
  std::string text;
  const double ratio = mix_.carbon_nitrogen_ratio;
  const bool any_ratio =
      rule_->lowest_carbon_nitrogen <= 0.0 && std::isinf(rule_->highest_carbon_nitrogen);
  if (!any_ratio &&
      !(ratio >= rule_->lowest_carbon_nitrogen && ratio <= rule_->highest_carbon_nitrogen)) {
    join(text, fmt::format("C:N of the mix is {:.1f} at the build, {:g} to {:g} is asked", ratio,
                           rule_->lowest_carbon_nitrogen, rule_->highest_carbon_nitrogen));
  }
  if (std::isfinite(rule_->largest_particle_m) &&
      !(mix_.largest_particle_m <= rule_->largest_particle_m * (1.0 + 1e-12))) {
    join(text, fmt::format("particles are up to {:g} mm, {:g} mm or less is asked",
                           1e3 * mix_.largest_particle_m, 1e3 * rule_->largest_particle_m));
  }
  return text;
}

std::string HygieneClock::missing() const {
  if (met()) {
    return {};
  }
  std::string text = wrong_mix();
  join(text, std::isnan(met_h_)
                 ? what_is_missing()
                 : fmt::format("temperatures and time were met after {:.1f} days", met_h_ / 24.0));
  return text;
}

std::string HygieneClock::what_is_missing() const {
  if (rule_->line.hours > 0.0) {
    return fmt::format("score {:.2f} of 1", std::floor(100.0 * score_) / 100.0);
  }
  std::size_t nearest = 0;
  const auto share = [&](std::size_t i) {
    return counts_[i].best_hours / rule_->profiles[i].hours;
  };
  for (std::size_t i = 1; i < rule_->profiles.size() && rule_->profiles[i].hours > 0.0; ++i) {
    const bool cooler = rule_->profiles[i].degC < rule_->profiles[nearest].degC;
    if (share(i) > share(nearest) || (share(i) == share(nearest) && cooler)) {
      nearest = i;
    }
  }
  const HotProfile& profile = rule_->profiles[nearest];
  const Count& c = counts_[nearest];
  std::string limit = limit_text(profile);
  if (std::isfinite(rule_->highest_degC)) {
    limit = fmt::format("at {:g} to {:.1f} degC", profile.degC, rule_->highest_degC);
  }
  if (rule_->least_moisture_wet_basis > 0.0) {
    limit += fmt::format(" with {:g} % water or more", 100.0 * rule_->least_moisture_wet_basis);
  }
  if (c.best_hours == 0.0) {
    return fmt::format("never {}; {:.1f} degC at most", limit,
                       std::floor(10.0 * hottest_degC_) / 10.0);
  }
  std::string text;
  switch (profile.count) {
  case HotCount::before_each_turn:
    return fmt::format("{} of {} turns that followed {} {} without a break", c.turns,
                       rule_->turns.least, time_text(profile.hours), limit);
  case HotCount::added_up:
    text = fmt::format("{} {}", progress_text(c.best_hours, profile.hours), limit);
    break;
  case HotCount::unbroken:
  default:
    text = fmt::format("longest unbroken stretch {} {}", limit,
                       progress_text(c.best_hours, profile.hours));
  }
  if (rule_->turns.least > 0) {
    text += fmt::format("; {} of {} turns in it", c.best_turns, rule_->turns.least);
  }
  if (std::isfinite(rule_->average_above_degC)) {
    text += fmt::format("; its average {:.1f} degC, above {:g} degC is asked", c.best_average_degC,
                        rule_->average_above_degC);
  }
  if (rule_->spell.hours > 0.0) {
    text += fmt::format("; {:g} hours above {:g} degC within {} are asked too", rule_->spell.hours,
                        rule_->spell.above_degC, time_text(rule_->spell.within_hours));
  }
  return text;
}

} // namespace heapcast::models
