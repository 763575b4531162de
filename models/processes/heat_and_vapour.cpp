#include "models/processes/heat_and_vapour.hpp"

#include "engine/exponential_fitting.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace heapcast::models {

using engine::FaceKind;

namespace {

using F = CellField;

constexpr double snow_resistance_m2K_W_per_kg = 1.0 / 30.0; ///< 200 kg/m3 at 0.15 W/m/K (memory)
constexpr double snow_sun_share = 0.3;                      ///< not reflected (memory)
constexpr double degree_day_melt_kg_m2Ks = 4.0 / 86400.0;   ///< 2-6 mm/K/d (memory)
constexpr double wet_skin_moisture = 0.6;                   ///< wet basis at which the skin is wet

double sensible_air(double temperature_K) {
  return heat_capacity_dry_air_J_kgK * (temperature_K - freezing_K);
}

/// Share of cell a in what the air that crosses to b carries of heat and vapour.
double share_of_a(const Workspace& w, std::size_t a, std::size_t b, double flow_kg_s,
                  double conduction_W_K, double vapour_diffusion_m3_s) {
  const double carried_W_K = std::abs(flow_kg_s) * (w.air_slope_J_kgK[a] + w.air_slope_J_kgK[b]);
  const double conducted_W_K =
      2.0 * conduction_W_K +
      vapour_diffusion_m3_s * (w.vapour_slope_J_m3K[a] + w.vapour_slope_J_m3K[b]);
  const double upstream = engine::ExponentialFitting(carried_W_K / conducted_W_K).upstream_share;
  return flow_kg_s > 0.0 ? upstream : 1.0 - upstream;
}

/// Heat that reaches the skin from the middle of a cell, per kelvin between them: by conduction,
/// and by air on its way out, which gives up what it holds more than at the skin.
double to_skin_W_K(const Workspace& w, std::size_t a, double inside_W_K, double flow_kg_s) {
  if (!(flow_kg_s > 0.0)) {
    return inside_W_K;
  }
  const double carried_W_K = flow_kg_s * w.air_slope_J_kgK[a];
  return inside_W_K * engine::ExponentialFitting(carried_W_K / inside_W_K).diffusion_share +
         carried_W_K;
}

struct FaceFlux {
  double heat_W;      ///< out of cell a
  double vapour_kg_s; ///< out of cell a
};

} // namespace

Shield surface_shield(const PileDescription& pile, const Cover& cover) {
  Shield s;
  switch (cover.kind) {
  case CoverKind::none:
    break;
  case CoverKind::tarp:
    s = {.resistance_m2K_W = 0.02, .rain_share = 0.0, .vapour_share = 0.05, .gas_share = 0.15};
    break;
  case CoverKind::breathable:
    s = {.resistance_m2K_W = 0.02, .rain_share = 0.1, .vapour_share = 0.7, .gas_share = 0.8};
    break;
  case CoverKind::blanket:
    s = {.resistance_m2K_W = cover.thickness_m / cover.conductivity_W_mK,
         .vapour_share = 0.6,
         .gas_share = 0.8};
    break;
  case CoverKind::roof:
    s = {.rain_share = 0.0, .sun_share = 0.1, .sky_share = 0.0};
    break;
  }
  if (pile.shape.kind == ShapeKind::bin && pile.walls.lid) {
    s.resistance_m2K_W += 0.15;
    s.rain_share = 0.0;
    s.sun_share *= 0.5;
    s.vapour_share *= 0.2;
    s.gas_share *= 0.1;
  }
  return s;
}

Shield wall_shield(const PileDescription& pile) {
  const double open = pile.walls.open_fraction;
  return {.open_share = open,
          .closed_resistance_m2K_W = 1.0 / std::max(pile.walls.conductance_W_m2K, 1e-6),
          .rain_share = 0.0,
          .vapour_share = open,
          .gas_share = open};
}

