// Measures order in time, order in mesh and closure on invented piles, and prints them as JSON.
// Usage: heapcast_numerics time|mesh|closure [quick]

#include "models/forecast.hpp"
#include "models/operations/build.hpp"
#include "models/pile_run.hpp"
#include "tests/models/pile_fixture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <exception>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

namespace {

using namespace heapcast;
using namespace heapcast::models;

std::string joined(const std::vector<std::string>& texts, std::string_view between) {
  std::string all;
  for (const std::string& text : texts) {
    all.append(all.empty() ? "" : between).append(text);
  }
  return all;
}

std::string json(const std::vector<double>& values) {
  std::vector<std::string> texts;
  texts.reserve(values.size());
  for (const double value : values) {
    texts.push_back(std::isfinite(value) ? fmt::format("{:.9g}", value) : std::string("null"));
  }
  return "[" + joined(texts, ", ") + "]";
}

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double largest = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
  }
  return largest;
}

/// Warm and open from the start: the draught is strong, upwards everywhere and keeps its direction,
/// so that nothing in the problem has a kink.
PileDescription warm(PileDescription pile) {
  pile.build_temperature_K = freezing_K + 45.0;
  pile.parameters.set(find_parameter("flow_size_scale"), 1.0);
  return pile;
}

// --- order in time

constexpr int hours_of_order = 8;

struct Steps {
  engine::StepControl control = PileRun::step_control();
  double tolerance = 1.0;
  bool oxygen_storage = false;
};

struct End {
  std::vector<double> temperature_K; ///< of every cell
  double rate_calls = 0.0;
};

End end_of(const PileDescription& pile, const Steps& steps) {
  PileRun run(pile, steps.control);
  run.system().set_tolerance(steps.tolerance);
  run.system().set_oxygen_storage(steps.oxygen_storage);
  for (int hour = 0; hour < hours_of_order; ++hour) {
    run.advance_hour();
  }
  End end;
  end.temperature_K = run.system().workspace().temperature_K;
  end.rate_calls = static_cast<double>(run.finish().rate_calls);
  return end;
}

Steps fixed(double step_s, bool oxygen_storage) {
  Steps steps;
  steps.control.fixed_step_s = step_s;
  steps.oxygen_storage = oxygen_storage;
  return steps;
}

struct Errors {
  std::vector<double> x, error_K, rate_calls;
};

std::string entry(const std::string& pile, const std::string& kind, const Errors& errors) {
  return fmt::format("{{\"pile\": \"{}\", \"kind\": \"{}\", \"x\": {}, \"error_K\": {}, "
                     "\"rate_calls\": {}}}",
                     pile, kind, json(errors.x), json(errors.error_K), json(errors.rate_calls));
}

Errors fixed_errors(const PileDescription& pile, double coarse_s, bool oxygen_storage) {
  const End exact = end_of(pile, fixed(3600.0 / 1024.0, oxygen_storage));
  Errors errors;
  for (const double part : {1.0, 2.0, 4.0, 8.0, 16.0}) {
    const End end = end_of(pile, fixed(coarse_s / part, oxygen_storage));
    errors.x.push_back(coarse_s / part);
    errors.error_K.push_back(largest_difference(end.temperature_K, exact.temperature_K));
    errors.rate_calls.push_back(end.rate_calls);
  }
  return errors;
}

/// Step control by its own tolerance. What it does not control, the ramp after the start, is cut
/// down with it.
Errors controlled_errors(const PileDescription& pile) {
  const End exact = end_of(pile, fixed(3600.0 / 1024.0, false));
  Errors errors;
  for (const double tolerance : {10.0, 1.0, 0.1, 0.01, 1e-3, 1e-4}) {
    Steps steps;
    steps.tolerance = tolerance;
    steps.control.growth_after_event = 0.0;
    const End end = end_of(pile, steps);
    errors.x.push_back(tolerance);
    errors.error_K.push_back(largest_difference(end.temperature_K, exact.temperature_K));
    errors.rate_calls.push_back(end.rate_calls);
  }
  return errors;
}

void print_time() {
  std::vector<std::string> entries;
  for (const auto& [name, pile, step_s] :
       {std::tuple{std::string("heap"), warm(tests::mild_heap(1.0)), 1800.0},
        {std::string("windrow"), warm(tests::windrow(1.0)), 1800.0},
        {std::string("one cell"), tests::lumped_heap(1.0), 3600.0}}) {
    entries.push_back(entry(name, "fixed step", fixed_errors(pile, step_s, false)));
    if (name != "one cell") {
      entries.push_back(entry(name, "fixed step, oxygen stored", fixed_errors(pile, 450.0, true)));
    }
    entries.push_back(entry(name, "controlled", controlled_errors(pile)));
  }
  std::printf("[%s]\n", joined(entries, ",\n").c_str());
}

// --- order in mesh

struct Cut {
  int shells, sectors; ///< of a section
  int rings, layers;   ///< of a container
};

/// About 25, 50, 100, 200, 400, 800 and 1600 cells; the first, third and fifth are the program's
/// coarse, standard and fine mesh.
constexpr Cut cuts[] = {{5, 6, 4, 6},     {7, 8, 6, 8},     {10, 11, 8, 12}, {13, 17, 11, 18},
                        {17, 25, 16, 25}, {24, 35, 22, 36}, {33, 50, 32, 50}};

