// Extreme but legal piles run to the end, or stop with a reason, and no NaN reaches a file but with
// a reason beside it.

#include "cli/input/read_file.hpp"
#include "engine/results_file.hpp"
#include "models/parameters.hpp"
#include "tests/cli/output/temporary_folder.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <sys/wait.h>

namespace heapcast::cli {
namespace {

/// Twelve times the same month, invented.
std::string normals(const std::string& tmin_C, const std::string& tmax_C,
                    const std::string& rain_mm, const std::string& wet_days) {
  const auto twelve = [](const std::string& value) {
    std::string text;
    for (int month = 0; month < 12; ++month) {
      text.append(month == 0 ? "" : " ").append(value);
    }
    return text;
  };
  return fmt::format("[site.normals]\ntmin = \"{} degC\"\ntmax = \"{} degC\"\nrain = \"{} mm\"\n"
                     "wet_days = \"{}\"\n",
                     twelve(tmin_C), twelve(tmax_C), twelve(rain_mm), twelve(wet_days));
}

const std::string mild = normals("8", "18", "60", "10");

std::string material(const std::string& name, const std::string& amount,
                     const std::string& more = "") {
  return fmt::format("[[material]]\nname = \"{}\"\namount = \"{}\"\n{}", name, amount, more);
}

const std::string usual_mix = material("horse_manure_bedding", "800 kg") +
                              material("wheat_straw", "20 kg", "chop = \"5 cm\"\n");

struct Extreme {
  std::string name;
  std::string pile = "shape = \"heap\"\n"; ///< keys of [pile]
  std::string rest = usual_mix;            ///< materials and other sections
  std::string days = "60";
  std::string site = "latitude = \"47.5 deg\"\nstart = \"2021-03-01\"\n";
  std::string weather = mild;
  std::string resolution = "standard";
};

void PrintTo(const Extreme& extreme, std::ostream* out) {
  *out << extreme.name;
}

const std::string slurry = "moisture = \"97 %\"\n";

using models::ParameterRow;

std::string parameters_at(double ParameterRow::*end) {
  std::string text = "[run.parameters]\n";
  for (const ParameterRow& row : models::parameter_table()) {
    text += fmt::format("{} = {}\n", row.name, row.*end);
  }
  return text;
}

std::vector<Extreme> extremes() {
  const std::string bin = "shape = \"bin\"\nwidth = \"1 m\"\nlength = \"1 m\"\nheight = \"1 m\"\n";
  return {
      {.name = "two_litres",
       .rest = material("vegetable_scraps", "1.5 L") + material("dry_leaves", "0.5 L")},
      {.name = "two_litres_in_a_bin",
       .pile = "shape = \"bin\"\nround = true\ndiameter = \"13 cm\"\nheight = \"16 cm\"\n",
       .rest = material("vegetable_scraps", "1.5 L") + material("dry_leaves", "0.5 L")},
      // Stable explicit steps shrink with the square of the size: minutes on the standard mesh.
      {.name = "twenty_millilitres",
       .rest = material("grass_clippings", "20 mL"),
       .resolution = "coarse"},
      {.name = "five_thousand_cubic_metres",
       .pile = "shape = \"windrow\"\nheight = \"6 m\"\n",
       .rest = material("horse_manure_bedding", "4000 m3") + material("wood_chips", "1000 m3")},
      {.name = "forty_thousand_cubic_metres_in_one_heap",
       .rest = material("chipped_brush", "40000 m3")},
      {.name = "a_row_a_kilometre_long",
       .pile = "shape = \"windrow\"\nlength = \"1000 m\"\n",
       .rest = material("horse_manure_bedding", "1500 m3")},
      {.name = "minus_45_degrees",
       .site = "latitude = \"68 deg\"\nstart = \"2021-01-01\"\n",
       .weather = normals("-50", "-40", "5", "3")},
      {.name = "minus_45_degrees_frozen_when_built",
       .pile = "shape = \"heap\"\nbuild_temperature = \"-30 degC\"\n",
       .site = "latitude = \"68 deg\"\nstart = \"2021-01-01\"\n",
       .weather = normals("-50", "-40", "5", "3")},
      {.name = "fifty_degrees",
       .site = "latitude = \"25 deg\"\nstart = \"2021-07-01\"\n",
       .weather = normals("36", "50", "0", "0")},
      {.name = "frost_to_heat_and_back",
       .rest = usual_mix + "[turning]\nevery = \"5 days\"\n",
       .weather = normals("-20", "40", "60", "10")},
      {.name = "five_metres_of_rain_a_month", .weather = normals("22", "31", "5000", "28")},
      {.name = "at_the_pole",
       .days = "365",
       .site = "latitude = \"90 deg\"\nstart = \"2021-01-01\"\n",
       .weather = normals("-25", "-15", "15", "8")},
      {.name = "at_6000_metres",
       .site = "latitude = \"-16 deg\"\nelevation = \"6000 m\"\nstart = \"2021-01-01\"\n",
       .weather = normals("-8", "6", "40", "9")},
      {.name = "five_years", .days = "1826", .resolution = "coarse"},
      {.name = "ten_years_turned_weekly",
       .rest = usual_mix + "[turning]\nevery = \"7 days\"\n",
       .days = "3650",
       .resolution = "coarse"},
      {.name = "turned_daily_for_a_year",
       .rest = usual_mix + "[turning]\nevery = \"1 day\"\n",
       .days = "365"},
      {.name = "turned_and_watered_daily_for_a_year",
       .rest = usual_mix + "[turning]\nevery = \"1 day\"\nwater_to = \"80 %\"\n",
       .days = "365"},
      {.name = "pure_straw", .rest = material("wheat_straw", "300 kg")},
      {.name = "pure_slurry_in_a_bin",
       .pile = bin,
       .rest = material("swine_manure", "800 kg", slurry)},
      {.name = "pure_slurry_in_a_heap", .rest = material("cattle_manure", "800 kg", slurry)},
      {.name = "pure_poultry_manure", .rest = material("poultry_manure", "1000 kg")},
      {.name = "pure_newspaper", .rest = material("newspaper", "300 kg")},
      {.name = "pure_sawdust", .rest = material("sawdust", "1000 kg")},
      {.name = "pure_grass", .rest = material("grass_clippings", "1500 kg")},
      {.name = "finished_compost", .rest = material("finished_compost", "1000 kg"), .days = "365"},
      {.name = "bone_dry", .rest = material("wheat_straw", "300 kg", "moisture = \"0 %\"\n")},
      {.name = "built_at_75_degrees",
       .pile = "shape = \"heap\"\nbuild_temperature = \"75 degC\"\n"},
      {.name = "trodden_to_the_limit", .pile = "shape = \"heap\"\ncompaction = \"60 %\"\n"},
      {.name = "ten_metres_high",
       .pile = "shape = \"windrow\"\nheight = \"10 m\"\n",
       .rest = material("chipped_brush", "3000 m3")},
      {.name = "five_centimetres_high",
       .pile = "shape = \"windrow\"\nheight = \"5 cm\"\n",
       .rest = material("grass_clippings", "500 kg"),
       .resolution = "coarse"},
      {.name = "a_storm_of_a_fan",
       .rest = usual_mix + "[air]\nfan = \"100000 m3/h\"\n",
       .resolution = "coarse"},
      {.name = "a_flood",
       .rest = usual_mix + "[watering]\nlitres = \"1000000 L\"\nevery = \"10 days\"\n"},
      {.name = "a_bin_of_nothing_but_openings",
       .pile = bin + "[pile.walls]\nopen = \"100 %\"\n",
       .rest = material("horse_manure_bedding", "300 kg")},
      {.name = "fed_more_than_it_holds",
       .pile = bin,
       .rest = material("vegetable_scraps", "300 kg") +
               "[[add]]\nevery = \"1 day\"\n[[add.material]]\nname = \"food_scraps\"\namount = "
               "\"60 kg\"\n",
       .days = "200"},
      {.name = "every_parameter_at_its_least",
       .rest = usual_mix + parameters_at(&ParameterRow::low)},
      {.name = "every_parameter_at_its_most",
       .rest = usual_mix + parameters_at(&ParameterRow::high)},
      {.name = "layers_of_opposites",
       .pile = "shape = \"heap\"\nlayered = true\n",
       .rest = material("wheat_straw", "60 kg", "moisture = \"0 %\"\n") +
               material("swine_manure", "600 kg", slurry) + material("newspaper", "60 kg")},
  };
}

std::string pile_text(const Extreme& extreme) {
  return fmt::format("title = \"{} (invented)\"\n[site]\n{}{}[pile]\n{}{}[run]\ndays = {}\n"
                     "resolution = \"{}\"\n",
                     extreme.name, extreme.site, extreme.weather, extreme.pile, extreme.rest,
                     extreme.days, extreme.resolution);
}

bool excused(const engine::Dataset& data, const std::string& name) {
  if (name.starts_with("cell_corner_")) {
    return true; // beyond a cell's last corner
  }
  const engine::Variable* reason = data.variable(name + "_reason");
  return reason != nullptr && reason->texts.size() == 1 && !reason->texts.front().empty();
}

/// Limits that no pile can pass, by unit and name.
void expect_possible(const engine::Variable& variable) {
  const auto [low, high] = std::minmax_element(variable.values.begin(), variable.values.end());
  const std::string& name = variable.name;
  if (name.ends_with("temperature") && name != "air_temperature") {
    EXPECT_GT(*low, -75.0) << name;
    EXPECT_LT(*high, 100.0) << name; // water boils
  } else if (name == "core_oxygen" || name == "oxygen") {
    EXPECT_GE(*low, 0.0) << name;
    EXPECT_LE(*high, 21.0) << name;
  } else if (name.starts_with("moisture") || name.starts_with("free_air") ||
             name == "frozen_share") {
    EXPECT_GE(*low, -1e-9) << name;
    EXPECT_LE(*high, 100.0 + 1e-9) << name;
  } else if (name.ends_with("_mass") || name.ends_with("_carbon") || name.ends_with("_nitrogen") ||
             name == "volume" || name == "height" || name.starts_with("cumulative_rain")) {
    EXPECT_GE(*low, -1e-9 * std::max(1.0, *high)) << name;
  } else if (name.starts_with("closure_")) {
    EXPECT_LE(*high, name == "closure_energy" ? 1e-6 : 1e-9) << name;
  }
}

class ExtremePile : public testing::TestWithParam<Extreme> {};

TEST_P(ExtremePile, RunsToTheEndOrStopsWithAReasonAndWritesNoNaN) {
  const TemporaryFolder folder;
  std::ofstream(folder.file("pile.toml")) << pile_text(GetParam());
  const std::string command = fmt::format(
      "cd '{}' && '{}' forecast pile.toml --quiet -o results.h5 --csv tables 2> message",
      folder.file(""), HEAPCAST_BINARY);
  const auto start = std::chrono::steady_clock::now();
  const int status = std::system(command.c_str());
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  const std::string message = read_file(folder.file("message"));
  ASSERT_TRUE(WIFEXITED(status)) << message;
  const int exit_code = WEXITSTATUS(status);
  std::string outcome;
  if (exit_code == 0) {
    const engine::Dataset data = engine::read_results_file(folder.file("results.h5"));
    for (const engine::Variable& variable : data.variables) {
      const bool finite =
          std::ranges::all_of(variable.values, [](double v) { return std::isfinite(v); });
      EXPECT_TRUE(finite || excused(data, variable.name)) << variable.name << " is not a number";
      if (finite && !variable.values.empty()) {
        expect_possible(variable);
      }
    }
    for (const auto& entry : std::filesystem::directory_iterator(folder.file("tables"))) {
      const std::string text = read_file(entry.path());
      EXPECT_EQ(text.find(",nan"), std::string::npos) << entry.path();
      EXPECT_EQ(text.find("inf,"), std::string::npos) << entry.path();
    }
    const auto* core = data.variable("core_temperature");
    ASSERT_NE(core, nullptr);
    outcome = fmt::format("ran to the end; core {:.1f} to {:.1f} degC",
                          *std::ranges::min_element(core->values),
                          *std::ranges::max_element(core->values));
  } else {
    EXPECT_EQ(exit_code, 3) << message;
    EXPECT_FALSE(message.empty());
    EXPECT_FALSE(std::filesystem::exists(folder.file("results.h5")));
    outcome = "stopped: " + message;
  }
  RecordProperty(
      "extreme_" + GetParam().name,
      fmt::format("{}\t{}\t{:.1f}\t{}", GetParam().days, GetParam().resolution, seconds, outcome));
}

INSTANTIATE_TEST_SUITE_P(Piles, ExtremePile, testing::ValuesIn(extremes()),
                         [](const auto& one) { return one.param.name; });

} // namespace
} // namespace heapcast::cli