void heat_and_vapour(const PileSite& site, const StateView& /*state*/, Workspace& w,
                     const Rates& rates) {
  const engine::Mesh& mesh = site.mesh;
  const Coefficients& k = site.coefficients;
  const Forcing& out = w.forcing;
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_water = rates.field(F::water);
  const double d_vapour = k.vapour_enhancement * reference_diffusivity_m2_s(Gas::water);
  const double pressure = site.forcing.pressure_Pa();

  for (const std::size_t f : site.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double ka = w.conductivity_W_mK[a];
    const double kb = w.conductivity_W_mK[b];
    const double da = w.relative_diffusivity[a];
    const double db = w.relative_diffusivity[b];
    const double ta = w.temperature_K[a];
    const double tb = w.temperature_K[b];
    const double m = w.air_flow_kg_s[f];
    const double g = w.transmissibility_m[f];
    const double conduction = g * 2.0 * ka * kb / (ka + kb);
    const double diffusion = g * d_vapour * 2.0 * da * db / (da + db + 1e-300);
    const double share_a = share_of_a(w, a, b, m, conduction, diffusion);
    const double m_a = m * share_a;
    const double m_b = m * (1.0 - share_a);
    const double carried_a = m_a * w.humidity[a];
    const double carried_b = m_b * w.humidity[b];
    const double carried = carried_a + carried_b;
    const double diffused = diffusion * (w.vapour_density[a] - w.vapour_density[b]);
    const double heat = conduction * (ta - tb) + m_a * sensible_air(ta) + m_b * sensible_air(tb) +
                        carried_a * vapour_enthalpy_J_kg(ta) +
                        carried_b * vapour_enthalpy_J_kg(tb) +
                        diffused * vapour_enthalpy_J_kg(diffused > 0.0 ? ta : tb);
    const double vapour = carried + diffused;
    d_enthalpy[a] -= heat;
    d_enthalpy[b] += heat;
    d_water[a] -= vapour;
    d_water[b] += vapour;
  }

  const double snow_kg_m2 = std::max(w.snow_kg_m2, 0.0);
  const double snowed = snow_kg_m2 / (snow_kg_m2 + 1.0);
  const double film = k.surface_film_scale * out.film_W_m2K;
  const double film_m_s = film / (out.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
  const double plan =
      site.mesh.plan_area_total_m2 * w.scale.plan * (mesh.round ? w.scale.plan : 1.0);
  double heat_lost = 0.0;
  double evaporation = 0.0;
  double rain_in = 0.0;
  double heat_to_snow = 0.0;

  // Meltwater and rain, per plan area.
  double melt_kg_m2_s =
      degree_day_melt_kg_m2Ks * std::max(out.air_temperature_K - freezing_K, 0.0) * snowed;

  for (const std::size_t f : site.boundary) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double ta = w.temperature_K[a];
    const double area = mesh.area_m2(f, w.scale);
    const double inside = w.transmissibility_m[f] * w.conductivity_W_mK[a];
    const double m = w.air_flow_kg_s[f];
    FaceFlux flux{0.0, 0.0};
    double leaving_K = ta;
    double leaving_humidity = w.humidity[a];
    if (mesh.kind[f] == FaceKind::ground) {
      const double ground = k.ground_conductance_W_m2K * site.pile->ground_conductance_scale * area;
      flux.heat_W = inside * ground / (inside + ground) * (ta - out.soil_temperature_K);
    } else {
      const bool top = mesh.kind[f] == FaceKind::surface;
      const Shield& s = top ? w.surface : w.wall;
      const double covered = top ? snowed : 0.0;
      const double radiative = k.emissivity * out.radiative_W_m2K;
      const double h = film + radiative;
      const double upward = 0.5 + 0.5 * std::max(mesh.area_z_m2[f], 0.0) * w.scale.plan *
                                      (mesh.round ? w.scale.plan : 1.0) / area;
      const double sun = k.solar_absorptance * out.solar_W_m2 * s.sun_share *
                         std::min(upward, 1.0) * (1.0 - covered * (1.0 - snow_sun_share));
      const double sol_air =
          out.air_temperature_K + (sun + s.sky_share * radiative * std::min(upward, 1.0) *
                                             (out.sky_temperature_K - out.air_temperature_K)) /
                                      h;
      const double resistance =
          s.resistance_m2K_W + (top ? snow_resistance_m2K_W_per_kg * snow_kg_m2 : 0.0);
      const double open = 1.0 / (1.0 / h + resistance);
      const double closed = 1.0 / (1.0 / h + resistance + s.closed_resistance_m2K_W);
      const double outer = area * (s.open_share * open + (1.0 - s.open_share) * closed);
      const double to_skin = to_skin_W_K(w, a, inside, m);
      const double conducted = to_skin * outer / (to_skin + outer) * (ta - sol_air);
      const double skin_K = ta - conducted / to_skin;

      // Evaporation from the skin: the crust and the film in series.
      const double wetness = std::min(w.moisture[a] / wet_skin_moisture, 1.0);
      const double crust = k.surface_vapour_m_s * wetness * wetness;
      const double vapour_m_s =
          s.vapour_share * crust * film_m_s / (crust + film_m_s) * (1.0 - 0.9 * covered);
      const double skin_vapour_Pa = w.vapour_density[a] * gas_constant_vapour_J_kgK * ta *
                                    saturation_pressure_Pa(skin_K) / saturation_pressure_Pa(ta);
      const double skin_vapour = skin_vapour_Pa / (gas_constant_vapour_J_kgK * skin_K);
      const double evaporated = area * vapour_m_s * (skin_vapour - out.vapour_density_kg_m3);
      if (m > 0.0) {
        // The vapour that the air gives up on its way to the skin stays in the cell.
        leaving_K = skin_K;
        leaving_humidity = humidity_ratio({.temperature_K = skin_K,
                                           .vapour_pressure_Pa = skin_vapour_Pa,
                                           .pressure_Pa = pressure});
      }
      flux.vapour_kg_s = evaporated;
      flux.heat_W = conducted + evaporated * vapour_enthalpy_J_kg(
                                                 evaporated > 0.0 ? skin_K : out.air_temperature_K);
      if (top && conducted > 0.0) {
        heat_to_snow += covered * conducted * (skin_K > freezing_K ? 1.0 : 0.0);
      }
    }
    // Air that passes the boundary takes or brings its heat and moisture.
    const double humidity = m > 0.0 ? leaving_humidity : out.humidity_ratio;
    const double air_K = m > 0.0 ? leaving_K : out.air_temperature_K;
    flux.vapour_kg_s += m * humidity;
    flux.heat_W += m * (sensible_air(air_K) + humidity * vapour_enthalpy_J_kg(air_K));
    d_enthalpy[a] -= flux.heat_W;
    d_water[a] -= flux.vapour_kg_s;
    heat_lost += flux.heat_W;
    evaporation += flux.vapour_kg_s;
  }

  melt_kg_m2_s += heat_to_snow / (heat_of_fusion_J_kg * std::max(plan, 1e-9));
  const double rain_heat_J_kg =
      heat_capacity_water_J_kgK * std::max(out.air_temperature_K - freezing_K, 0.0);
  const double soaks = site.rain_share;
  const double rain = soaks * w.surface.rain_share * out.rain_kg_m2_s;
  const double melt = soaks * melt_kg_m2_s;
  if (rain > 0.0 || melt > 0.0) {
    for (const std::size_t f : site.boundary) {
      const double plan_area = mesh.plan_area_m2_at(f, w.scale);
      if (plan_area > 0.0) {
        const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
        d_water[a] += (rain + melt) * plan_area;
        d_enthalpy[a] += rain * plan_area * rain_heat_J_kg; // meltwater arrives at 0 degC
        rain_in += (rain + melt) * plan_area;
        heat_lost -= rain * plan_area * rain_heat_J_kg;
      }
    }
  }
  rates.total(Total::heat_lost) += heat_lost;
  rates.total(Total::evaporation) += evaporation;
  rates.total(Total::rain) += rain_in;
  rates.total(Total::snow) += w.surface.rain_share * out.snow_kg_m2_s * plan - melt_kg_m2_s * plan;
}

