#include "models/processes/nitrogen.hpp"

#include "engine/exponential_fitting.hpp"
#include "models/properties/ammonia.hpp"
#include "models/properties/free_air_space.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

using engine::ExponentialFitting;
using engine::FaceKind;

namespace {
using F = CellField;
constexpr double bound_water_share = 0.02; ///< kg/kg dry that stays; keeps dry cells finite
} // namespace

void nitrogen(const PileSite& site, const StateView& state, Workspace& w, const Rates& rates) {
  const engine::Mesh& mesh = site.mesh;
  const Coefficients& k = site.coefficients;
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* free_share = state.field(F::free_ammonia);
  double* d_ammonium = rates.field(F::ammonium_nitrogen);
  double* d_nitrate = rates.field(F::nitrate_nitrogen);
  double nitrous = 0.0;
  double dinitrogen = 0.0;

  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    const double nitrified = w.oxygen_factor[i] * w.nitrification_potential[i];
    const double denitrified = k.denitrification_rate_1_s * w.temperature_factor[i] *
                               (1.0 - w.oxygen_factor[i]) * std::max(nitrate[i], 0.0);
    d_ammonium[i] -= nitrified;
    d_nitrate[i] += (1.0 - k.nitrous_share) * nitrified - denitrified;
    nitrous += k.nitrous_share * (nitrified + denitrified);
    dinitrogen += (1.0 - k.nitrous_share) * denitrified;

    const double solution_m3 =
        (w.liquid_kg[i] + bound_water_share * w.dry_kg[i]) / water_density_kg_m3;
    const double dissolved =
        std::min(1.0, free_share[i] * k.free_ammonia_scale) * std::max(ammonium[i], 0.0) *
        unionised_share({.ph = w.ph[i], .temperature_K = w.temperature_K[i]}) / solution_m3;
    w.ammonia_gas_kgN_m3[i] = dissolved / ammonia_henry_ratio(w.temperature_K[i]);
  }
  rates.total(Total::nitrous_oxide_nitrogen) += nitrous;
  rates.total(Total::dinitrogen_nitrogen) += dinitrogen;

  const double d0 = reference_diffusivity_m2_s(Gas::ammonia);
  for (const std::size_t f : site.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double m = w.air_flow_kg_s[f];
    const std::size_t up = m > 0.0 ? a : b;
    const double da = w.relative_diffusivity[a];
    const double db = w.relative_diffusivity[b];
    const double flow = m / w.dry_air_density[up];
    const double diffusion = w.transmissibility_m[f] * d0 * 2.0 * da * db / (da + db + 1e-300);
    const double beside =
        diffusion * ExponentialFitting(std::abs(flow) / (diffusion + 1e-300)).diffusion_share;
    const double flux = flow * w.ammonia_gas_kgN_m3[up] +
                        beside * (w.ammonia_gas_kgN_m3[a] - w.ammonia_gas_kgN_m3[b]);
    d_ammonium[a] -= flux;
    d_ammonium[b] += flux;
  }
  const double film_m_s = k.surface_film_scale * w.forcing.film_W_m2K /
                          (w.forcing.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
  double lost = 0.0;
  for (const std::size_t f : site.boundary) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double m = w.air_flow_kg_s[f];
    double conductance_m3_s = std::max(m, 0.0) / w.dry_air_density[a];
    if (mesh.kind[f] != FaceKind::ground) {
      const double open =
          mesh.kind[f] == FaceKind::surface ? w.surface.gas_share : w.wall.gas_share;
      const double inside = w.transmissibility_m[f] * d0 * w.relative_diffusivity[a];
      const double outside = film_m_s * mesh.area_m2(f, w.scale);
      conductance_m3_s += open * inside * outside / (inside + outside);
    }
    const double flux = conductance_m3_s * w.ammonia_gas_kgN_m3[a];
    d_ammonium[a] -= flux;
    lost += flux;
  }
  rates.total(Total::ammonia_nitrogen) += lost;
}

} // namespace heapcast::models
