#pragma once

#include "models/pile.hpp"

#include <string>
#include <vector>

namespace heapcast::cli {

/// Something that a pile may be and seldom is.
struct Unlikely {
  std::string brief;  ///< in a few words, with the number: "C:N 9"
  std::string what;   ///< the number and what comes of it
  std::string remedy; ///< what is usual, by which source, and what to do
};

/// Everything about a pile that is legal but unlikely: its mix, its size and shape, how it is
/// tended, the season. Where there is a published range the source is named with it; the limits
/// beyond which something is told are judgement unless they name a source.
[[nodiscard]] std::vector<Unlikely> unlikely(const models::PileDescription& pile);

/// "2 things are unlikely (C:N 9, 5.2 m high)", for those who did not ask; empty for none.
[[nodiscard]] std::string unlikely_in_brief(const std::vector<Unlikely>& all);

/// Of the volume of a mix as it is heaped, the share that is air, 0..1:
/// 1 - rho ((1 - M) / rho_s + M / 1000), with the density of solids rho_s =
/// 1000 / (VS / 1.0 + (1 - VS) / 2.5) kg/m3 (Haug 1993, memory: recipe.csv fas_ex, gs_ex).
struct Heaped {
  double bulk_density_kg_m3 = 0.0;
  double moisture_wet_basis = 0.0;
  double volatile_solids_dry_basis = 0.0;
};
[[nodiscard]] double free_air_share(const Heaped& mix);

} // namespace heapcast::cli
