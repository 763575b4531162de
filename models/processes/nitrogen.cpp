#include "models/processes/nitrogen.hpp"

#include "engine/exponential_fitting.hpp"
#include "models/properties/ammonia.hpp"

#include "models/properties/gas_diffusion.hpp"
#include "models/properties/moist_air.hpp"
#include "models/properties/nitrification.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

using engine::each_entry;
using engine::each_lane;
using engine::ExponentialFitting;
using engine::FaceKind;

namespace {
using F = CellField;

template <int lanes>
HEAPCAST_INLINE inline void turnover(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,
                                     LaneWorkspace<lanes>& w, const LaneRates<lanes>& rates) {
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  double* d_ammonium = rates.field(F::ammonium_nitrogen);
  double* d_nitrate = rates.field(F::nitrate_nitrogen);
  std::vector<double>& nitrous = w.cell_scratch[0];
  std::vector<double>& dinitrogen = w.cell_scratch[1];

  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const Coefficients k = site.coefficients.at(l);
    const double nitrified = w.oxygen_factor[i] * w.nitrification_potential[i];
    const double denitrified = k.denitrification_rate_1_s * w.temperature_factor[i] *
                               denitrification_oxygen_inhibition(w.oxygen[i]) *
                               std::max(nitrate[i], 0.0);
    d_ammonium[i] -= nitrified;
    d_nitrate[i] += (1.0 - k.nitrous_share) * nitrified - denitrified;
    nitrous[i] = k.nitrous_share * (nitrified + denitrified);
    dinitrogen[i] = (1.0 - k.nitrous_share) * denitrified;
    w.ammonia_gas_kgN_m3[i] = w.ammonia_water_kgN_m3[i] / ammonia_henry_ratio(w.temperature_K[i]);
    // It is proportional.
    w.ammonia_gas_per_kg_1_m3[i] = ammonium[i] > 0.0 ? w.ammonia_gas_kgN_m3[i] / ammonium[i] : 0.0;
  });
  add_cells<lanes>(site.cells(), nitrous, rates.totals(Total::nitrous_oxide_nitrogen));
  add_cells<lanes>(site.cells(), dinitrogen, rates.totals(Total::dinitrogen_nitrogen));

  constexpr double d0 = reference_diffusivity_m2_s(Gas::ammonia);
  each_inner_face<lanes>(
      site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/) HEAPCAST_INLINE {
        const double m = w.air_flow_kg_s[f];
        const double da = w.relative_diffusivity[a];
        const double db = w.relative_diffusivity[b];
        const double gas_a = w.ammonia_gas_kgN_m3[a];
        const double gas_b = w.ammonia_gas_kgN_m3[b];
        const double air_a = w.dry_air_density[a];
        const double air_b = w.dry_air_density[b];
        const double flow = m / (m > 0.0 ? air_a : air_b);
        const double diffusion = w.transmissibility_m[f] * d0 * 2.0 * da * db / (da + db + 1e-300);
        const double beside =
            diffusion * ExponentialFitting(std::abs(flow) / (diffusion + 1e-300)).diffusion_share;
        w.ammonia_conductance_m3_s[f] = beside;
        w.face_scratch[0][f] = flow * (m > 0.0 ? gas_a : gas_b) + beside * (gas_a - gas_b);
      });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         const double flux = w.face_scratch[0][f];
                                         d_ammonium[a] -= flux;
                                         d_ammonium[b] += flux;
                                       });
  double* lost = rates.totals(Total::ammonia_nitrogen);
  for (const int face : site.boundary) {
    const FaceKind kind = site.kind[static_cast<std::size_t>(face)];
    const auto cell = static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]);
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + l;
      const std::size_t a = cell * lanes + l;
      const Forcing& out = in_lane(w.forcing, l);
      const double film_m_s = site.coefficients.surface_film_scale[l] * out.film_W_m2K /
                              (out.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
      const double open = kind == FaceKind::surface ? in_lane(w.surface, l).gas_share
                          : kind == FaceKind::wall  ? in_lane(w.wall, l).gas_share
                                                    : 0.0;
      const double inside = w.transmissibility_m[f] * d0 * w.relative_diffusivity[a];
      const double outside = film_m_s * w.face_area_m2[f];
      const double conductance_m3_s = std::max(w.air_flow_kg_s[f], 0.0) / w.dry_air_density[a] +
                                      open * inside * outside / (inside + outside + 1e-300);
      w.ammonia_conductance_m3_s[f] = conductance_m3_s;
      const double flux = conductance_m3_s * w.ammonia_gas_kgN_m3[a];
      d_ammonium[a] -= flux;
      lost[l] += flux;
    });
  }
}

template <int lanes>
HEAPCAST_INLINE inline void linearise(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                                      engine::NeighbourMatrix& matrix) {
  const std::vector<double>& gas = w.ammonia_gas_per_kg_1_m3;
  each_entry<lanes>(site.cells(),
                    [&](std::size_t i, int /*l*/) HEAPCAST_INLINE { matrix.diagonal[i] = 0.0; });
  each_inner_face<lanes>(
      site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/) HEAPCAST_INLINE {
        const double m = w.air_flow_kg_s[f];
        const double beside = w.ammonia_conductance_m3_s[f];
        matrix.from_a[f] = gas[a] * (beside + std::max(m, 0.0) / w.dry_air_density[a]);
        matrix.from_b[f] = gas[b] * (beside - std::min(m, 0.0) / w.dry_air_density[b]);
      });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         matrix.diagonal[a] -= matrix.from_a[f];
                                         matrix.diagonal[b] -= matrix.from_b[f];
                                       });
  for (const int face : site.boundary) {
    const auto cell = static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]);
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + static_cast<std::size_t>(l);
      const std::size_t a = cell * lanes + static_cast<std::size_t>(l);
      matrix.diagonal[a] -= gas[a] * w.ammonia_conductance_m3_s[f];
    });
  }
}

} // namespace

HEAPCAST_VECTORISED void ammonia_linearisation(const LaneSite<1>& site, const LaneWorkspace<1>& w,
                                               engine::NeighbourMatrix& matrix) {
  linearise<1>(site, w, matrix);
}
HEAPCAST_VECTORISED void ammonia_linearisation(const LaneSite<run_lanes>& site,
                                               const LaneWorkspace<run_lanes>& w,
                                               engine::NeighbourMatrix& matrix) {
  linearise<run_lanes>(site, w, matrix);
}

HEAPCAST_VECTORISED void nitrogen(const LaneSite<1>& site, const LaneStateView<1>& state,
                                  LaneWorkspace<1>& w, const LaneRates<1>& rates) {
  turnover<1>(site, state, w, rates);
}
HEAPCAST_VECTORISED void nitrogen(const LaneSite<run_lanes>& site,
                                  const LaneStateView<run_lanes>& state,
                                  LaneWorkspace<run_lanes>& w, const LaneRates<run_lanes>& rates) {
  turnover<run_lanes>(site, state, w, rates);
}

} // namespace heapcast::models
