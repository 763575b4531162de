#include "models/processes/heat_and_vapour.hpp"

#include "engine/exponential_fitting.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/heat.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace heapcast::models {

using engine::each_entry;
using engine::each_lane;
using engine::FaceKind;

namespace {

using F = CellField;

constexpr double snow_resistance_m2K_W_per_kg = 1.0 / 30.0; ///< 200 kg/m3 at 0.15 W/m/K (memory)
constexpr double snow_sun_share = 0.3;                      ///< not reflected (memory)
constexpr double degree_day_melt_kg_m2Ks = 4.0 / 86400.0;   ///< 2-6 mm/K/d (memory)
constexpr double wet_skin_moisture = 0.6;                   ///< wet basis at which the skin is wet

HEAPCAST_INLINE inline double sensible_air(double temperature_K) {
  return heat_capacity_dry_air_J_kgK * (temperature_K - freezing_K);
}

/// Share of cell a in what the air that crosses to b carries of heat and vapour.
template <int lanes>
HEAPCAST_INLINE inline double share_of_a(const LaneWorkspace<lanes>& w, std::size_t a,
                                         std::size_t b, double flow_kg_s, double conduction_W_K,
                                         double vapour_diffusion_m3_s) {
  const double carried_W_K = std::abs(flow_kg_s) * (w.air_slope_J_kgK[a] + w.air_slope_J_kgK[b]);
  const double conducted_W_K =
      2.0 * conduction_W_K +
      vapour_diffusion_m3_s * (w.vapour_slope_J_m3K[a] + w.vapour_slope_J_m3K[b]);
  const double upstream = engine::ExponentialFitting(carried_W_K / conducted_W_K).upstream_share;
  return flow_kg_s > 0.0 ? upstream : 1.0 - upstream;
}

/// Heat that reaches the skin from the middle of a cell, per kelvin between them: by conduction,
/// and by air on its way out, which gives up what it holds more than at the skin.
HEAPCAST_INLINE inline double to_skin_W_K(double air_slope_J_kgK, double inside_W_K,
                                          double flow_kg_s) {
  const double carried_W_K = std::max(flow_kg_s, 0.0) * air_slope_J_kgK;
  return inside_W_K * engine::ExponentialFitting(carried_W_K / inside_W_K).diffusion_share +
         carried_W_K;
}

/// Vapour at the skin.
struct SkinVapour {
  double pressure_Pa, density_kg_m3, latent_J_kg;
  double slope; ///< d density / d temperature [kg/m3/K]
};

/// Conduction and vapour diffusion between two cells.
struct Conductances {
  double heat_W_K;
  double vapour_m3_s;
};
template <int lanes>
HEAPCAST_INLINE inline Conductances conductances(const LaneSite<lanes>& site,
                                                 const LaneWorkspace<lanes>& w, std::size_t f,
                                                 std::size_t a, std::size_t b, int l) {
  const double ka = w.conductivity_W_mK[a];
  const double kb = w.conductivity_W_mK[b];
  const double da = w.relative_diffusivity[a];
  const double db = w.relative_diffusivity[b];
  const double g = w.transmissibility_m[f];
  constexpr double d0 = reference_diffusivity_m2_s(Gas::water);
  return {g * 2.0 * ka * kb / (ka + kb),
          g * site.coefficients.vapour_enhancement[l] * d0 * 2.0 * da * db / (da + db + 1e-300)};
}

template <int lanes>
HEAPCAST_INLINE inline void between_cells(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w,
                                          double* d_enthalpy, double* d_water) {
  each_inner_face<lanes>(
      site, [&](std::size_t f, std::size_t a, std::size_t b, int l) HEAPCAST_INLINE {
        const double ta = w.temperature_K[a];
        const double tb = w.temperature_K[b];
        const double m = w.air_flow_kg_s[f];
        const Conductances c = conductances<lanes>(site, w, f, a, b, l);
        const double share_a = share_of_a<lanes>(w, a, b, m, c.heat_W_K, c.vapour_m3_s);
        const double m_a = m * share_a;
        const double m_b = m * (1.0 - share_a);
        const double carried_a = m_a * w.humidity[a];
        const double carried_b = m_b * w.humidity[b];
        const double diffused = c.vapour_m3_s * (w.vapour_density[a] - w.vapour_density[b]);
        w.face_scratch[0][f] = c.heat_W_K * (ta - tb) + m_a * sensible_air(ta) +
                               m_b * sensible_air(tb) + carried_a * vapour_enthalpy_J_kg(ta) +
                               carried_b * vapour_enthalpy_J_kg(tb) +
                               diffused * vapour_enthalpy_J_kg(diffused > 0.0 ? ta : tb);
        w.face_scratch[1][f] = carried_a + carried_b + diffused;
      });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         const double heat = w.face_scratch[0][f];
                                         const double vapour = w.face_scratch[1][f];
                                         d_enthalpy[a] -= heat;
                                         d_enthalpy[b] += heat;
                                         d_water[a] -= vapour;
                                         d_water[b] += vapour;
                                       });
}

