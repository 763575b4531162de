#pragma once

#include "models/hygiene/hygiene_rule.hpp"

#include <array>
#include <string>
#include <vector>

namespace heapcast::models {

/// A stretch of time at one place.
struct HotStretch {
  double hours = 0.0;
  double lowest_degC = 0.0; ///< decides whether the stretch is hot enough
  double highest_degC = 0.0;
  double mean_degC = 0.0; ///< enters a rule's average
  double moisture_wet_basis = 0.0;
};

/// The clock of one rule at one place: fed with what a thermometer there reads, in order of time,
/// it tells whether and when the rule was met, exact to a part of a stretch.
///
/// How the wording is read:
/// - "maintained", "remains", "without interruption": an unbroken stretch. A stretch of time counts
///   when its lowest temperature does; one that crosses the limit does not count at all.
/// - A turn counts when the probe is within the rule's temperatures just before it and the stretch
///   that runs has begun: turns before, after and in a cold pile do not count.
/// - Turning cools a probe. Where a rule is about piles that are turned, or asks for a stretch "as
///   continuous as can be", cooler time that ends within 24 h of a turn that found the probe hot
///   neither counts nor breaks the stretch (judgement: the texts are silent).
/// - An average is that of the whole unbroken stretch from its beginning.
/// - Time that is too hot or too dry for a rule is time outside.
class HygieneClock {
public:
  HygieneClock(const HygieneRule& rule, const MixFacts& mix);

  void pass(const HotStretch& stretch);
  /// Temperature that a stretch must reach to change anything: others may be left out, when
  /// `rest_until` is told the hours passed before the next call of `pass` or `turn`. The hottest
  /// temperature in `missing` is then that of what was passed.
  [[nodiscard]] double wakes_at_degC() const;
  void rest_until(double hours) { now_h_ = hours; }
  /// A turn now; what the probe reads just before it.
  void turn(double before_degC);
  /// Untreated material was added: everything begins again, a rule that was met is not met.
  void begin_again();

  [[nodiscard]] bool met() const;
  /// Hours of all stretches passed until the rule was met; NaN while it is not.
  [[nodiscard]] double met_hour() const;
  /// What is missing, for people: "longest unbroken stretch at 55 degC or more 6.2 of 15 days;
  /// 3 of 5 turns in it". Empty when the rule is met.
  [[nodiscard]] std::string missing() const;
  /// Whether the mix is what the rule asks for; the rule cannot be met when it is not.
  [[nodiscard]] bool mix_fits() const { return mix_fits_; }

private:
  /// One profile's stretch that runs, and the longest there was.
  struct Count {
    double hours = 0.0;
    double degree_hours = 0.0;
    double last_turn_h = 0.0;       ///< last turn that counts; only with turns above 0
    double recovers_until_h = -1.0; ///< cooler time that ends by then does not break
    double best_hours = 0.0;
    double best_average_degC = 0.0;
    double spell_h = unset; ///< when the hotter hours were complete
    int turns = 0;
    int best_turns = 0;
  };
  struct Segment {
    double start_h;
    double hours;
  };

  void score(const HotStretch& stretch);
  void count(const HotProfile& profile, Count& c, const HotStretch& stretch);
  [[nodiscard]] double average_reached_in(const Count& c, const HotStretch& stretch,
                                          double earliest) const;
  void follow_spell(Count& c, const HotStretch& stretch);
  void remember_best(Count& c) const;
  [[nodiscard]] bool warm(const HotProfile& profile, double temperature_degC) const;
  [[nodiscard]] std::string what_is_missing() const;
  [[nodiscard]] std::string wrong_mix() const;

  const HygieneRule* rule_;
  MixFacts mix_;
  bool mix_fits_;
  bool running_ = false; ///< some profile's stretch runs
  double coolest_degC_;  ///< below it nothing counts
  double now_h_ = 0.0;
  double met_h_ = unset; ///< temperatures, time and turns
  double score_ = 0.0;
  double hottest_degC_ = -300.0;
  std::array<Count, most_profiles> counts_;
  std::vector<Segment> hotter_; ///< above the spell's temperature in the stretch that runs
};

} // namespace heapcast::models
