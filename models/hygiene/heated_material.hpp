#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace heapcast::models {

/// The heat that is asked for most often: 55 degC or more for 3 days (US 40 CFR 503, appendix B, of
/// vessels and static piles; see the table of rules).
inline constexpr double heated_degC = 55.0;
inline constexpr double heated_hours = 72.0;

/// Follows the material, where a hygiene clock follows a place: the share of each cell's dry matter
/// that has been heated so once, hour after hour without a break. What is heated stays so, and
/// turning mixes it with the rest like everything else.
///
/// What lies in a cell that is not heated yet has one count of hours in a row. Turning or adding
/// material brings lots of different counts together: then it begins again for all of them, which
/// never counts material as heated that is not. A pile that is turned more often than every 3 days
/// has nothing heated by this count.
class HeatedMaterial {
public:
  explicit HeatedMaterial(std::size_t cells) : hours_(cells, 0.0) {}

  /// After every hour: temperatures at its ends; `heated` are the cells' shares.
  void hour(std::span<const double> before_K, std::span<const double> after_K,
            std::span<double> heated);
  /// The pile was turned, or material laid on.
  void moved();

private:
  std::vector<double> hours_; ///< in a row, of what is not heated yet
};

} // namespace heapcast::models