/// Plan area of the pile as it has shrunk over that of its mesh.
template <int lanes>
double plan_share(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w, int l) {
  const double plan = in_lane(w.scale, l).plan;
  return plan * (site.round ? plan : 1.0);
}

/// By face of the boundary: what flows outwards, and what of it changes with the temperature
/// inside.
struct BoundaryFluxes {
  double *heat_W, *vapour_kg_s;
  double *slope_W_K, *latent_slope_W_K, *snow_W; ///< nullptr: not asked for
};

/// Of every face on the ground in this weather.
template <int lanes, bool with_slopes>
HEAPCAST_INLINE inline void
ground_fluxes(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
              const PerLane<Forcing, lanes>& weather, const BoundaryFluxes& out_of) {
  double ground_W_m2K[lanes];
  double soil_K[lanes];
  double outer_K[lanes];
  double outer_humidity[lanes];
  for (int l = 0; l < lanes; ++l) {
    const Forcing& out = in_lane(weather, l);
    ground_W_m2K[l] = site.coefficients.ground_conductance_W_m2K[l] * in_lane(site.ground_scale, l);
    soil_K[l] = out.soil_temperature_K;
    outer_K[l] = out.air_temperature_K;
    outer_humidity[l] = out.humidity_ratio;
  }
  each_outer_face<lanes>(
      site, site.ground, [&](std::size_t f, std::size_t a, int l) HEAPCAST_INLINE {
        const double ta = w.temperature_K[a];
        const double inside = w.transmissibility_m[f] * w.conductivity_W_mK[a];
        const double ground = ground_W_m2K[l] * w.face_area_m2[f];
        const double conductance = inside * ground / (inside + ground);
        const double m = w.air_flow_kg_s[f];
        const double inner_humidity = w.humidity[a];
        const double humidity = m > 0.0 ? inner_humidity : outer_humidity[l];
        const double air_K = m > 0.0 ? ta : outer_K[l];
        out_of.vapour_kg_s[f] = m * humidity;
        out_of.heat_W[f] = conductance * (ta - soil_K[l]) +
                           m * (sensible_air(air_K) + humidity * vapour_enthalpy_J_kg(air_K));
        if constexpr (with_slopes) {
          const double out_kg_s = std::max(m, 0.0);
          out_of.slope_W_K[f] = conductance + out_kg_s * w.air_slope_J_kgK[a];
          out_of.latent_slope_W_K[f] =
              out_kg_s * (w.air_slope_J_kgK[a] - heat_capacity_dry_air_J_kgK);
        }
      });
}

