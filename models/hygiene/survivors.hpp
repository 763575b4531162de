#pragma once

#include "models/pile_state.hpp"
#include "models/properties/inactivation.hpp"

#include <array>
#include <span>
#include <vector>

namespace heapcast::models {

/// ln of the share of every organism that survives in every cell, hour by hour: trapezoid in the
/// kill rate from the temperatures at the hour's ends. Survivors feed nothing back.
class Survivors {
public:
  /// An hour begins with these temperatures [K], one a cell.
  void begin_hour(std::span<const double> temperature_K);
  /// It ends with these; `scale` (x_D) lengthens the decimal times.
  void end_hour(std::span<const double> temperature_K, double scale, PileState& state);

private:
  using Rates = std::array<std::vector<double>, organism_count>;

  std::vector<double> known_at_K_; ///< what `rates_` were computed at
  Rates rates_, rates_after_;      ///< 1/s, by organism and cell
};

} // namespace heapcast::models
