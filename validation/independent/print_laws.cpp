// Evaluates laws of models/ for other programs: reads lines `law,argument,...` from standard input
// and prints each with its value behind it. Arguments and values are in the units of the functions
// called: K, Pa, kg, J; the fao56_ laws in those of the paper (degC, kPa, MJ/m2, h, m/s, degrees).
//
//   echo saturation_pressure,293.15 | heapcast_print_laws
//   heapcast_print_laws --list

#include "models/properties/moist_air.hpp"
#include "models/weather/fao56.hpp"

#include <cstddef>
#include <cstdio>
#include <exception>
#include <functional>
#include <iostream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using namespace heapcast::models;

using Arguments = std::vector<double>;

struct Law {
  std::size_t arguments;
  const char* words;
  std::function<double(const Arguments&)> value;
};

/// Temperature, vapour pressure and total pressure.
MoistAirState air(const Arguments& a) {
  return {.temperature_K = a[0], .vapour_pressure_Pa = a[1], .pressure_Pa = a[2]};
}

fao56::SunDay sun_day(double latitude_deg, double day_of_year) {
  return {.latitude_deg = latitude_deg, .day_of_year = static_cast<int>(day_of_year)};
}

fao56::GrassWeather grass(const Arguments& a) {
  return {.temperature_C = a[0],
          .wind_2m_m_s = a[1],
          .saturation_pressure_kPa = a[2],
          .vapour_pressure_kPa = a[3],
          .psychrometric_constant_kPa_K = a[4],
          .net_radiation_MJ_m2 = a[5],
          .soil_heat_flux_MJ_m2 = a[6]};
}

void add_moist_air(std::map<std::string, Law>& laws) {
  laws["saturation_pressure"] = {1, "T",
                                 [](const Arguments& a) { return saturation_pressure_Pa(a[0]); }};
  laws["latent_heat"] = {1, "T", [](const Arguments& a) { return latent_heat_J_kg(a[0]); }};
  laws["vapour_enthalpy"] = {1, "T", [](const Arguments& a) { return vapour_enthalpy_J_kg(a[0]); }};
  laws["humidity_ratio"] = {3, "T,e,P", [](const Arguments& a) { return humidity_ratio(air(a)); }};
  laws["moist_air_density"] = {3, "T,e,P",
                               [](const Arguments& a) { return moist_air_density_kg_m3(air(a)); }};
  laws["moist_air_enthalpy"] = {3, "T,e,P",
                                [](const Arguments& a) { return moist_air_enthalpy_J_kg(air(a)); }};
  laws["dew_point"] = {1, "e", [](const Arguments& a) { return dew_point_K(a[0]); }};
  laws["air_viscosity"] = {1, "T", [](const Arguments& a) { return air_viscosity_Pa_s(a[0]); }};
  laws["pressure_at_elevation"] = {
      1, "z", [](const Arguments& a) { return pressure_at_elevation_Pa(a[0]); }};
}

void add_vapour(std::map<std::string, Law>& laws) {
  laws["fao56_es"] = {1, "T",
                      [](const Arguments& a) { return fao56::saturation_pressure_kPa(a[0]); }};
  laws["fao56_delta"] = {1, "T",
                         [](const Arguments& a) { return fao56::saturation_slope_kPa_K(a[0]); }};
  laws["fao56_mean_es"] = {2, "tmin,tmax", [](const Arguments& a) {
                             return fao56::mean_saturation_pressure_kPa(
                                 {.tmin_C = a[0], .tmax_C = a[1]});
                           }};
  laws["fao56_pressure"] = {1, "z",
                            [](const Arguments& a) { return fao56::air_pressure_kPa(a[0]); }};
  laws["fao56_gamma"] = {
      1, "P", [](const Arguments& a) { return fao56::psychrometric_constant_kPa_K(a[0]); }};
  laws["fao56_ea_dew"] = {1, "tdew", [](const Arguments& a) {
                            return fao56::vapour_pressure_from_dew_point_kPa(a[0]);
                          }};
  laws["fao56_ea_range"] = {4, "tmin,tmax,rhmin,rhmax", [](const Arguments& a) {
                              return fao56::vapour_pressure_kPa(fao56::HumidityRange{
                                  .temperatures = {.tmin_C = a[0], .tmax_C = a[1]},
                                  .lowest_percent = a[2],
                                  .highest_percent = a[3]});
                            }};
  laws["fao56_ea_psychrometer"] = {
      3, "dry,wet,P", [](const Arguments& a) {
        return fao56::vapour_pressure_kPa(
            fao56::Psychrometer{.dry_bulb_C = a[0], .wet_bulb_C = a[1], .pressure_kPa = a[2]});
      }};
  laws["fao56_u2"] = {2, "u,z", [](const Arguments& a) {
                        return fao56::wind_at_2m_m_s({.speed_m_s = a[0], .height_m = a[1]});
                      }};
}