/// What the faces of one kind meet outside, by lane: covers, snow and weather in a few numbers.
template <int lanes> struct OuterAir {
  double air_K[lanes], humidity[lanes], vapour_kg_m3[lanes], pressure_Pa[lanes];
  double radiation_K[lanes];       ///< that sun and sky warm the air by, as an upward face sees it
  double conductance_W_m2K[lanes]; ///< from the skin, through the cover
  double film_m_s[lanes];          ///< for vapour
  double crust_m_s[lanes];         ///< of a wet skin
  double vapour_share[lanes];      ///< that cover and snow let through
  double covered[lanes];           ///< share under snow
  double plan_share[lanes];        ///< see plan_share()

  HEAPCAST_INLINE OuterAir(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                           const PerLane<Forcing, lanes>& weather, bool top) {
    for (int l = 0; l < lanes; ++l) {
      const Forcing& out = in_lane(weather, l);
      const Shield& s = top ? in_lane(w.surface, l) : in_lane(w.wall, l);
      const double snow_kg_m2 = top ? std::max(in_lane(w.snow_kg_m2, l), 0.0) : 0.0;
      const double film = site.coefficients.surface_film_scale[l] * out.film_W_m2K;
      const double radiative = site.coefficients.emissivity[l] * out.radiative_W_m2K;
      const double h = film + radiative;
      covered[l] = snow_kg_m2 / (snow_kg_m2 + 1.0);
      const double sun = site.coefficients.solar_absorptance[l] * out.solar_W_m2 * s.sun_share *
                         (1.0 - covered[l] * (1.0 - snow_sun_share));
      const double sky = s.sky_share * radiative * (out.sky_temperature_K - out.air_temperature_K);
      const double resistance = s.resistance_m2K_W + snow_resistance_m2K_W_per_kg * snow_kg_m2;
      const double open = 1.0 / (1.0 / h + resistance);
      const double closed = 1.0 / (1.0 / h + resistance + s.closed_resistance_m2K_W);
      air_K[l] = out.air_temperature_K;
      humidity[l] = out.humidity_ratio;
      vapour_kg_m3[l] = out.vapour_density_kg_m3;
      pressure_Pa[l] = in_lane(site.pressure_Pa, l);
      radiation_K[l] = (sun + sky) / h;
      conductance_W_m2K[l] = s.open_share * open + (1.0 - s.open_share) * closed;
      film_m_s[l] = film / (out.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
      crust_m_s[l] = site.coefficients.surface_vapour_m_s[l];
      vapour_share[l] = s.vapour_share * (1.0 - 0.9 * covered[l]);
      plan_share[l] = models::plan_share(site, w, l);
    }
  }
};

/// Of every face of one kind that meets the air, in this weather.
template <int lanes, FaceKind kind, bool with_slopes>
HEAPCAST_INLINE inline void air_fluxes(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                                       const PerLane<Forcing, lanes>& weather,
                                       const BoundaryFluxes& out_of) {
  constexpr bool top = kind == FaceKind::surface;
  const OuterAir<lanes> air(site, w, weather, top);
  each_outer_face<lanes>(
      site, top ? site.surface : site.wall,
      [&](std::size_t f, std::size_t a, int l) HEAPCAST_INLINE {
        const double ta = w.temperature_K[a];
        const double area = w.face_area_m2[f];
        const double inside = w.transmissibility_m[f] * w.conductivity_W_mK[a];
        const double m = w.air_flow_kg_s[f];
        const double air_slope = w.air_slope_J_kgK[a];
        const double upward =
            std::min(0.5 + 0.5 * std::max(site.area_z_m2[f], 0.0) * air.plan_share[l] / area, 1.0);
        const double sol_air = air.air_K[l] + upward * air.radiation_K[l];
        const double outer = area * air.conductance_W_m2K[l];
        const double to_skin = to_skin_W_K(air_slope, inside, m);

        // Evaporation from the skin: the crust and the film in series.
        const double wetness = std::min(w.moisture[a] / wet_skin_moisture, 1.0);
        const double crust = air.crust_m_s[l] * wetness * wetness;
        const double film = air.film_m_s[l];
        const double vapour_m3_s = area * air.vapour_share[l] * crust * film / (crust + film);
        const double vapour_J_m3 = w.vapour_density[a] * gas_constant_vapour_J_kgK * ta;
        const double log_saturation = log_saturation_pressure(ta);
        const auto skin_at = [&](double temperature_K) HEAPCAST_INLINE {
          const double pressure_Pa =
              vapour_J_m3 * std::exp(log_saturation_pressure(temperature_K) - log_saturation);
          const double density = pressure_Pa / (gas_constant_vapour_J_kgK * temperature_K);
          const double latent = latent_heat_J_kg(temperature_K);
          const double clausius_1_K =
              latent / (gas_constant_vapour_J_kgK * temperature_K * temperature_K);
          return SkinVapour{pressure_Pa, density, latent,
                            density * (clausius_1_K - 1.0 / temperature_K)};
        };
        // Newton's method on the skin's balance, from the skin that does not evaporate: what comes
        // from inside is what goes out and what evaporates. The steps come down to the root from
        // above; with four of them instead of two the water of a pile of one cell differs by
        // 0.002 % of its range.
        const auto closer = [&](double trial_K) HEAPCAST_INLINE {
          const SkinVapour skin = skin_at(trial_K);
          const double unbalanced =
              to_skin * (trial_K - ta) + outer * (trial_K - sol_air) +
              skin.latent_J_kg * vapour_m3_s * (skin.density_kg_m3 - air.vapour_kg_m3[l]);
          return trial_K -
                 unbalanced / (to_skin + outer + skin.latent_J_kg * vapour_m3_s * skin.slope);
        };
        const double skin_K = closer(closer((to_skin * ta + outer * sol_air) / (to_skin + outer)));
        const SkinVapour skin = skin_at(skin_K);
        const double conducted = outer * (skin_K - sol_air);
        const double evaporated = vapour_m3_s * (skin.density_kg_m3 - air.vapour_kg_m3[l]);
        // The vapour that leaving air gives up on its way to the skin stays in the cell.
        const double skin_humidity = humidity_ratio({.temperature_K = skin_K,
                                                     .vapour_pressure_Pa = skin.pressure_Pa,
                                                     .pressure_Pa = air.pressure_Pa[l]});
        const double humidity = m > 0.0 ? skin_humidity : air.humidity[l];
        const double air_K = m > 0.0 ? skin_K : air.air_K[l];
        const double vapour_K = evaporated > 0.0 ? skin_K : air.air_K[l];
        out_of.vapour_kg_s[f] = evaporated + m * humidity;
        out_of.heat_W[f] = conducted + evaporated * vapour_enthalpy_J_kg(vapour_K) +
                           m * (sensible_air(air_K) + humidity * vapour_enthalpy_J_kg(air_K));
        if constexpr (with_slopes) {
          const double warms_snow_W = skin_K > freezing_K ? std::max(conducted, 0.0) : 0.0;
          out_of.snow_W[f] = air.covered[l] * warms_snow_W;
          const double latent_W_K = skin.latent_J_kg * vapour_m3_s * skin.slope;
          const double skin_share = to_skin / (to_skin + outer + latent_W_K);
          const double out_kg_s = std::max(m, 0.0);
          out_of.slope_W_K[f] = skin_share * (outer + latent_W_K + out_kg_s * air_slope);
          out_of.latent_slope_W_K[f] =
              skin_share * (latent_W_K + out_kg_s * (air_slope - heat_capacity_dry_air_J_kgK));
        }
      });
}

/// Of every face of the boundary.
template <int lanes, bool with_slopes>
HEAPCAST_INLINE inline void
boundary_fluxes(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                const PerLane<Forcing, lanes>& weather, const BoundaryFluxes& out_of) {
  ground_fluxes<lanes, with_slopes>(site, w, weather, out_of);
  air_fluxes<lanes, FaceKind::wall, with_slopes>(site, w, weather, out_of);
  air_fluxes<lanes, FaceKind::surface, with_slopes>(site, w, weather, out_of);
}

/// Adds what flows through the boundary to the rates.
template <int lanes>
HEAPCAST_INLINE inline void add_boundary(const LaneSite<lanes>& site, const double* heat_W,
                                         const double* vapour_kg_s, const LaneRates<lanes>& rates) {
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_water = rates.field(F::water);
  double* heat_lost = rates.totals(Total::heat_lost);
  double* evaporation = rates.totals(Total::evaporation);
  for (const int face : site.boundary) {
    const auto cell = static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]);
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + l;
      const std::size_t a = cell * lanes + l;
      d_enthalpy[a] -= heat_W[f];
      d_water[a] -= vapour_kg_s[f];
      heat_lost[l] += heat_W[f];
      evaporation[l] += vapour_kg_s[f];
    });
  }
}

