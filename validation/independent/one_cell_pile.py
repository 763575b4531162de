"""A pile of one well-mixed cell, written a second time from the text of the equations.

Sources of every form: the model's description and the comments of the headers in `models/`
(named beside each function) and `models/parameters.def`. Where these leave a form open it was
read in the program; `OPEN_FORMS` lists each such place. The integration is SciPy's LSODA with
pore oxygen as one more differential equation; nothing is shared with the program but its input.

Units: SI; kg C, kg N, kg water; temperatures in K; times in s.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

# Constants: models/properties/moist_air.hpp, gas_diffusion.hpp, free_air_space.hpp.
R = 8.314462618
M_AIR, M_WATER, M_O2, M_C, M_N = 0.0289647, 0.01801528, 0.031998, 0.012011, 0.014007
R_AIR, R_VAPOUR = R / M_AIR, R / M_WATER
T0 = 273.15
C_AIR, C_WATER, C_ICE, FUSION = 1006.0, 4186.0, 2050.0, 333.55e3
O2_AIR = 0.20946
D_O2, D_NH3, D_WATER = 0.1820e-4, 0.1978e-4, 0.2178e-4
GRAVITY = 9.80665
STEFAN_BOLTZMANN = 5.670374e-8
RHO_ORGANIC, RHO_ASH, RHO_WATER = 1450.0, 2500.0, 1000.0
FREEZABLE = 0.7
DAY, HOUR = 86400.0, 3600.0

# (what, what the text says, what the program does)
OPEN_FORMS = []


def open_form(where, said, does):
    """Notes a form that the text does not settle."""
    OPEN_FORMS.append((where, said, does))


STATES = ["fast", "medium", "slow", "resistant", "humus", "biomass", "water", "enthalpy",
          "organic_n", "tan", "nitrate", "settling", "snow", "oxygen"]
TOTALS = ["total_co2_c", "total_ch4_c", "total_nh3_n", "total_n2o_n", "total_n2_n",
          "total_leachate", "total_leachate_n", "total_evaporation", "total_rain",
          "total_heat_made", "total_heat_lost"]


def saturation_pressure(t):
    """Pa over liquid water; moist_air.hpp, log_saturation_pressure."""
    x = min(max(t, 200.0), 400.0) / T0
    return math.exp(-23.25615 / x + 34.03348 + x * (-5.313593 + 0.9517604 * x))


def vapour_enthalpy(t):
    """J/kg above liquid water at 0 degC; moist_air.hpp."""
    c = t - T0
    return C_WATER * c + 2500.56e3 - 2303.7 * c - 1.345 * c * c


def cardinal(t, low, best, high):
    """Rosso et al. 1993; growth.hpp, temperature_response."""
    if not low < t < high:
        return 0.0
    return ((t - high) * (t - low) ** 2 /
            ((best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))))


def smooth_step(x):
    """growth.hpp, smooth_step."""
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


def communities(t, low, best, high, mesophiles):
    """Mesophiles and thermophiles on one substrate; growth.hpp, community_response."""
    cool = (mesophiles * cardinal(min(t, T0 + 37.0), low, T0 + 37.0, T0 + 48.0) *
            (1.0 - smooth_step((t - T0 - 37.0) / 11.0)))
    return 1.0 - (1.0 - cardinal(t, low, best, high)) * (1.0 - cool)


def ice_fraction(t):
    """heat.hpp: from 0 at 0 degC to 0.7 at -1 degC."""
    return FREEZABLE * min(max(T0 - t, 0.0), 1.0)


def heat_capacities(dry, water, c_solids):
    """J/K above 0 degC, between -1 and 0, below; heat.hpp, HeatCapacities and its comment."""
    solids = dry * c_solids
    freezing = (1.0 - FREEZABLE / 2.0) * C_WATER + FREEZABLE / 2.0 * C_ICE + FREEZABLE * FUSION
    frozen = (1.0 - FREEZABLE) * C_WATER + FREEZABLE * C_ICE
    return solids + water * C_WATER, solids + water * freezing, solids + water * frozen


def temperature_of(enthalpy, dry, water, c_solids):
    """K; the inverse of heat.hpp, enthalpy_J."""
    thawed, freezing, frozen = heat_capacities(dry, water, c_solids)
    if enthalpy >= 0.0:
        return T0 + enthalpy / thawed
    if enthalpy >= -freezing:
        return T0 + enthalpy / freezing
    return T0 - 1.0 + (enthalpy + freezing) / frozen


def enthalpy_of(t, dry, water, c_solids):
    """J; heat.hpp, enthalpy_J."""
    thawed, freezing, frozen = heat_capacities(dry, water, c_solids)
    c = t - T0
    if c >= 0.0:
        return thawed * c
    if c >= -1.0:
        return freezing * c
    return -freezing + frozen * (c + 1.0)


open_form("surface/forcing.hpp", "`rain_kg_m2_s` is liquid, `snow_kg_m2_s` as water",
          "share of snow (2 degC - T)/2 K held in 0..1, by the air at the start of the hour")


class Weather:
    """Weather turned into what the surface needs, at the hours; surface/forcing.hpp."""

    SMOOTH = ["air_K", "vapour", "humidity", "density", "wind", "film", "radiative", "sky_K",
              "sun", "soil_K"]

    def __init__(self, w, first_hour):
        t = np.array(w["air_temperature_K"])
        e = np.array(w["vapour_pressure_Pa"])
        wind = np.array(w["wind_m_s"])
        self.pressure = 101.3e3 * ((293.0 - 0.0065 * w["elevation_m"]) / 293.0) ** 5.26
        dry = np.maximum(self.pressure - e, 0.02 * self.pressure)
        columns = {"air_K": t, "vapour": e / (R_VAPOUR * t),
                   "humidity": M_WATER / M_AIR * e / dry,
                   "density": dry / (R_AIR * t) + e / (R_VAPOUR * t),
                   "wind": wind, "film": 5.7 + 3.8 * wind,
                   "radiative": 4.0 * STEFAN_BOLTZMANN * t ** 3,
                   "sky_K": np.array(w["sky_temperature_K"]),
                   "sun": np.array(w["global_radiation_W_m2"]),
                   "soil_K": np.array(w["soil_temperature_K"])}
        self.rows = np.array([columns[name] for name in self.SMOOTH]).T
        snow = np.clip((T0 + 2.0 - t) / 2.0, 0.0, 1.0)
        wet = np.array(w["rain_kg_m2_h"]) / HOUR
        self.rain, self.snow = (1.0 - snow) * wet, snow * wet
        self.first = int(first_hour)

    def hour(self, number):
        """Values at both ends of hour `number` since the build, its rain and snow."""
        i = min(number + self.first, len(self.rows) - 1)
        j = min(i + 1, len(self.rows) - 1)
        return (self.rows[i].tolist(), self.rows[j].tolist(), self.rain[i], self.snow[i])


open_form("processes/structure.hpp",
          "sigma is the weight of the loose pile above the cell, by its depth",
          "g times the present wet mass over the plan area, times the share of the height above: "
          "a re-formed pile, narrower, weighs more on its middle")
open_form("processes/structure.hpp", "V, settling and pore air",
          "never denser than 0.1 % of air by volume; the settling limit at most 0.85; pore air no "
          "hotter than 95 degC")
open_form("pile_system.hpp, after_event", "re-formed at its first proportions",
          "by the volume under the load of before; the load of the new plan area then presses it "
          "anew, so height over width ends a few per cent lower")
open_form("properties/growth.hpp, MODEL 4",
          "moisture scaled to the mix's water-holding capacity",
          "m = L/(L + dry W/2.6): L the liquid water, W the held water per dry mass of the mix "
          "(scaled by x_W), 2.6 kg/kg the capacity at which moisture counts as it is")
open_form("processes/decomposition.hpp", "D = fast + medium + slow; lumps are not mentioned there",
          "the pools' open part is what decomposes and what Contois' D counts; f_N, the floor of the "
          "biomass and the acidity count the whole pools")
open_form("processes/decomposition.hpp", "uptake holds 0.1 decay: no word on its share without air",
          "of the dead biomass's respired carbon f_O2 is oxidised, the rest is anaerobic")
open_form("processes/decomposition.hpp, MODEL 4", "heat, metabolic water: no word on nitrification",
          "nitrification gives 349 kJ per mol N and not 2 mol O2 at 14 MJ/kg")
open_form("processes/decomposition.hpp", "heat",
          "products leave at the cell's temperature: water made brings its sensible heat, solids "
          "gone take theirs")
open_form("processes/decomposition.hpp", "immobilised nitrogen: from which pool",
          "from ammoniacal and nitrate in proportion; what is mineralised is ammoniacal")
open_form("processes/nitrogen.hpp", "C_aq = x_free TAN alpha per water",
          "water is the liquid plus 0.02 kg per kg of dry matter")
open_form("processes/pore_oxygen.hpp, nitrogen.hpp",
          "diffusion through the surface: no word on what is outside the half cell",
          "half a cell of D_e in series with the film's mass transfer h_c/(rho c_p) (heat and mass "
          "analogy), times the cover's gas share")
open_form("processes/heat_and_vapour.hpp",
          "convection and long-wave exchange through the skin (a sol-air temperature)",
          "h = x_h (5.7 + 3.8u) + eps 4 sigma Ta^3; sol-air = Ta + (a S v - ...)/h with v the view "
          "upwards (1 + A_z/A)/2 for the sky and for the sun alike")
open_form("processes/heat_and_vapour.hpp",
          "evaporation from a skin that dries (g_s times the square of its wetness)",
          "wetness = moisture/0.6, at most 1; crust and film in series; vapour pressure at the skin "
          "is the cell's water activity times saturation at the skin's temperature; heat from inside "
          "is what goes out and what evaporates")
open_form("processes/heat_and_vapour.hpp", "snow that insulates and melts",
          "1/30 m2K/W per kg/m2; covered share s/(s + 1 kg/m2); 0.3 of the sun passes; 4 kg/m2/K/d "
          "melts above 0 degC; evaporation falls by 0.9 of the share; heat through the skin melts "
          "where the skin is above 0 degC")
open_form("processes/heat_and_vapour.hpp, drainage", "what the matter holds",
          "W times dry; only liquid drains; of ammoniacal nitrogen the free share goes along")
open_form("pile_system.hpp, after_event", "the pores were aired by a share", "the mixing share")
open_form("operations/mix.hpp", "loses heat above ambient (70 % of it as evaporated water)",
          "the 70 % are latent heat alone, at most 5 % of the water; ambient is no colder than 0 degC; "
          "only above freezing")
open_form("operations/mix.hpp, parameters.def",
          "free ammonia lost in a turn, share of TAN at 60 C and pH 8, scaled with free ammonia",
          "scaled with NH3 in the gas (unionised share over Henry's ratio) and the free share over 0.3, "
          "at most half")
open_form("operations/mix.hpp, water_to_moisture", "the temperature of the water",
          "that of the air, no colder than 4 degC")
open_form("processes/heat_and_vapour.hpp", "air: m (c_pa T + w h_v(T)) of the cell it comes from",
          "air that leaves through the surface leaves at the skin's temperature, saturated to the "
          "cell's activity there, and gives up the rest to the skin, by exponential fitting")
open_form("operations/mix.hpp", "breaks particles",
          "the particle size by f_brk and not the flow size")


class OneCell:
    """The pile's rates. `case` is what the program's `heapcast_one_cell` prints."""

    def __init__(self, case):
        self.p = case["parameters_si"]
        self.held = dict(case["start"])
        g = case["geometry"]
        self.volume_mesh, self.depth, self.round = g["volume_m3"], g["depth_m"], g["round"]
        self.plan_area = g["plan_area_m2"]
        self.surface = next(f for f in g["faces"] if f["kind"] == "surface")
        self.ground = next(f for f in g["faces"] if f["kind"] == "ground")
        self.rain_share = case["rain_share"]
        self.pipes = case.get("pipes", False)
        self.weather = Weather(case["weather"], case["start_hour_in_weather"])
        self.plan = 1.0
        self.lumps_since = 0.0
        self.hour = None
        self.hour_start = 0.0
        self.celsius = {n: T0 + self.p[n] for n in
                        ("temperature_min", "temperature_opt", "temperature_max")}

    # --- matter and structure -------------------------------------------------------------

    def carbon(self, y):
        return y[0] + y[1] + y[2] + y[3] + y[4] + y[5]

    def dry(self, y):
        """kg; carbon by the mix's volatile solids per carbon, and ash."""
        return self.held["vs_per_c"] * self.carbon(y) + self.held["ash"]

    def plan_factor(self):
        """By how much the plan area has grown; mesh.hpp, MeshScale."""
        return self.plan * (self.plan if self.round else 1.0)

    def load_Pa(self, y):
        """Weight per plan area of what lies above the middle."""
        return (GRAVITY * (self.dry(y) + y[6]) / (self.volume_mesh * self.plan_factor()) *
                self.depth)

    def volume(self, y):
        """m3; structure.hpp."""
        p, h = self.p, self.held
        dry = self.dry(y)
        load = 1.0 - math.exp(-self.load_Pa(y) / p["settling_stress"])
        volume = (h["loose_volume"] * (1.0 - p["shrink"] + p["shrink"] * dry / h["start_dry"]) *
                  (1.0 - y[11]) / (1.0 + p["load_compression"] * load))
        full = (dry - h["ash"]) / RHO_ORGANIC + h["ash"] / RHO_ASH + y[6] / RHO_WATER
        return max(volume, full / (1.0 - 1e-3))

    def temperature(self, y):
        return temperature_of(y[7], self.dry(y), y[6], self.p["solids_heat_capacity"])

    def fast_left(self, fast):
        """Share of the fast pool left, 0..1."""
        start = self.held["start_fast"]
        return min(max(fast / start, 0.0), 1.0) if start > 0 else 0.0

    def acidity(self, y, dry):
        """acidity.hpp, pile_ph."""
        h = self.held
        left = self.fast_left(y[0])
        tan = max(y[9], 0.0) / dry
        return left * h["start_ph"] + (1.0 - left) * (7.6 + 1.1 * tan / (tan + 0.0015))

    # --- rates ----------------------------------------------------------------------------

    def forcing(self, t):
        a, b, _, _ = self.hour
        w = (t - self.hour_start) / HOUR
        return [(1.0 - w) * x + w * z for x, z in zip(a, b)]

    def rates(self, t, y):
        p, h = self.p, self.held
        fast, medium, slow, resistant, humus, biomass, water, enthalpy, org_n, tan, no3, settled, \
            snow, x_o2 = y[:14]
        (air_K, vapour_out, humidity_out, density_out, _, film, radiative, sky_K, sun,
         soil_K) = self.forcing(t)
        rain_rate, snow_rate = self.hour[2], self.hour[3]

        # Structure.
        dry = self.dry(y)
        volume = self.volume(y)
        T = temperature_of(enthalpy, dry, water, p["solids_heat_capacity"])
        liquid = water * (1.0 - ice_fraction(T))
        moisture = water / (water + dry)
        solids = ((dry - h["ash"]) / RHO_ORGANIC + h["ash"] / RHO_ASH) / volume
        theta = water / (RHO_WATER * volume)
        eps = 1.0 - solids - theta
        conductivity = p["conductivity_scale"] * (0.05 + 0.55 * theta + 0.3 * solids)
        d_rel = max(eps, 0.0) ** 2
        d_rel *= self.diffusion_factor(T)

        # Pore air.
        pressure = self.weather.pressure
        activity = 1.0 - math.exp(-7.6 * water / dry)
        pore_K = min(T, T0 + 95.0)
        e_pore = activity * saturation_pressure(pore_K)
        self.pore_pressure = e_pore
        dry_pressure = max(pressure - e_pore, 0.02 * pressure)
        dry_air = dry_pressure / (R_AIR * pore_K)
        vapour = e_pore / (R_VAPOUR * pore_K)
        humidity = M_WATER / M_AIR * e_pore / dry_pressure
        pore_mol = max(eps, 0.0) * volume * dry_air / M_AIR

        # Geometry now: the height follows the volume.
        plan_factor = self.plan_factor()
        scale_h = volume / (self.volume_mesh * plan_factor)
        top = self.scaled(self.surface, scale_h, plan_factor)
        base = self.scaled(self.ground, scale_h, plan_factor)

        # Decomposition (decomposition.hpp, decomposition_law.hpp).
        f_T = communities(T, self.celsius["temperature_min"], self.celsius["temperature_opt"],
                          self.celsius["temperature_max"], p["mesophile_share"])
        capacity = dry * h["water_holding"] * p["water_holding_scale"]
        scaled = liquid / (liquid + capacity / 2.6)
        f_m = 1.0 / (1.0 + math.exp(p["moisture_slope"] * (p["moisture_mid"] - scaled)))
        B = max(biomass, 0.0)
        D = fast + medium + slow
        ph = self.acidity(y, dry)
        hot = smooth_step((T - (T0 + 38.0)) / 6.0)
        f_ph = 1.0 - hot * (1.0 - smooth_step(0.5 * (ph - p["ph_half"] + 1.0)))
        particle = math.exp(h["log_particle_size"])
        f_p = min(max((0.015 / particle) ** p["particle_exponent"], 0.4), 1.6)

        substrate_n = max(org_n - B / p["biomass_cn"], 0.0)
        per_carbon = substrate_n / (D + humus + 0.5 * resistant)
        phi = min(1.0, per_carbon * (1.0 - p["humus_yield"]) * p["biomass_cn"] / p["biomass_yield"])
        mineral = max(tan + no3, 0.0)
        f_N = phi + (1.0 - phi) * mineral / (mineral + p["nitrogen_half"] * D)

        left = math.exp(-(t - self.lumps_since) / p["lump_days"])
        open_pool = [pool - h[name] * left for pool, name in
                     ((fast, "lump_fast"), (medium, "lump_medium"), (slow, "lump_slow"))]
        open_pool = [max(v, 0.0) for v in open_pool]
        G = f_T * f_m * f_N * f_ph * B / (B + p["contois"] * sum(open_pool))
        pot = [p["fast_rate"] * G * open_pool[0], p["medium_rate"] * G * f_p * open_pool[1],
               p["slow_rate"] * G * f_p * open_pool[2]]
        pot_R = p["resistant_rate"] * f_T * f_m * max(resistant, 0.0)
        decay_rate = p["decay_rate"] * p["decay_theta"] ** (min(T - T0, 60.0) - 20.0)
        if T > T0 + 66.0:
            decay_rate += p["heat_kill"] * (math.exp(0.35 * (T - T0 - 72.0)) -
                                            math.exp(0.35 * (66.0 - 72.0)))
        decay = decay_rate * max(B - 0.25 * p["contois"] * slow, 0.0)
        growth_yield = p["biomass_yield"] * f_N
        solution = (liquid + 0.02 * dry) / RHO_WATER
        free = min(1.0, h["free_ammonia"] * p["free_ammonia_scale"])
        pka = 0.09018 + 2729.92 / T
        dissolved = free * max(tan, 0.0) / (1.0 + 10.0 ** (pka - ph)) / solution
        nitri_pot = (p["nitrification_rate"] * cardinal(T, T0 + 5.0, T0 + 32.0, T0 + 45.0) * f_m *
                     max(tan, 0.0) * 0.032 / (0.032 + dissolved) * (1.0 - self.fast_left(fast)))

        # Oxygen (pore_oxygen.hpp).
        half = p["oxygen_half_scale"] * 0.01 * max(0.3, 0.79 - 0.041 * (T - T0) + 4.0 * moisture)
        f_O2 = x_o2 / (half + x_o2) if x_o2 > 0.0 else 0.0
        demand_mol = self.demand(pot, pot_R, decay, growth_yield, nitri_pot)
        a = f_O2 + p["anaerobic_share"] * (1.0 - f_O2)

        film_c = p["surface_film_scale"] * film
        film_m_s = film_c / (density_out * C_AIR)
        flows = self.air_flow(T, vapour, dry_air, density_out, eps, dry, top, base, scale_h)
        into = 0.0
        inside = top["t"] * D_O2 * d_rel * dry_air / M_AIR
        outside = film_m_s * top["area"] * dry_air / M_AIR
        if inside > 0.0:
            into += inside * outside / (inside + outside)
        for m in flows:
            into += max(-m, 0.0) / M_AIR
        dx = ((into * (O2_AIR - x_o2) - demand_mol * f_O2) / pore_mol) if pore_mol > 0 else 0.0

        # Rates of decomposition with the oxygen that is there.
        r = [v * a for v in pot]
        r_R = pot_R * a
        total = sum(r)
        growth = growth_yield * total
        humified = p["humus_yield"] * (total + r_R)
        respired = total - growth - humified + r_R
        carbon_dioxide, methane, heat, metabolic = self.respiration(
            respired, decay, f_O2, a, nitri_pot, T)
        mineralised = ((1.0 - p["humus_yield"]) * per_carbon * (total + 0.5 * r_R) +
                       0.1 * decay / p["biomass_cn"] - growth / p["biomass_cn"])
        from_tan, from_no3 = self.mineral_change(mineralised, tan, no3)

        # Nitrogen (nitrogen.hpp).
        nitrified = f_O2 * nitri_pot
        denitrified = (p["denitrification_rate"] * f_T * 0.006 / (0.006 + max(x_o2, 0.0)) *
                       max(no3, 0.0))
        gas_n = dissolved / 10.0 ** (1477.7 / T - 1.69)
        inside = top["t"] * D_NH3 * d_rel
        outside = film_m_s * top["area"]
        nh3 = inside * outside / (inside + outside) * gas_n if inside > 0 else 0.0
        for m in flows:
            nh3 += max(m, 0.0) / dry_air * gas_n

        # Heat and vapour at the surface and the ground (heat_and_vapour.hpp).
        surface = self.surface_exchange(T, moisture, vapour, humidity, conductivity, top, snow,
                                        film_c, film_m_s, flows[0], plan_factor,
                                        (air_K, vapour_out, humidity_out, radiative, sky_K, sun))
        heat_out, vapour_out_kg, melt_heat, covered = surface
        g_in = base["t"] * conductivity
        g_out = p["ground_conductance"] * base["area"]
        heat_out += g_in * g_out / (g_in + g_out) * (T - soil_K)
        m = flows[1]
        w_out, t_out = (humidity, T) if m > 0.0 else (humidity_out, air_K)
        vapour_out_kg += m * w_out
        heat_out += m * (C_AIR * (t_out - T0) + w_out * vapour_enthalpy(t_out))

        plan = self.plan_area * plan_factor
        melt = 4.0 / DAY * max(air_K - T0, 0.0) * covered + melt_heat / (FUSION * plan)
        soaked = self.rain_share * (rain_rate + melt) * top["plan"]
        rain_heat = self.rain_share * rain_rate * top["plan"] * C_WATER * max(air_K - T0, 0.0)

        # Drainage.
        free_water = min(water - capacity, liquid)
        drained = free_water / p["drainage_hours"] if free_water > 0.0 else 0.0
        drained_heat = drained * C_WATER * (T - T0)
        share = drained / liquid if drained > 0.0 else 0.0
        drained_tan, drained_no3 = share * free * tan, share * no3

        limit = (p["settling_scale"] * h["settling_limit"] *
                 (0.8 + 0.4 * (1.0 - math.exp(-self.load_Pa(y) / p["settling_stress"]))))
        d_settled = max(min(limit, 0.85) - settled, 0.0) / p["settling_days"]

        dy = np.empty(len(y))
        dy[0] = 0.4 * decay - r[0]
        dy[1] = 0.2 * decay - r[1]
        dy[2] = 0.2 * decay - r[2]
        dy[3] = -r_R
        dy[4] = 0.1 * decay + humified
        dy[5] = growth - decay
        dy[6] = metabolic - vapour_out_kg + soaked - drained
        dy[7] = heat - heat_out + rain_heat - drained_heat
        dy[8] = -mineralised
        dy[9] = from_tan - nitrified - nh3 - drained_tan
        dy[10] = from_no3 + (1.0 - p["nitrous_share"]) * nitrified - denitrified - drained_no3
        dy[11] = d_settled
        dy[12] = (snow_rate - melt) * plan
        dy[13] = dx
        dy[14] = carbon_dioxide
        dy[15] = methane
        dy[16] = nh3
        dy[17] = p["nitrous_share"] * (nitrified + denitrified)
        dy[18] = (1.0 - p["nitrous_share"]) * denitrified
        dy[19] = drained
        dy[20] = drained_tan + drained_no3
        dy[21] = vapour_out_kg
        dy[22] = soaked
        dy[23] = heat
        dy[24] = heat_out - rain_heat + drained_heat
        return dy

    @staticmethod
    def diffusion_factor(T):
        """gas_diffusion.hpp: (T/273.15)^1.81, as the series it gives."""
        u = T / T0 - 1.0
        return 1.0 + u * (1.81 + u * (1.81 * 0.81 / 2.0 - u * 1.81 * 0.81 * 0.19 / 6.0))

    def scaled(self, face, scale_h, plan_factor):
        """Area, transmissibility |A|^2/(d.A) and plan area of a face without x parts; mesh.hpp."""
        area = abs(face["area_z_m2"]) * plan_factor
        return {"area": area, "t": area / (abs(face["rise_m"]) * scale_h),
                "plan": face["plan_area_m2"] * plan_factor, "rise": face["rise_m"] * scale_h,
                "z": face["area_z_m2"] * plan_factor}

    def demand(self, pot, pot_R, decay, growth_yield, nitri_pot):
        """mol O2/s at unlimited oxygen; decomposition.hpp. Nitrification: 2 mol O2 per mol N
        (NH4+ + 2 O2 -> NO3-)."""
        h = self.p["humus_yield"]
        carbon = (1.0 - growth_yield - h) * sum(pot) + (1.0 - h) * pot_R + 0.1 * decay
        return carbon / M_C + 2.0 * nitri_pot / M_N

    def respiration(self, respired, decay, f_O2, a, nitri_pot, T):
        """CO2-C, CH4-C [kg/s], heat W, metabolic water kg/s."""
        p = self.p
        aerobic = respired * f_O2 / a + 0.1 * decay * f_O2
        anaerobic = (respired * p["anaerobic_share"] * (1.0 - f_O2) / a +
                     0.1 * decay * (1.0 - f_O2))
        methane = p["methane_share"] * anaerobic
        vs_per_c = self.held["vs_per_c"]
        metabolic = p["metabolic_water"] * vs_per_c * aerobic
        per_carbon = p["heat_per_oxygen"] * M_O2 / M_C
        heat = (per_carbon * (aerobic + p["anaerobic_heat"] * anaerobic) +
                349e3 / M_N * nitri_pot * f_O2 +
                (T - T0) * (C_WATER * metabolic -
                            p["solids_heat_capacity"] * vs_per_c * (aerobic + anaerobic)))
        return aerobic + anaerobic - methane, methane, heat, metabolic

    def mineral_change(self, mineralised, tan, no3):
        """What is mineralised is ammoniacal; what is immobilised is taken from both."""
        if mineralised >= 0.0 or tan + no3 <= 0.0:
            return mineralised, 0.0
        share = no3 / (tan + no3)
        return (1.0 - share) * mineralised, share * mineralised

    def air_flow(self, T, vapour, dry_air, density_out, eps, dry, top, base, scale_h):
        """kg dry air/s out of surface and ground; air_flow.hpp for one cell with two faces."""
        if not self.pipes:
            return 0.0, 0.0
        p, h = self.p, self.held
        size = (math.exp(h["log_flow_size"]) * p["flow_size_scale"] *
                (dry / h["start_dry"]) ** p["fines_exponent"])
        e = min(max(eps, 0.0), 0.999)
        k = size * size * e ** 3 / (150.0 * (1.0 - e) ** 2)
        mu = 1.458e-6 * T ** 1.5 / (T + 110.4)
        mobility = dry_air * k / mu
        lighter = density_out - (dry_air + vapour)
        g = [top["t"] * mobility, base["t"] * mobility]
        drive = [lighter * GRAVITY * top["rise"], lighter * GRAVITY * base["rise"]]
        pressure = -(g[0] * drive[0] + g[1] * drive[1]) / (g[0] + g[1])
        return g[0] * (pressure + drive[0]), g[1] * (pressure + drive[1])

    def surface_exchange(self, T, moisture, vapour, humidity, conductivity, top, snow, film_c,
                         film_m_s, m, plan_factor, weather):
        """Heat W and vapour kg/s out through the surface, heat that melts snow, covered share."""
        p = self.p
        air_K, vapour_out, humidity_out, radiative, sky_K, sun = weather
        snow_m2 = max(snow, 0.0) / (self.plan_area * plan_factor)
        covered = snow_m2 / (snow_m2 + 1.0)
        h_r = p["emissivity"] * radiative
        h = film_c + h_r
        up = min(0.5 + 0.5 * max(top["z"], 0.0) / top["area"], 1.0)
        light = p["solar_absorptance"] * sun * up * (1.0 - 0.7 * covered)
        sol_air = air_K + (light + h_r * up * (sky_K - air_K)) / h
        outer = top["area"] / (1.0 / h + snow_m2 / 30.0)
        inner = top["t"] * conductivity
        if m > 0.0:
            inner = self.with_air(inner, m, T)
        wet = min(moisture / 0.6, 1.0)
        crust = p["surface_vapour"] * wet * wet
        g_v = crust * film_m_s / (crust + film_m_s) * (1.0 - 0.9 * covered)
        e_of_saturation = vapour * R_VAPOUR * T / saturation_pressure(T)

        def evaporation(skin):
            density = e_of_saturation * saturation_pressure(skin) / (R_VAPOUR * skin)
            return top["area"] * g_v * (density - vapour_out)

        def unbalanced(skin):
            latent = vapour_enthalpy(skin) - C_WATER * (skin - T0)
            return inner * (skin - T) + outer * (skin - sol_air) + latent * evaporation(skin)

        skin = brentq(unbalanced, min(T, sol_air, air_K) - 60.0, max(T, sol_air, air_K) + 30.0,
                      xtol=1e-6)
        conducted = outer * (skin - sol_air)
        e_skin = e_of_saturation * saturation_pressure(skin)
        evaporated = evaporation(skin)
        heat = conducted + evaporated * vapour_enthalpy(skin if evaporated > 0.0 else air_K)
        if m > 0.0:
            dry_pressure = max(self.weather.pressure - e_skin, 0.02 * self.weather.pressure)
            w, leaves_K = M_WATER / M_AIR * e_skin / dry_pressure, skin
        else:
            w, leaves_K = humidity_out, air_K
        heat += m * (C_AIR * (leaves_K - T0) + w * vapour_enthalpy(leaves_K))
        melts = covered * conducted if conducted > 0.0 and skin > T0 else 0.0
        return heat, evaporated + m * w, melts, covered

    def with_air(self, inner, m, T):
        """W/K between the middle and the skin where air goes out: conduction with the share that
        exponential_fitting.hpp leaves it, and what the air gives up on its way."""
        latent = vapour_enthalpy(T) - C_WATER * (T - T0)
        steam = latent / (R_VAPOUR * T * T)
        e = self.pore_pressure
        total = self.weather.pressure
        ratio = M_WATER / M_AIR * e / max(total - e, 0.02 * total)
        slope = C_AIR + latent * ratio * steam / max(1.0 - e / total, 0.1)
        peclet = m * slope / inner
        r = 0.5 + peclet * (1.0 / 6.0 + peclet / 24.0)
        return inner / (1.0 + peclet * r) + m * slope

    # --- events ---------------------------------------------------------------------------

    MIXING = {"fork": 0.6, "loader": 0.7, "windrow_turner": 0.9}  # MODEL 10

    @staticmethod
    def ammonia_strength(ph, T):
        """NH3 in the gas over TAN in solution; ammonia.hpp."""
        return 1.0 / (1.0 + 10.0 ** (0.09018 + 2729.92 / T - ph)) / 10.0 ** (1477.7 / T - 1.69)

    def turn(self, y, t, method, water_to=None):
        """mix.hpp, turn_pile, for one cell. What it takes is in no total: these are integrals."""
        p, h = self.p, self.held
        y = y.copy()
        air = dict(zip(Weather.SMOOTH, self.hour[0]))
        dry = self.dry(y)
        T = self.temperature(y)
        # Lumps: those that are still closed, less what the turn breaks.
        left = math.exp(-(t - self.lumps_since) / p["lump_days"]) * (1.0 - self.MIXING[method])
        for name in ("lump_fast", "lump_medium", "lump_slow"):
            h[name] *= left
        self.lumps_since = t
        fresh = dry / h["start_dry"]
        y[11] *= 1.0 - p["turn_rebound"] * fresh ** 2
        h["log_particle_size"] += math.log(1.0 - p["turn_breakage"])
        # Heat above ambient, 70 % of it as the latent heat of steam.
        water, at_most = y[6], 0.05 * y[6]
        ambient = max(air["air_K"], T0)
        if T > ambient:
            capacity = heat_capacities(dry, water, p["solids_heat_capacity"])[0]
            lost = p["turn_cooling"] * capacity * (T - ambient)
            steam = min(0.7 * lost / (vapour_enthalpy(T) - C_WATER * (T - T0)), at_most)
            y[6] -= steam
            y[7] -= steam * vapour_enthalpy(T) + 0.3 * lost
        # The puff of ammonia, at the temperature before.
        free = h["free_ammonia"] * p["free_ammonia_scale"] / 0.3
        strength = self.ammonia_strength(self.acidity(y, dry), T) / \
            self.ammonia_strength(8.0, T0 + 60.0)
        y[9] -= min(0.5, p["turn_ammonia_loss"] * free * strength) * y[9]
        if water_to is not None:
            added = max(0.0, dry * water_to / (1.0 - water_to) - y[6])
            y[6] += added
            y[7] += added * C_WATER * (max(air["air_K"], T0 + 4.0) - T0)
        # Aired and re-formed at the first proportions.
        y[13] += self.MIXING[method] * (O2_AIR - y[13])
        self.plan = (self.volume(y) / self.volume_mesh) ** (1.0 / (3.0 if self.round else 2.0))
        return y

    # --- the run --------------------------------------------------------------------------

    def start(self):
        s = self.held
        y = np.zeros(len(STATES) + len(TOTALS))
        for i, name in enumerate(STATES):
            y[i] = s["total_snow"] if name == "snow" else s[name]
        return y

    def absolute(self, y):
        """Absolute tolerances of the integration: small beside what each state goes through."""
        carbon = max(self.carbon(y), 1e-9)
        at = np.full(len(y), 1e-9 * carbon)
        at[6] = 1e-8 * y[6]
        at[7] = 1e-8 * y[6] * C_WATER * 50.0
        at[8:11] = 1e-9 * max(y[8], 1e-9)
        at[11], at[12], at[13] = 1e-9, 1e-7, 1e-10
        at[14:] = 1e30  # totals feed nothing back
        at[23:] = 1e30
        return at


def simulate(case, days=None, rtol=1e-8):
    """Runs a case; hourly states as a dictionary of arrays, row 0 after the first hour."""
    pile = OneCell(case)
    y = pile.start()
    days = case["days"] if days is None else min(days, case["days"])
    turning = case["turning"]
    rows = []
    atol = pile.absolute(y)
    for hour in range(int(round(24 * days))):
        t = hour * HOUR
        pile.hour = pile.weather.hour(hour)
        pile.hour_start = t
        if turning:
            since = hour / 24.0 - turning["from_day"]
            if since >= 0.0 and abs(since / turning["every_days"] -
                                    round(since / turning["every_days"])) < 1e-9:
                y = pile.turn(y, t, turning["method"], turning["water_to_moisture"])
        done = solve_ivp(pile.rates, (t, t + HOUR), y, method="LSODA", rtol=rtol, atol=atol)
        if not done.success:
            raise RuntimeError(f"hour {hour}: {done.message}")
        y = done.y[:, -1]
        rows.append(np.concatenate([y, [pile.temperature(y), pile.volume(y)]]))
    names = STATES + TOTALS + ["temperature_K", "volume_m3"]
    return dict(zip(names, np.array(rows).T))
