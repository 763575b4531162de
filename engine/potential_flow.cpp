#include "engine/potential_flow.hpp"

#include "engine/lanes.hpp"

#include <algorithm>

namespace heapcast::engine {

namespace {

struct System {
  const std::vector<int>& cell_a;
  const std::vector<int>& cell_b;
  std::vector<double>& diagonal;
  std::vector<double>& coupling;
  std::vector<double>& potential; ///< the right-hand side before the solve
};

template <int lanes>
HEAPCAST_INLINE inline void assemble(const System& s, const double* g, const double* drive) {
  double largest[lanes] = {};
  for (std::size_t f = 0; f < s.cell_a.size(); ++f) {
    const auto a = static_cast<std::size_t>(s.cell_a[f]) * lanes;
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t i = f * lanes + static_cast<std::size_t>(l);
      s.diagonal[a + l] += g[i];
      s.potential[a + l] -= g[i] * drive[i];
      largest[l] = std::max(largest[l], g[i]);
    });
    if (s.cell_b[f] >= 0) {
      const auto b = static_cast<std::size_t>(s.cell_b[f]) * lanes;
      each_lane<lanes>([&](int l) HEAPCAST_INLINE {
        const std::size_t i = f * lanes + static_cast<std::size_t>(l);
        s.diagonal[b + l] += g[i];
        s.potential[b + l] += g[i] * drive[i];
        s.coupling[i] = -g[i];
      });
    }
  }
  // A body sealed on all sides fixes the potential only up to a constant.
  each_entry<lanes>(s.diagonal.size() / lanes, [&](std::size_t i, int l) HEAPCAST_INLINE {
    s.diagonal[i] += largest[l] > 0.0 ? 1e-12 * largest[l] : 1.0;
  });
}

template <int lanes>
HEAPCAST_INLINE inline void fluxes(const System& s, const double* g, const double* drive,
                                   double* flux) {
  for (std::size_t f = 0; f < s.cell_a.size(); ++f) {
    const auto a = static_cast<std::size_t>(s.cell_a[f]) * lanes;
    // Outside the potential is 0.
    const bool inner = s.cell_b[f] >= 0;
    const std::size_t b = inner ? static_cast<std::size_t>(s.cell_b[f]) * lanes : 0;
    const double weight = inner ? 1.0 : 0.0;
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t i = f * lanes + static_cast<std::size_t>(l);
      flux[i] = g[i] * (s.potential[a + l] - weight * s.potential[b + l] + drive[i]);
    });
  }
}

HEAPCAST_VECTORISED void assemble_1(const System& s, const double* g, const double* drive) {
  assemble<1>(s, g, drive);
}
HEAPCAST_VECTORISED void assemble_8(const System& s, const double* g, const double* drive) {
  assemble<8>(s, g, drive);
}
HEAPCAST_VECTORISED void fluxes_1(const System& s, const double* g, const double* drive,
                                  double* flux) {
  fluxes<1>(s, g, drive, flux);
}
HEAPCAST_VECTORISED void fluxes_8(const System& s, const double* g, const double* drive,
                                  double* flux) {
  fluxes<8>(s, g, drive, flux);
}

} // namespace

template <int lanes>
PotentialFlow<lanes>::PotentialFlow(const Mesh& mesh)
    : cell_a_(mesh.cell_a), cell_b_(mesh.cell_b), cholesky_(mesh), diagonal_(lanes * mesh.cells()),
      coupling_(lanes * mesh.faces()), potential_(lanes * mesh.cells()) {}

template <int lanes>
void PotentialFlow<lanes>::solve(std::span<const double> conductance, std::span<const double> drive,
                                 std::span<const double> source, std::span<double> flux) {
  const System system{cell_a_, cell_b_, diagonal_, coupling_, potential_};
  std::fill(diagonal_.begin(), diagonal_.end(), 0.0);
  std::copy(source.begin(), source.end(), potential_.begin());
  (lanes == 1 ? assemble_1 : assemble_8)(system, conductance.data(), drive.data());
  cholesky_.factor(diagonal_.data(), coupling_.data());
  cholesky_.solve(potential_.data());
  (lanes == 1 ? fluxes_1 : fluxes_8)(system, conductance.data(), drive.data(), flux.data());
}

template class PotentialFlow<1>;
template class PotentialFlow<8>;

} // namespace heapcast::engine