template <int lanes>
HEAPCAST_INLINE inline void through_boundary(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w,
                                             const LaneRates<lanes>& rates, double* heat_to_snow) {
  boundary_fluxes<lanes, true>(site, w, w.forcing,
                               {w.boundary_heat_W.data(), w.boundary_vapour_kg_s.data(),
                                w.boundary_slope_W_K.data(), w.boundary_latent_slope_W_K.data(),
                                w.boundary_snow_W.data()});
  for (const int face : site.surface) {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      heat_to_snow[l] += w.boundary_snow_W[static_cast<std::size_t>(face) * lanes + l];
    });
  }
  add_boundary<lanes>(site, w.boundary_heat_W.data(), w.boundary_vapour_kg_s.data(), rates);
}

template <int lanes>
HEAPCAST_INLINE inline void
drive(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w, const PerLane<Forcing, lanes>& half_way,
      const PerLane<Forcing, lanes>& at_end, const PerLane<double, lanes>& per_s,
      const LaneRates<lanes>& slopes, const LaneRates<lanes>& bends) {
  double* heat_at_end = w.face_scratch[0].data();
  double* vapour_at_end = w.face_scratch[1].data();
  double* heat_half_way = w.face_scratch[2].data();
  double* vapour_half_way = w.face_scratch[3].data();
  boundary_fluxes<lanes, false>(site, w, half_way, {heat_half_way, vapour_half_way, {}, {}, {}});
  boundary_fluxes<lanes, false>(site, w, at_end, {heat_at_end, vapour_at_end, {}, {}, {}});
  // The parabola takes the place of the flows: its slope that at the end, its bend that half way.
  const auto fit = [](double now, double rate_1_s, double& half, double& end) HEAPCAST_INLINE {
    const double slope = rate_1_s * (end - now);
    half = rate_1_s * rate_1_s * (2.0 * (now + end) - 4.0 * half);
    end = slope;
  };
  for (const int face : site.boundary) {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + l;
      fit(w.boundary_heat_W[f], in_lane(per_s, l), heat_half_way[f], heat_at_end[f]);
      fit(w.boundary_vapour_kg_s[f], in_lane(per_s, l), vapour_half_way[f], vapour_at_end[f]);
    });
  }
  add_boundary<lanes>(site, heat_at_end, vapour_at_end, slopes);
  add_boundary<lanes>(site, heat_half_way, vapour_half_way, bends);
}