void add_sun(std::map<std::string, Law>& laws) {
  laws["fao56_Ra"] = {2, "latitude,J", [](const Arguments& a) {
                        return fao56::extraterrestrial_MJ_m2_d(sun_day(a[0], a[1]));
                      }};
  laws["fao56_N"] = {2, "latitude,J",
                     [](const Arguments& a) { return fao56::daylight_h(sun_day(a[0], a[1])); }};
  laws["fao56_solar_time"] = {4, "clock,longitude,offset,J", [](const Arguments& a) {
                                return fao56::solar_time_h({.clock_h = a[0],
                                                            .longitude_deg = a[1],
                                                            .utc_offset_h = a[2],
                                                            .day_of_year = static_cast<int>(a[3])});
                              }};
  laws["fao56_omega"] = {1, "solar_time",
                         [](const Arguments& a) { return fao56::solar_time_angle_rad(a[0]); }};
  laws["fao56_Ra_hour"] = {4, "latitude,J,solar_time,hours", [](const Arguments& a) {
                             return fao56::extraterrestrial_MJ_m2({.day = sun_day(a[0], a[1]),
                                                                   .middle_solar_time_h = a[2],
                                                                   .length_h = a[3]});
                           }};
  laws["fao56_Rso"] = {2, "Ra,z", [](const Arguments& a) {
                         return fao56::clear_sky_radiation(
                             {.extraterrestrial = a[0], .elevation_m = a[1]});
                       }};
  laws["fao56_Rs_sunshine"] = {3, "Ra,n,N", [](const Arguments& a) {
                                 return fao56::radiation_from_sunshine({.extraterrestrial = a[0],
                                                                        .sunshine_h = a[1],
                                                                        .daylight_h = a[2]});
                               }};
  laws["fao56_Rs_range"] = {
      3, "Ra,tmin,tmax", [](const Arguments& a) {
        return fao56::radiation_from_temperature_range(
            {.extraterrestrial = a[0], .temperatures = {.tmin_C = a[1], .tmax_C = a[2]}});
      }};
}

void add_balance(std::map<std::string, Law>& laws) {
  laws["fao56_Rns"] = {1, "Rs", [](const Arguments& a) { return fao56::net_shortwave(a[0]); }};
  laws["fao56_Rnl_day"] = {4, "tmin,tmax,ea,Rs/Rso", [](const Arguments& a) {
                             return fao56::net_longwave_MJ_m2_d(
                                 {.temperatures = {.tmin_C = a[0], .tmax_C = a[1]},
                                  .vapour_pressure_kPa = a[2],
                                  .relative_shortwave = a[3]});
                           }};
  laws["fao56_Rnl_hour"] = {3, "T,ea,Rs/Rso", [](const Arguments& a) {
                              return fao56::net_longwave_MJ_m2_h({.temperature_C = a[0],
                                                                  .vapour_pressure_kPa = a[1],
                                                                  .relative_shortwave = a[2]});
                            }};
  laws["fao56_G_month"] = {2, "mean,previous", [](const Arguments& a) {
                             return fao56::soil_heat_flux_MJ_m2_d(
                                 {.mean_C = a[0], .previous_mean_C = a[1]});
                           }};
  laws["fao56_G_hour"] = {2, "Rn,daylight", [](const Arguments& a) {
                            return fao56::soil_heat_flux_MJ_m2_h(
                                {.net_radiation_MJ_m2_h = a[0], .daylight = a[1] > 0.5});
                          }};
  const char* names = "T,u2,es,ea,gamma,Rn,G";
  laws["fao56_ETo_day"] = {7, names, [](const Arguments& a) {
                             return fao56::reference_evapotranspiration_day(grass(a)).total_mm();
                           }};
  laws["fao56_ETo_hour"] = {7, names, [](const Arguments& a) {
                              return fao56::reference_evapotranspiration_hour(grass(a)).total_mm();
                            }};
  laws["fao56_radiation_term_hour"] = {
      7, names, [](const Arguments& a) {
        return fao56::reference_evapotranspiration_hour(grass(a)).radiation_mm;
      }};
  laws["fao56_aerodynamic_term_hour"] = {
      7, names, [](const Arguments& a) {
        return fao56::reference_evapotranspiration_hour(grass(a)).aerodynamic_mm;
      }};
}

std::map<std::string, Law> all_laws() {
  std::map<std::string, Law> laws;
  add_moist_air(laws);
  add_vapour(laws);
  add_sun(laws);
  add_balance(laws);
  return laws;
}

double evaluate(const std::map<std::string, Law>& laws, const std::string& line) {
  std::istringstream fields(line);
  std::string name;
  std::getline(fields, name, ',');
  const auto found = laws.find(name);
  if (found == laws.end()) {
    throw std::invalid_argument("no law of the name " + name + "; --list shows them");
  }
  Arguments arguments;
  for (std::string field; std::getline(fields, field, ',');) {
    arguments.push_back(std::stod(field));
  }
  if (arguments.size() != found->second.arguments) {
    throw std::invalid_argument(name + " takes " + found->second.words);
  }
  return found->second.value(arguments);
}

} // namespace

int main(int count, char** words) {
  try {
    const auto laws = all_laws();
    if (count > 1 && std::string(words[1]) == "--list") {
      for (const auto& [name, law] : laws) {
        std::printf("%s,%s\n", name.c_str(), law.words);
      }
      return 0;
    }
    for (std::string line; std::getline(std::cin, line);) {
      std::printf("%s,%.17g\n", line.c_str(), evaluate(laws, line));
    }
    return 0;
  } catch (const std::exception& e) {
    std::fprintf(stderr, "print_laws: %s\n", e.what());
    return 1;
  }
}
