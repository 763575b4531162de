#pragma once

#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <string>
#include <vector>

namespace heapcast::models {

/// What can hurt someone; not named in a caution that is read back from a results file.
enum class Danger {
  unnamed,
  fire,
  germs,
  ammonia,
  dust,
  run_off,
  machinery,
  herbicide,
  unproven_hygiene
};

/// Where something can hurt someone: what this forecast says about it, and what to do.
struct Caution {
  Danger danger = Danger::unnamed;
  std::string title;
  std::string finding;  ///< the numbers of this forecast behind it
  std::string brief;    ///< what to do, in a few words
  std::string advice;   ///< the same at length
  bool applies = false; ///< this forecast gives a reason for it; the others hold for any pile
};

/// What cautions are judged by; NaN where a forecast does not tell.
struct CautionFigures {
  double hottest_degC = unset;              ///< of any place at any time
  double driest_where_warm_percent = unset; ///< wet basis, where it is above 60 degC
  double height_m = unset;                  ///< of the pile at its highest
  double wettest_percent = unset;           ///< of the whole pile
  double least_air_percent = unset;
  double core_at_turn_degC = unset; ///< hottest core when it was turned
  double skin_peak_degC = unset;
  double ammonia_kgN = unset;
  double leachate_L = unset;
  double leached_kgN = unset;
  double days_above_55 = unset;
  double turns = unset;
  bool by_machine = false;
  std::vector<std::string> animal;  ///< titles of materials that can carry germs
  std::vector<std::string> sprayed; ///< titles of materials that may have been sprayed
  std::vector<std::string> dusty;   ///< titles of materials that give off dust
};

[[nodiscard]] CautionFigures caution_figures(const PileDescription& pile,
                                             const ForecastResult& result);
/// With the worse end of what 80 % of the runs span in place of the central run.
[[nodiscard]] CautionFigures caution_figures(const PileDescription& pile,
                                             const EnsembleResult& result);

/// All cautions of the trade, those that apply first.
[[nodiscard]] std::vector<Caution> cautions(const CautionFigures& figures);

} // namespace heapcast::models