/// Adds water that soaks in from above [kg/m2/s of plan] and its heat.
template <int lanes>
void soak(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w, int l, double rain_kg_m2_s,
          double melt_kg_m2_s, const LaneRates<lanes>& rates) {
  if (rain_kg_m2_s == 0.0 && melt_kg_m2_s == 0.0) {
    return;
  }
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_water = rates.field(F::water);
  const double share = plan_share(site, w, l);
  const double rain_heat_J_kg = heat_capacity_water_J_kgK *
                                std::max(in_lane(w.forcing, l).air_temperature_K - freezing_K, 0.0);
  for (const int face : site.boundary) {
    const double plan_area = site.plan_area_m2[static_cast<std::size_t>(face) * lanes + l] * share;
    const std::size_t a =
        static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]) * lanes + l;
    const double water = (rain_kg_m2_s + melt_kg_m2_s) * plan_area;
    const double heat = rain_kg_m2_s * plan_area * rain_heat_J_kg; // meltwater is at 0 degC
    d_water[a] += water;
    d_enthalpy[a] += heat;
    rates.totals(Total::rain)[l] += water;
    rates.totals(Total::heat_lost)[l] -= heat;
  }
}

/// Adds what falls on one lane: rain soaks in, snow lies.
template <int lanes>
void fall(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w, int l,
          const Precipitation& falls, const LaneRates<lanes>& rates) {
  const double let_through = in_lane(w.surface, l).rain_share;
  const double plan = in_lane(site.plan_area_total_m2, l) * plan_share(site, w, l);
  soak(site, w, l, in_lane(site.site, l)->rain_share * let_through * falls.rain_kg_m2_s, 0.0,
       rates);
  rates.totals(Total::snow)[l] += let_through * falls.snow_kg_m2_s * plan;
}

