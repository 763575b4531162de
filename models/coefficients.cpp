#include "models/coefficients.hpp"

#include <cmath>

namespace heapcast::models {

namespace {
constexpr double celsius = 273.15;
}

using P = Parameter;

Coefficients::Coefficients(const ParameterSet& p)
    : fast_rate_1_s(p.si(P::fast_rate)), medium_rate_1_s(p.si(P::medium_rate)),
      slow_rate_1_s(p.si(P::slow_rate)), resistant_rate_1_s(p.si(P::resistant_rate)),
      temperature_min_K(p.si(P::temperature_min) + celsius),
      temperature_opt_K(p.si(P::temperature_opt) + celsius),
      temperature_max_K(p.si(P::temperature_max) + celsius),
      mesophile_share(p.si(P::mesophile_share)), moisture_mid(p.si(P::moisture_mid)),
      moisture_slope(p.si(P::moisture_slope)), oxygen_half_scale(p.si(P::oxygen_half_scale)),
      anaerobic_share(p.si(P::anaerobic_share)), anaerobic_heat(p.si(P::anaerobic_heat)),
      methane_share(p.si(P::methane_share)), biomass_yield(p.si(P::biomass_yield)),
      humus_yield(p.si(P::humus_yield)), contois(p.si(P::contois)),
      decay_rate_1_s(p.si(P::decay_rate)), log_decay_theta(std::log(p.si(P::decay_theta))),
      heat_kill_1_s(p.si(P::heat_kill)), ph_half(p.si(P::ph_half)),
      particle_exponent(p.si(P::particle_exponent)), lump_share(p.si(P::lump_share)),
      lump_time_s(p.si(P::lump_days)), heat_per_oxygen_J_kg(p.si(P::heat_per_oxygen)),
      solids_heat_capacity_J_kgK(p.si(P::solids_heat_capacity)),
      conductivity_scale(p.si(P::conductivity_scale)),
      vapour_enhancement(p.si(P::vapour_enhancement)),
      surface_film_scale(p.si(P::surface_film_scale)), emissivity(p.si(P::emissivity)),
      solar_absorptance(p.si(P::solar_absorptance)),
      ground_conductance_W_m2K(p.si(P::ground_conductance)),
      flow_size_scale(p.si(P::flow_size_scale)), wind_pressure(p.si(P::wind_pressure)),
      shrink(p.si(P::shrink)), settling_scale(p.si(P::settling_scale)),
      fines_exponent(p.si(P::fines_exponent)), settling_time_s(p.si(P::settling_days)),
      settling_stress_Pa(p.si(P::settling_stress)), load_compression(p.si(P::load_compression)),
      turn_rebound(p.si(P::turn_rebound)), nesting(p.si(P::nesting)),
      free_ammonia_scale(p.si(P::free_ammonia_scale)), biomass_cn(p.si(P::biomass_cn)),
      nitrogen_half(p.si(P::nitrogen_half)), nitrification_rate_1_s(p.si(P::nitrification_rate)),
      denitrification_rate_1_s(p.si(P::denitrification_rate)),
      nitrous_share(p.si(P::nitrous_share)), turn_ammonia_loss(p.si(P::turn_ammonia_loss)),
      metabolic_water(p.si(P::metabolic_water)), water_holding_scale(p.si(P::water_holding_scale)),
      drainage_time_s(p.si(P::drainage_hours)), rain_infiltration(p.si(P::rain_infiltration)),
      surface_vapour_m_s(p.si(P::surface_vapour)), turn_cooling(p.si(P::turn_cooling)),
      turn_breakage(p.si(P::turn_breakage)), biomass_start_scale(p.si(P::biomass_start_scale)),
      inactivation_scale(p.si(P::inactivation_scale)) {}

} // namespace heapcast::models