void heat_linearisation(const PileSite& site, const Workspace& w, engine::StiffBlock& block) {
  const engine::Mesh& mesh = site.mesh;
  const Coefficients& k = site.coefficients;
  const double d_vapour = k.vapour_enhancement * reference_diffusivity_m2_s(Gas::water);
  const std::size_t n = mesh.cells();
  std::vector<double> kelvin(n); // per joule
  for (std::size_t i = 0; i < n; ++i) {
    const double t = w.temperature_K[i];
    const HeatCapacities c =
        heat_capacities_J_K({.dry_mass_kg = w.dry_kg[i],
                             .water_mass_kg = w.dry_kg[i] * w.moisture[i] / (1.0 - w.moisture[i]),
                             .solids_heat_capacity_J_kgK = k.solids_heat_capacity_J_kgK});
    kelvin[i] = 1.0 / (t >= freezing_K ? c.thawed : c.frozen);
  }
  std::fill(block.diagonal.begin(), block.diagonal.end(), 0.0);
  for (const std::size_t f : site.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double ka = w.conductivity_W_mK[a];
    const double kb = w.conductivity_W_mK[b];
    const double da = w.relative_diffusivity[a];
    const double db = w.relative_diffusivity[b];
    const double g = w.transmissibility_m[f];
    const double conduction = g * 2.0 * ka * kb / (ka + kb);
    const double diffusion = g * d_vapour * 2.0 * da * db / (da + db + 1e-300);
    const double m = w.air_flow_kg_s[f];
    const double share_a = share_of_a(w, a, b, m, conduction, diffusion);
    const double a_to_b = kelvin[a] * (conduction + diffusion * w.vapour_slope_J_m3K[a] +
                                       m * share_a * w.air_slope_J_kgK[a]);
    const double b_to_a = kelvin[b] * (conduction + diffusion * w.vapour_slope_J_m3K[b] -
                                       m * (1.0 - share_a) * w.air_slope_J_kgK[b]);
    block.diagonal[a] -= a_to_b;
    block.from_a[f] = a_to_b;
    block.diagonal[b] -= b_to_a;
    block.from_b[f] = b_to_a;
  }
  const double film =
      k.surface_film_scale * w.forcing.film_W_m2K + k.emissivity * w.forcing.radiative_W_m2K;
  for (const std::size_t f : site.boundary) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double inside = w.transmissibility_m[f] * w.conductivity_W_mK[a];
    const bool ground = mesh.kind[f] == FaceKind::ground;
    const double outside = (ground ? k.ground_conductance_W_m2K : film) * mesh.area_m2(f, w.scale);
    const double flow = w.air_flow_kg_s[f];
    const double to_skin = ground ? inside : to_skin_W_K(w, a, inside, flow);
    const double skin_share = ground ? 1.0 : to_skin / (to_skin + outside);
    block.diagonal[a] -= kelvin[a] * (to_skin * outside / (to_skin + outside) +
                                      std::max(flow, 0.0) * skin_share * w.air_slope_J_kgK[a]);
  }
}