/// Rain and snow: what soaks in, melts and lies.
template <int lanes>
void rain_and_snow(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                   const double* heat_to_snow, const LaneRates<lanes>& rates) {
  for (int l = 0; l < lanes; ++l) {
    const Forcing& out = in_lane(w.forcing, l);
    const double plan = in_lane(site.plan_area_total_m2, l) * plan_share(site, w, l);
    const double snow_kg_m2 = std::max(in_lane(w.snow_kg_m2, l), 0.0);
    const double snowed = snow_kg_m2 / (snow_kg_m2 + 1.0);
    const double melt_kg_m2_s =
        degree_day_melt_kg_m2Ks * std::max(out.air_temperature_K - freezing_K, 0.0) * snowed +
        heat_to_snow[l] / (heat_of_fusion_J_kg * std::max(plan, 1e-9));
    rates.totals(Total::snow)[l] -= melt_kg_m2_s * plan;
    soak(site, w, l, 0.0, in_lane(site.site, l)->rain_share * melt_kg_m2_s, rates);
    fall(site, w, l, {.rain_kg_m2_s = out.rain_kg_m2_s, .snow_kg_m2_s = out.snow_kg_m2_s}, rates);
  }
}

/// The derivatives, with those of the water that moves with the heat when it `follows`.
template <int lanes, bool follows>
HEAPCAST_INLINE inline void linearise(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w,
                                      engine::StiffBlock& block) {
  engine::NeighbourMatrix& heat = block.level;
  engine::NeighbourMatrix& water = block.follower;
  std::vector<double>& kelvin = w.cell_scratch[0];     // per joule
  std::vector<double>& evaporated = w.cell_scratch[1]; // the same over the latent heat, K kg/J^2
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double t = w.temperature_K[i];
    const HeatCapacities c = heat_capacities_J_K(
        {.dry_mass_kg = w.dry_kg[i],
         .water_mass_kg = w.dry_kg[i] * w.moisture[i] / (1.0 - w.moisture[i]),
         .solids_heat_capacity_J_kgK = site.coefficients.solids_heat_capacity_J_kgK[l]});
    kelvin[i] = 1.0 / (t >= freezing_K ? c.thawed : c.frozen);
    heat.diagonal[i] = 0.0;
    if constexpr (follows) {
      evaporated[i] = kelvin[i] / latent_heat_J_kg(t);
      water.diagonal[i] = 0.0;
      block.weight[i] = -water_enthalpy_J_kg(t);
    }
  });
  each_inner_face<lanes>(
      site, [&](std::size_t f, std::size_t a, std::size_t b, int l) HEAPCAST_INLINE {
        const double m = w.air_flow_kg_s[f];
        const Conductances c = conductances<lanes>(site, w, f, a, b, l);
        const double share_a = share_of_a<lanes>(w, a, b, m, c.heat_W_K, c.vapour_m3_s);
        const double m_a = m * share_a;
        const double m_b = m * (1.0 - share_a);
        heat.from_a[f] = kelvin[a] * (c.heat_W_K + c.vapour_m3_s * w.vapour_slope_J_m3K[a] +
                                      m_a * w.air_slope_J_kgK[a]);
        heat.from_b[f] = kelvin[b] * (c.heat_W_K + c.vapour_m3_s * w.vapour_slope_J_m3K[b] -
                                      m_b * w.air_slope_J_kgK[b]);
        if constexpr (follows) {
          water.from_a[f] =
              evaporated[a] * (c.vapour_m3_s * w.vapour_slope_J_m3K[a] +
                               m_a * (w.air_slope_J_kgK[a] - heat_capacity_dry_air_J_kgK));
          water.from_b[f] =
              evaporated[b] * (c.vapour_m3_s * w.vapour_slope_J_m3K[b] -
                               m_b * (w.air_slope_J_kgK[b] - heat_capacity_dry_air_J_kgK));
        }
      });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         heat.diagonal[a] -= heat.from_a[f];
                                         heat.diagonal[b] -= heat.from_b[f];
                                         if constexpr (follows) {
                                           water.diagonal[a] -= water.from_a[f];
                                           water.diagonal[b] -= water.from_b[f];
                                         }
                                       });
  for (const int face : site.boundary) {
    const auto cell = static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]);
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + static_cast<std::size_t>(l);
      const std::size_t a = cell * lanes + static_cast<std::size_t>(l);
      heat.diagonal[a] -= kelvin[a] * w.boundary_slope_W_K[f];
      if constexpr (follows) {
        water.diagonal[a] -= evaporated[a] * w.boundary_latent_slope_W_K[f];
      }
    });
  }
}

