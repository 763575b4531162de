#pragma once

#include "cli/report/calendar.hpp"
#include "cli/report/results_reader.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// One hygiene rule that is about this pile, every cell as text.
struct RuleLine {
  std::string title;
  std::string asks;
  std::string met;     ///< when, at every probe, and in how many of the runs
  std::string share;   ///< of the pile's volume, by places
  std::string missing; ///< what it lacks; of several runs in the first that lacks it
  std::string source;  ///< and how it is known
  bool asked = false;  ///< the use asks for this rule
};

/// What is left of one organism.
struct SurvivorLine {
  std::string organism;
  std::string log10_share;
  std::string share; ///< "1 in 320"
};

/// What heat has done for hygiene in the forecast.
struct HygieneTables {
  std::vector<RuleLine> rules;          ///< the one that the use asks for first
  std::vector<std::string> other_rules; ///< titles of rules for other kinds of pile
  std::string core_is_not_all;          ///< how far "met" reaches, by the first rule that is met
  std::vector<SurvivorLine> survivors;
  std::vector<std::string> numbers; ///< names of the numbers that stand in the tables
};

/// Reads hygiene_met_day_<rule>, hygiene_volume_share_<rule> and log10_survivors_<organism>; titles
/// and sources of the rules are those of `models::hygiene_rules`. Empty where the file has none.
[[nodiscard]] HygieneTables hygiene_tables(const ResultsReader& results, const Calendar& calendar);

} // namespace heapcast::cli