engine::Mesh mesh_of(const PileDescription& pile, const Cut& cut) {
  const double volume_m3 = ingredients_volume_m3(pile);
  const Shape s = complete_shape(pile.shape, volume_m3);
  const engine::SectionResolution section{cut.shells, cut.sectors};
  switch (s.kind) {
  case ShapeKind::windrow:
    return engine::make_prism({.height_m = s.height_m,
                               .base_width_m = s.width_m,
                               .top_width_m = s.top_width_m,
                               .length_m = s.length_m},
                              section);
  case ShapeKind::bin: {
    const double plan_m2 = s.width_m * s.length_m;
    return engine::make_container({volume_m3 / plan_m2, plan_m2, 2.0 * (s.width_m + s.length_m)},
                                  cut.rings, cut.layers);
  }
  default:
    return engine::make_mound({.height_m = s.height_m, .base_diameter_m = s.width_m}, section);
  }
}

ForecastResult course(PileRun& run, double days) {
  const long hours = std::lround(24.0 * days);
  for (long hour = 0; hour < hours; ++hour) {
    run.do_events();
    run.advance_hour();
  }
  return run.finish();
}

void print_mesh(bool quick) {
  constexpr double days = 30.0;
  const tests::Climate showery{.shower_kg_m2_h = 1.0};
  std::vector<std::pair<std::string, PileDescription>> piles = {
      {"heap", tests::mild_heap(days, showery)},
      {"windrow", tests::windrow(days, showery)},
      {"bin", tests::slatted_bin(days, showery)}};
  std::vector<std::string> entries;
  for (auto& [name, pile] : piles) {
    pile.turning = tests::turning(name == "windrow" ? TurnMethod::windrow_turner : TurnMethod::fork,
                                  10.0, 10.0);
    const std::size_t count = quick ? 5 : std::size(cuts);
    for (std::size_t i = 0; i < count; ++i) {
      engine::Mesh mesh = mesh_of(pile, cuts[i]);
      const std::size_t cells = mesh.cells();
      PileRun run(pile, std::move(mesh));
      const ForecastResult result = course(run, days);
      entries.push_back(fmt::format(
          "{{\"pile\": \"{}\", \"cells\": {}, \"carbon_lost\": {:.9g}, \"water_kg\": {:.9g}, "
          "\"core_C\": {}, \"mean_C\": {}}}",
          name, cells, result.find_scalar("carbon_lost_fraction")->value,
          result.find_series("water_mass")->values.back(),
          json(result.find_series("core_temperature")->values),
          json(result.find_series("mean_temperature")->values)));
    }
  }
  std::printf("[%s]\n", joined(entries, ",\n").c_str());
}

// --- closure

struct Story {
  std::string name;
  PileDescription pile;
};

std::vector<Story> stories(double days) {
  const tests::Climate year{.mean_C = 4.0,
                            .daily_swing_K = 5.0,
                            .slow_swing_K = 12.0,
                            .shower_kg_m2_h = 3.0,
                            .shower_every_h = 60,
                            .shower_hours = 6};
  std::vector<Story> all;
  PileDescription heap = tests::mild_heap(days, year);
  heap.turning = tests::turning(TurnMethod::fork, 5.0, 3.0);
  heap.turning->water_to_moisture = 0.65;
  heap.cover_changes = {{20.0, {.kind = CoverKind::tarp}}, {50.0, {.kind = CoverKind::none}}};
  all.push_back({"heap: turned every 5 days, watered, covered, snowed on", heap});
  PileDescription bin = tests::slatted_bin(days, year);
  tests::Addition weekly = tests::weekly_addition();
  weekly.schedule.until_day = 60.0;
  bin.additions = {weekly};
  bin.turning = tests::turning(TurnMethod::fork, 21.0, 10.0);
  bin.watering = Watering{};
  bin.watering->schedule.every_days = 6.0;
  bin.watering->litres = 30.0;
  all.push_back({"bin: fed weekly, watered, turned", bin});
  PileDescription windrow = tests::windrow(days, year);
  windrow.shape.wind_exposed = true;
  windrow.turning = tests::turning(TurnMethod::windrow_turner, 3.0, 3.0);
  windrow.aeration.pipes = true;
  windrow.aeration.fan_m3_h = 15.0;
  windrow.aeration.on_minutes_h = 20.0;
  all.push_back({"windrow: in wind, blown, turned every 3 days", windrow});
  return all;
}

void print_closure(bool quick) {
  const double days = quick ? 60.0 : 365.0;
  std::vector<std::string> entries;
  for (const Story& story : stories(days)) {
    PileRun run(story.pile);
    std::vector<std::vector<double>> course(5);
    const long hours = std::lround(24.0 * days);
    for (long hour = 0; hour < hours; ++hour) {
      run.do_events();
      run.advance_hour();
      for (std::size_t i = 0; i < course.size(); ++i) {
        course[i].push_back(run.closure()[i]);
      }
    }
    const ForecastResult result = run.finish();
    entries.push_back(fmt::format(
        "{{\"story\": \"{}\", \"days\": {}, \"events\": {}, \"water\": {}, \"carbon\": {}, "
        "\"nitrogen\": {}, \"ash\": {}, \"energy\": {}}}",
        story.name, days, result.events.size(), json(course[0]), json(course[1]), json(course[2]),
        json(course[3]), json(course[4])));
  }
  std::printf("[%s]\n", joined(entries, ",\n").c_str());
}

} // namespace

int main(int argc, char** argv) {
  const std::string_view what = argc > 1 ? argv[1] : "";
  const bool quick = argc > 2 && std::string_view(argv[2]) == "quick";
  try {
    if (what == "time") {
      print_time();
    } else if (what == "mesh") {
      print_mesh(quick);
    } else if (what == "closure") {
      print_closure(quick);
    } else {
      std::fputs("usage: heapcast_numerics time|mesh|closure [quick]\n", stderr);
      return 2;
    }
  } catch (const std::exception& error) {
    std::fprintf(stderr, "heapcast_numerics: %s\n", error.what());
    return 3;
  }
  return 0;
}