/// Water of every cell that drains [kg/s].
template <int lanes>
HEAPCAST_INLINE inline void drain_cells(const LaneSite<lanes>& site,
                                        const LaneStateView<lanes>& state,
                                        LaneWorkspace<lanes>& w) {
  const double* water = state.field(F::water);
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double held = w.water_ratio[i] > 0.0 ? water[i] / w.water_ratio[i] : water[i];
    const double free_kg = std::min(water[i] - held, w.liquid_kg[i]);
    w.drained_kg_s[i] = free_kg > 0.0 ? free_kg / site.coefficients.drainage_time_s[l] : 0.0;
  });
}

template <int lanes>
void drain(const LaneSite<lanes>& site, const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w,
           const LaneRates<lanes>& rates) {
  const double* ammonium = state.field(F::ammonium_nitrogen);
  const double* nitrate = state.field(F::nitrate_nitrogen);
  const double* free_share = state.field(F::free_ammonia);
  double* d_water = rates.field(F::water);
  double* d_enthalpy = rates.field(F::enthalpy);
  double* d_ammonium = rates.field(F::ammonium_nitrogen);
  double* d_nitrate = rates.field(F::nitrate_nitrogen);
  const auto drains = [](double kg_s) { return kg_s != 0.0; };
  if (std::ranges::none_of(w.drained_kg_s, drains)) {
    return;
  }
  for (std::size_t face = 0; face < site.faces(); ++face) {
    if (site.drain_from[face] < 0) {
      continue;
    }
    const int below =
        site.drain_from[face] == site.cell_a[face] ? site.cell_b[face] : site.cell_a[face];
    for (int l = 0; l < lanes; ++l) {
      const std::size_t from = static_cast<std::size_t>(site.drain_from[face]) * lanes + l;
      const double drained = site.drain_share[face * lanes + l] * w.drained_kg_s[from];
      if (drained == 0.0) {
        continue;
      }
      const double share = drained / w.liquid_kg[from];
      const double heat =
          drained * heat_capacity_water_J_kgK * (w.temperature_K[from] - freezing_K);
      const double tan = share *
                         std::min(1.0, free_share[from] * site.coefficients.free_ammonia_scale[l]) *
                         ammonium[from];
      const double no3 = share * nitrate[from];
      d_water[from] -= drained;
      d_enthalpy[from] -= heat;
      d_ammonium[from] -= tan;
      d_nitrate[from] -= no3;
      if (below >= 0) {
        const std::size_t to = static_cast<std::size_t>(below) * lanes + l;
        d_water[to] += drained;
        d_enthalpy[to] += heat;
        d_ammonium[to] += tan;
        d_nitrate[to] += no3;
      } else {
        rates.totals(Total::leachate)[l] += drained;
        rates.totals(Total::leachate_nitrogen)[l] += tan + no3;
        rates.totals(Total::heat_lost)[l] += heat;
      }
    }
  }
}

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