void drainage(const PileSite& site, const StateView& state, Workspace& w, const Rates& rates) {
  const engine::Mesh& mesh = site.mesh;
  const Coefficients& k = site.coefficients;
  const double* water = state.field(F::water);
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* free_share = state.field(F::free_ammonia);
  double* d_water = rates.field(F::water);
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_ammonium = rates.field(F::ammonium_nitrogen);
  double* d_nitrate = rates.field(F::nitrate_nitrogen);
  bool any = false;
  for (std::size_t i = 0; i < mesh.cells(); ++i) {
    const double held = w.water_ratio[i] > 0.0 ? water[i] / w.water_ratio[i] : water[i];
    const double free_kg = std::min(water[i] - held, w.liquid_kg[i]);
    w.drained_kg_s[i] = free_kg > 0.0 ? free_kg / k.drainage_time_s : 0.0;
    any = any || free_kg > 0.0;
  }
  if (!any) {
    return;
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (site.drain_from[f] < 0) {
      continue;
    }
    const auto from = static_cast<std::size_t>(site.drain_from[f]);
    const double drained = site.drain_share[f] * w.drained_kg_s[from];
    if (drained == 0.0) {
      continue;
    }
    const double share = drained / w.liquid_kg[from];
    const double heat = drained * heat_capacity_water_J_kgK * (w.temperature_K[from] - freezing_K);
    const double tan =
        share * std::min(1.0, free_share[from] * k.free_ammonia_scale) * ammonium[from];
    const double no3 = share * nitrate[from];
    d_water[from] -= drained;
    d_enthalpy[from] -= heat;
    d_ammonium[from] -= tan;
    d_nitrate[from] -= no3;
    if (mesh.cell_b[f] >= 0) {
      const auto to = from == static_cast<std::size_t>(mesh.cell_a[f])
                          ? static_cast<std::size_t>(mesh.cell_b[f])
                          : static_cast<std::size_t>(mesh.cell_a[f]);
      d_water[to] += drained;
      d_enthalpy[to] += heat;
      d_ammonium[to] += tan;
      d_nitrate[to] += no3;
    } else {
      rates.total(Total::leachate) += drained;
      rates.total(Total::leachate_nitrogen) += tan + no3;
      rates.total(Total::heat_lost) += heat;
    }
  }
}

} // namespace heapcast::models
