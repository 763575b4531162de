#include "tests/cli/synthetic_results.hpp"

#include "cli/output/criteria.hpp"

#include "models/ensemble/ensemble.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>
#include <limits>
#include <numbers>
#include <utility>
#include <vector>

namespace heapcast::test {

namespace {

using engine::Dataset;
using engine::Variable;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double turn_every_days = 7.0;

double bell(double day, double centre, double width) {
  return std::exp(-std::pow((day - centre) / width, 2));
}

/// 0 at the build, 1 at the end of a long time.
double spent(double day, double lasting_days) {
  return 1.0 - std::exp(-day / lasting_days);
}

double daily_wave(double day) {
  return std::sin(2.0 * std::numbers::pi * (day - 0.3));
}

double air(double day) {
  return 8.0 + 0.08 * day + 5.0 * daily_wave(day) + 3.0 * std::sin(day / 4.0);
}

double core(double day, double warmth) {
  const double since_turn = std::fmod(day, turn_every_days);
  const double dip = day >= turn_every_days ? 9.0 * std::exp(-since_turn / 0.5) : 0.0;
  return air(0.0) + warmth * 58.0 * spent(day, 1.4) * std::exp(-day / 70.0) - dip;
}

double microbes(double day) {
  return 1.0 + 5.0 * spent(day, 3.0) * std::exp(-day / 18.0);
}

/// Hours with rain: two wet afternoons in nine days.
double rain_mm_h(double day) {
  const double phase = std::fmod(day, 9.0);
  return (phase > 2.5 && phase < 2.8) || (phase > 6.4 && phase < 6.5) ? 1.7 : 0.0;
}

} // namespace

void remove_variable(Dataset& data, const std::string& name) {
  std::erase_if(data.variables, [&](const auto& variable) { return variable.name == name; });
}

void set_attribute(Dataset& data, const std::string& name, engine::AttributeValue value) {
  std::erase_if(data.attributes, [&](const auto& entry) { return entry.first == name; });
  data.attributes.emplace_back(name, std::move(value));
}

Dataset synthetic_results(std::size_t days, std::size_t runs) {
  Dataset data;
  const std::size_t hours = 24 * days + 1;
  std::vector<double> time_h(hours);
  for (std::size_t i = 0; i < hours; ++i) {
    time_h[i] = static_cast<double>(i);
  }
  data.dimensions.push_back({"run", runs, {}, {}});
  if (runs > 1) {
    data.dimensions.push_back({"quantile", 3, {0.1, 0.5, 0.9}, {}});
  }
  data.dimensions.push_back(
      {"time", hours, time_h, {{"units", std::string("hours since 2025-03-01 09:00:00")}}});

  // Runs differ by how warm they get: 0.9 to 1.1 times the middle one.
  const auto warmth = [&](std::size_t run) {
    return runs == 1 ? 1.0 : 0.9 + 0.2 * static_cast<double>(run) / static_cast<double>(runs - 1);
  };
  const auto series = [&](const std::string& name, const std::string& unit,
                          const std::function<double(double, double)>& at) {
    Variable variable{name, {runs == 1 ? "run" : "quantile", "time"}, {}, {}, {{"units", unit}}};
    std::vector<models::Spread> points;
    for (const double hour : time_h) {
      std::vector<double> values;
      for (std::size_t run = 0; run < runs; ++run) {
        values.push_back(at(hour / 24.0, warmth(run)));
      }
      points.push_back(models::spread(values));
    }
    for (const auto point : {&models::Spread::low, &models::Spread::mid, &models::Spread::high}) {
      if (runs > 1 || point == &models::Spread::mid) {
        std::ranges::transform(points, std::back_inserter(variable.values), point);
      }
    }
    data.variables.push_back(std::move(variable));
  };

  series("core_temperature", "degC", core);
  series("mean_temperature", "degC",
         [](double d, double w) { return 0.7 * core(d, w) + 0.3 * air(d) - 1.0; });
  series("skin_temperature", "degC",
         [](double d, double w) { return 0.35 * core(d, w) + 0.65 * air(d); });
  series("max_temperature", "degC",
         [](double d, double w) { return core(d, w) + 4.0 * spent(d, 1.0); });
  series("air_temperature", "degC", [](double d, double) { return air(d); });
  series("temperature_at_middle", "degC", core);
  data.variables.back().attributes.emplace_back(
      "long_name", std::string("temperature at the probe middle, 60 cm below the surface"));
  series("temperature_at_edge", "degC",
         [](double d, double w) { return 0.6 * core(d, w) + 0.4 * air(d); });
  data.variables.back().attributes.emplace_back(
      "long_name", std::string("temperature at the probe edge, 15 cm below the surface"));
  series("rain", "mm h-1", [](double d, double) { return rain_mm_h(d); });
  series("moisture_wet_basis", "%",
         [](double d, double) { return 62.0 - 0.28 * d + std::sin(d / 3.0); });
  series("core_oxygen", "%", [](double d, double w) {
    return 20.5 - w * 17.5 * bell(d, 4.0, 9.0) - 2.0 * bell(d, 20.0, 25.0);
  });
  series("free_air_space", "%", [](double d, double) { return 48.0 - 13.0 * spent(d, 12.0); });
  series("air_flow", "m3 h-1",
         [](double d, double w) { return 0.12 * (core(d, w) - air(d)) / 10.0; });
  series("oxygen_uptake_rate", "mmol O2/kg OM/h",
         [](double d, double) { return 8.0 + 70.0 * std::exp(-d / 9.0) * spent(d, 0.6); });
  series("fast_carbon", "kg C",
         [](double d, double w) { return 60.0 * (1.0 - 0.97 * spent(d, 9.0 / w)); });
  series("slow_carbon", "kg C", [](double d, double) { return 85.0 * (1.0 - spent(d, 160.0)); });
  series("resistant_carbon", "kg C", [](double, double) { return 38.0; });
  series("humus_carbon", "kg C", [](double d, double) { return 5.0 * spent(d, 25.0); });
  series("biomass_carbon", "kg C", [](double d, double) { return microbes(d); });
  series("cumulative_carbon_dioxide_carbon", "kg C", [](double d, double w) {
    return 58.2 * spent(d, 9.0 / w) + 85.0 * spent(d, 160.0) - 5.0 * spent(d, 25.0) -
           0.9 * spent(d, 8.0) - microbes(d) + microbes(0.0);
  });
  series("cumulative_methane_carbon", "kg C", [](double d, double) { return 0.9 * spent(d, 8.0); });
  series("organic_nitrogen", "kg N", [](double d, double) { return 6.2 - 0.9 * spent(d, 12.0); });
  series("ammonium_nitrogen", "kg N", [](double, double) { return 0.3; });
  series("nitrate_nitrogen", "kg N",
         [](double d, double) { return d > 30.0 ? 0.2 * spent(d - 30.0, 20.0) : 0.0; });
  series("cumulative_ammonia_nitrogen", "kg N",
         [](double d, double) { return 0.75 * spent(d, 12.0); });
  series("cumulative_nitrous_oxide_nitrogen", "kg N",
         [](double d, double) { return 0.03 * spent(d, 40.0); });
  series("cumulative_dinitrogen_nitrogen", "kg N",
         [](double d, double) { return 0.08 * spent(d, 40.0); });
  series("cumulative_leachate_nitrogen", "kg N",
         [](double d, double) { return 0.04 * spent(d, 15.0); });
  series("dry_mass", "kg", [](double d, double) { return 410.0 - 150.0 * spent(d, 22.0); });
  series("water_mass", "kg", [](double d, double) { return 640.0 - 260.0 * spent(d, 26.0); });
  series("volume", "m3", [](double d, double) { return 2.6 - 1.2 * spent(d, 18.0); });
  series("cumulative_rain", "kg", [](double d, double) { return 1.9 * d; });
  series("cumulative_water_added", "kg",
         [](double d, double) { return 40.0 * std::floor(d / 14.0); });
  series("cumulative_evaporation", "kg", [](double d, double) { return 420.0 * spent(d, 20.0); });
  series("cumulative_leachate", "kg", [](double d, double) { return 14.0 * spent(d, 10.0); });
  series("limit", "", [](double d, double) {
    if (d < 0.6) {
      return 1.0; // cold
    }
    if (d < 9.0 && std::fmod(d, turn_every_days) > 0.8) {
      return d < 3.0 ? 2.0 : 4.0; // hot, airless
    }
    return d > 34.0 ? (std::fmod(d, 1.0) < 0.3 ? 3.0 : 5.0) : 0.0; // dry, food
  });
  data.variables.back().attributes.clear();
  if (runs > 1) { // the middle row is that of every run
    Variable& limit = data.variables.back();
    limit.dimensions = {"time"};
    limit.values.erase(limit.values.begin(), limit.values.begin() + static_cast<long>(hours));
    limit.values.resize(hours);
  }
  data.variables.back().flags = {"none", "cold", "hot", "dry", "airless", "food", "nitrogen"};

  const auto scalar = [&](const std::string& name, const std::string& unit,
                          const std::string& long_name, double value, double by_warmth = 0.0) {
    Variable variable{name, {"run"}, {}, {}, {{"units", unit}, {"long_name", long_name}}};
    for (std::size_t run = 0; run < runs; ++run) {
      variable.values.push_back(value + by_warmth * (warmth(run) - 1.0));
    }
    data.variables.push_back(std::move(variable));
  };
  scalar("ready_day", "days", "day on which every criterion is met", runs == 1 ? nan : 52.0, -40.0);
  data.variables.push_back(
      {"ready_day_reason",
       {"run"},
       {},
       std::vector<std::string>(runs, "oxygen uptake is still above its limit"),
       {}});
  scalar("peak_temperature", "degC", "highest core temperature", 66.3, 58.0);
  scalar("peak_day", "days", "day of the highest core temperature", 4.2);
  scalar("days_above_55", "days", "time the core is above 55 °C", 17.5, 60.0);
  scalar("carbon_lost_fraction", "1", "carbon lost", 0.41);
  scalar("nitrogen_lost_fraction", "1", "nitrogen lost", 0.138);
  scalar("volume_fraction", "1", "volume left", 0.54);
  scalar("water_added", "litres", "water added", 160.0);
  scalar("leachate", "litres", "water drained out", 14.0);
  scalar("turns", "", "turns", std::floor(static_cast<double>(days - 1) / turn_every_days));
  const auto named = [&](const std::string& name, const std::string& unit, double value,
                         const std::string& reason = {}) {
    scalar(name, unit, "of " + name, value);
    if (!reason.empty()) {
      data.variables.push_back(
          {name + "_reason", {"run"}, {}, std::vector<std::string>(runs, reason), {}});
    }
  };
  named("ready_day_oxygen_uptake", "day", nan,
        "oxygen uptake at 30 degC: still 21 mmol O2/kg OM/h on day 60, must be 15 or less");
  named("ready_day_carbon_dioxide", "day", 12.0);
  named("ready_day_hygiene", "day", 9.0);
  named("final_oxygen_uptake", "mmol O2/kg OM/h", 21.0);
  named("final_carbon_dioxide_rate", "mg CO2-C/g OM/d", 3.0);
  named("hygiene_met_day_us503_psrp", "day", 9.0);
  named("hygiene_volume_share_us503_psrp", "1", 0.62);
  named("hygiene_met_day_abp", "day", nan, "a rule for closed vessels: this pile stands free");
  named("hygiene_volume_share_abp", "1", nan, "a rule for closed vessels: this pile stands free");
  named("log10_survivors_salmonella", "1", -31.0);
  named("log10_survivors_ascaris", "1", -2.5);
  scalar("closure_water", "1", "water residual", 3.1e-13);
  scalar("closure_carbon", "1", "carbon residual", 8.0e-14);
  scalar("closure_nitrogen", "1", "nitrogen residual", 2.2e-13);
  scalar("closure_ash", "1", "ash residual", 0.0);
  scalar("closure_energy", "1", "energy residual", 4.4e-9);

  // Laboratory tests once a day.
  std::vector<double> test_time_h;
  for (std::size_t d = 0; d <= days; ++d) {
    test_time_h.push_back(24.0 * static_cast<double>(d));
  }
  data.dimensions.push_back({"test_time", days + 1, test_time_h, {}});
  const auto test = [&](const std::string& name, const std::string& unit, double first) {
    Variable variable{
        name, {runs == 1 ? "run" : "quantile", "test_time"}, {}, {}, {{"units", unit}}};
    for (const double part : runs == 1 ? std::vector{1.0} : std::vector{0.8, 1.0, 1.2}) {
      for (const double hour : test_time_h) {
        variable.values.push_back(part * first * std::exp(-hour / 24.0 / 15.0));
      }
    }
    data.variables.push_back(std::move(variable));
  };
  test("test_oxygen_uptake", "mmol O2/kg OM/h", 40.0);
  test("test_carbon_dioxide", "mg CO2-C/g OM/d", 12.0);
  test("test_self_heating", "K", 38.0);

  // A parabolic half section, 1.1 m high and 2.4 m wide, in 12 rows of 8 cells.
  constexpr std::size_t rows = 12;
  constexpr std::size_t columns = 8;
  constexpr std::size_t corners = 4;
  constexpr double height_m = 1.1;
  constexpr double half_width_m = 1.2;
  const std::size_t cells = rows * columns;
  std::vector<double> field_time_h;
  for (std::size_t d = 0; d <= days; ++d) {
    field_time_h.push_back(24.0 * static_cast<double>(d));
  }
  data.dimensions.push_back({"field_time", days + 1, field_time_h, {}});
  data.dimensions.push_back({"cell", cells, {}, {}});
  data.dimensions.push_back({"corner", corners, {}, {}});
  Variable outline_x{"cell_corner_x", {"cell", "corner"}, {}, {}, {{"units", std::string("m")}}};
  Variable outline_z{"cell_corner_z", {"cell", "corner"}, {}, {}, {{"units", std::string("m")}}};
  Variable depth{"cell_depth", {"cell"}, {}, {}, {{"units", std::string("m")}}};
  const auto half_width_at = [&](double z) { return half_width_m * std::sqrt(1.0 - z / height_m); };
  for (std::size_t row = 0; row < rows; ++row) {
    const double z0 = height_m * static_cast<double>(row) / rows;
    const double z1 = height_m * static_cast<double>(row + 1) / rows;
    for (std::size_t column = 0; column < columns; ++column) {
      const double left = static_cast<double>(column) / columns;
      const double right = static_cast<double>(column + 1) / columns;
      for (const double x : {left * half_width_at(z0), right * half_width_at(z0),
                             right * half_width_at(z1), left * half_width_at(z1)}) {
        outline_x.values.push_back(x);
      }
      for (const double z : {z0, z0, z1, z1}) {
        outline_z.values.push_back(z);
      }
      const double side = half_width_at(0.5 * (z0 + z1)) * (1.0 - 0.5 * (left + right));
      depth.values.push_back(std::min(side, height_m - 0.5 * (z0 + z1)));
    }
  }
  const auto over_cells = runs == 1 ? std::vector<std::string>{"run", "field_time", "cell"}
                                    : std::vector<std::string>{"field_time", "cell"};
  Variable temperature{"temperature", over_cells, {}, {}, {{"units", std::string("degC")}}};
  Variable moisture{"moisture_wet_basis_field", over_cells, {}, {}, {{"units", std::string("%")}}};
  Variable oxygen{"oxygen", over_cells, {}, {}, {{"units", std::string("%")}}};
  for (const double hour : field_time_h) {
    const double day = hour / 24.0;
    for (const double d : depth.values) {
      const double inner = std::min(1.0, d / 0.45);
      temperature.values.push_back(air(day) + inner * (core(day, 1.0) - air(day)));
      moisture.values.push_back(62.0 - 0.28 * day - 14.0 * (1.0 - inner) * spent(day, 15.0));
      oxygen.values.push_back(20.5 - inner * (17.5 * bell(day, 4.0, 9.0) + 2.0));
    }
  }
  data.variables.push_back(std::move(outline_x));
  data.variables.push_back(std::move(outline_z));
  data.variables.push_back(std::move(depth));
  data.variables.push_back(std::move(temperature));
  data.variables.push_back(std::move(moisture));
  data.variables.push_back(std::move(oxygen));

  Variable event_day{"event_day", {"event"}, {}, {}, {}};
  Variable event_kind{"event_kind", {"event"}, {}, {}, {}};
  Variable event_reason{"event_reason", {"event"}, {}, {}, {}};
  Variable event_litres{"event_litres", {"event"}, {}, {}, {}};
  for (std::size_t turn = 1; turn * 7 < days; ++turn) {
    const double day = turn_every_days * static_cast<double>(turn);
    const bool watered = turn % 2 == 0;
    event_day.values.push_back(day);
    event_kind.texts.emplace_back("turn");
    event_reason.texts.emplace_back("every 7 days");
    event_litres.values.push_back(0.0);
    if (watered) {
      event_day.values.push_back(day);
      event_kind.texts.emplace_back("water");
      event_reason.texts.emplace_back("at the turn, up to 60 % moisture");
      event_litres.values.push_back(40.0);
    }
  }
  data.dimensions.push_back({"event", event_day.values.size(), {}, {}});
  data.variables.push_back(std::move(event_day));
  data.variables.push_back(std::move(event_kind));
  data.variables.push_back(std::move(event_reason));
  data.variables.push_back(std::move(event_litres));

  data.attributes = {
      {"title", std::string("Invented spring heap")},
      {"start", std::string("2025-03-01T09:00")},
      {"schema_version", std::string("1")},
      {"program_version", std::string("0.1.0")},
      {"seed", std::int64_t{1}},
      {"pile_file",
       std::string("# An invented pile.\ntitle = \"Invented spring heap\"\n\n[pile]\nshape = "
                   "\"heap\"\n\n[[material]]\nname = \"horse manure\"\namount = \"620 kg\"\n\n"
                   "[[material]]\nname = \"wheat straw\"\namount = \"130 kg\"\n\n[turning]\n"
                   "every = \"7 days\"\n")},
      {"weather_checksum", std::string("9f2c61d07a55be31")},
      {"weather_source", std::string("twelve invented monthly normals, one generated year")},
      {"weather_estimates",
       std::string("humidity: from the daily minimum temperature (FAO-56, eq. 48)\n"
                   "sunshine: from the daily temperature range (FAO-56, eq. 50)")},
      {"warnings", std::string("straw: no chop size given, 100 mm taken")},
  };
  cli::add_criteria(data, models::PileDescription());
  set_attribute(data, "hygiene_rule", std::string("us503_psrp"));
  return data;
}

} // namespace heapcast::test