#define HEAPCAST_HEAT(lanes)                                                                       \
  HEAPCAST_VECTORISED static void between_cells_of(                                                \
      const LaneSite<lanes>& site, LaneWorkspace<lanes>& w, double* d_enthalpy, double* d_water) { \
    between_cells<lanes>(site, w, d_enthalpy, d_water);                                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void through_boundary_of(                                             \
      const LaneSite<lanes>& site, LaneWorkspace<lanes>& w, const LaneRates<lanes>& rates,         \
      double* heat_to_snow) {                                                                      \
    through_boundary<lanes>(site, w, rates, heat_to_snow);                                         \
  }                                                                                                \
  void heat_and_vapour(const LaneSite<lanes>& site, const LaneStateView<lanes>& /*state*/,         \
                       LaneWorkspace<lanes>& w, const LaneRates<lanes>& rates) {                   \
    double heat_to_snow[lanes] = {};                                                               \
    between_cells_of(site, w, rates.field(F::enthalpy), rates.field(F::water));                    \
    through_boundary_of(site, w, rates, heat_to_snow);                                             \
    rain_and_snow<lanes>(site, w, heat_to_snow, rates);                                            \
  }                                                                                                \
  void precipitation(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w, int lane,         \
                     const Precipitation& falls, const LaneRates<lanes>& rates) {                  \
    fall<lanes>(site, w, lane, falls, rates);                                                      \
  }                                                                                                \
  HEAPCAST_VECTORISED void heat_drive(                                                             \
      const LaneSite<lanes>& site, LaneWorkspace<lanes>& w,                                        \
      const PerLane<Forcing, lanes>& half_way, const PerLane<Forcing, lanes>& at_end,              \
      const PerLane<double, lanes>& per_s, const LaneRates<lanes>& slopes,                         \
      const LaneRates<lanes>& bends) {                                                             \
    drive<lanes>(site, w, half_way, at_end, per_s, slopes, bends);                                 \
  }                                                                                                \
  HEAPCAST_VECTORISED void heat_linearisation(                                                     \
      const LaneSite<lanes>& site, LaneWorkspace<lanes>& w, engine::StiffBlock& block) {           \
    if (block.weight.empty()) {                                                                    \
      linearise<lanes, false>(site, w, block);                                                     \
    } else {                                                                                       \
      linearise<lanes, true>(site, w, block);                                                      \
    }                                                                                              \
  }                                                                                                \
  HEAPCAST_VECTORISED static void drain_cells_of(                                                  \
      const LaneSite<lanes>& site, const LaneStateView<lanes>& state, LaneWorkspace<lanes>& w) {   \
    drain_cells<lanes>(site, state, w);                                                            \
  }                                                                                                \
  void drainage(const LaneSite<lanes>& site, const LaneStateView<lanes>& state,                    \
                LaneWorkspace<lanes>& w, const LaneRates<lanes>& rates) {                          \
    drain_cells_of(site, state, w);                                                                \
    drain<lanes>(site, state, w, rates);                                                           \
  }
HEAPCAST_HEAT(1)
HEAPCAST_HEAT(run_lanes)
#undef HEAPCAST_HEAT

} // namespace heapcast::models
