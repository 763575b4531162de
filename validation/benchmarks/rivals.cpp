// Measurements for validation/benchmarks/run.py: one case per call, one line of JSON each, so that
// the peak memory is the case's own. `rivals --help` lists them.

#include "engine/errors.hpp"
#include "engine/integrator.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"
#include "models/operations/build.hpp"
#include "validation/benchmarks/course.hpp"
#include "validation/benchmarks/python_bridge.hpp"
#include "validation/benchmarks/rival.hpp"

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <fstream>
#include <limits>
#include <optional>
#include <string>

namespace heapcast::benchmarks {
namespace {

using Json = nlohmann::ordered_json;
using models::PileDescription;
using models::PileRun;
using models::PileSystem;

double process_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

double wall_seconds() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

/// Largest memory of this program so far. getrusage would count the process that it was forked
/// from.
double peak_MB() {
  std::ifstream status("/proc/self/status");
  std::string line;
  const std::string name = "VmHWM:";
  while (std::getline(status, line)) {
    if (line.rfind(name, 0) == 0) {
      return std::stod(line.substr(name.size())) / 1024.0;
    }
  }
  return std::numeric_limits<double>::quiet_NaN(); // no Linux
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return 0.5 * (values[(n - 1) / 2] + values[n / 2]);
}

long hours_of(const PileDescription& pile) {
  return std::lround(24.0 * pile.horizon_days);
}

struct RunSettings {
  Case what;
  std::string solver = "heapcast";
  std::string equations = "full";
  double factor = 1.0;
  double most_seconds = 1e9;
  double most_error = std::numeric_limits<double>::infinity();
  bool stop_hourly = false;
  int repeats = 1;
  std::string reference, output;
};

Json counted(const Counts& c, std::size_t cells) {
  return {{"ms", 1e3 * c.seconds},
          {"calls", c.calls},
          {"steps", c.steps},
          {"rejected", c.rejected},
          {"jacobians", c.jacobians},
          {"restarts", c.restarts},
          {"ns_per_cell_and_call",
           1e9 * c.seconds / static_cast<double>(c.calls) / static_cast<double>(cells)}};
}

/// One run through all its hours. With a reference it stops as soon as it is off by more than
/// `most_error`: that tolerance is too loose, and how long it would have taken is of no use.
Json one_run(const PileDescription& pile, const RunSettings& s, const Course* reference,
             Course* course) {
  PileRun run(pile);
  RivalOptions options{.equations = s.equations == "full" ? Equations::full : Equations::algebraic,
                       .factor = s.factor,
                       .most_seconds = s.most_seconds,
                       .stop_hourly = s.stop_hourly,
                       .mesh = &run.site().mesh};
  if (options.equations == Equations::algebraic) {
    run.system().set_oxygen_storage(false);
  }
  const std::unique_ptr<Rival> rival = make_rival(s.solver, options);
  rival->set_forcing(run.site().forcing);
  std::optional<Comparison> comparison;
  if (reference != nullptr) {
    comparison.emplace(*reference);
  }
  const double began_s = process_seconds();
  std::string end = "done";
  long hour = 0;
  try {
    for (; hour < hours_of(pile); ++hour) {
      run.do_events();
      run.advance_hour([&](PileSystem& system, std::vector<double>& y, double t_s, double t_end_s) {
        rival->take(system, y, t_s, t_end_s);
      });
      if (course != nullptr || comparison) {
        const std::vector<double> now = Course::observe(run);
        if (course != nullptr) {
          course->hours.push_back(now);
        }
        if (comparison) {
          comparison->see(static_cast<std::size_t>(hour), now);
          if (!(comparison->error() <= s.most_error)) {
            end = "too inaccurate";
            break;
          }
        }
      }
    }
  } catch (const TooSlow&) {
    end = "too slow";
  } catch (const std::exception& e) {
    end = std::string("failed: ") + e.what();
  }
  Json line = {{"solver", s.solver},
               {"equations", s.equations},
               {"mesh", s.what.mesh},
               {"cells", run.site().mesh.cells()},
               {"days", s.what.days},
               {"factor", s.factor},
               {"end", end},
               {"hours", hour},
               {"run_ms", 1e3 * (process_seconds() - began_s)}};
  line.update(counted(rival->counts(), run.site().mesh.cells()));
  if (comparison) {
    line.update({{"error", comparison->error()},
                 {"worst", comparison->worst()},
                 {"core_K", comparison->core_K()},
                 {"oxygen_percent", comparison->oxygen_percent()}});
  }
  return line;
}

Json run_solver(const RunSettings& s) {
  const auto pile = pile_of(s.what);
  std::optional<Course> reference;
  if (!s.reference.empty()) {
    reference = Course::read(s.reference);
  }
  Course course;
  std::vector<double> ms;
  Json line;
  for (int i = 0; i < s.repeats; ++i) {
    line =
        one_run(*pile, s, reference ? &*reference : nullptr, s.output.empty() ? nullptr : &course);
    ms.push_back(line["ms"].get<double>());
  }
  line["ms"] = median(ms);
  line["repeats"] = s.repeats;
  line["peak_MB"] = peak_MB();
  if (!s.output.empty()) {
    course.write(s.output);
  }
  return line;
}

/// Largest differences of one course from another: is a reference one?
Json compare(const std::string& a, const std::string& b) {
  const Course one = Course::read(a);
  const Course other = Course::read(b);
  Comparison comparison(one);
  for (std::size_t hour = 0; hour < std::min(one.hours.size(), other.hours.size()); ++hour) {
    comparison.see(hour, other.hours[hour]);
  }
  return {{"error", comparison.error()},
          {"worst", comparison.worst()},
          {"core_K", comparison.core_K()},
          {"oxygen_percent", comparison.oxygen_percent()}};
}

/// The whole forecast as a user gets it: the example as it is, curves and rules and all.
Json forecast(const Case& what, int repeats) {
  const auto pile = example_of(what);
  std::vector<double> ms;
  models::ForecastResult result;
  for (int i = 0; i < repeats; ++i) {
    const double began_s = process_seconds();
    result = models::run_forecast(*pile);
    ms.push_back(1e3 * (process_seconds() - began_s));
  }
  return {{"mesh", what.mesh},
          {"cells", result.cell_x_m.size()},
          {"days", what.days},
          {"ms", median(ms)},
          {"repeats", repeats},
          {"steps", result.steps},
          {"rejected", result.rejected_steps},
          {"calls", result.rate_calls},
          {"ns_per_cell_and_call", 1e6 * median(ms) / static_cast<double>(result.rate_calls) /
                                       static_cast<double>(result.cell_x_m.size())},
          {"peak_MB", peak_MB()}};
}

/// Many runs of one pile with drawn parameters, as a forecast with intervals does.
Json ensemble(const Case& what, std::size_t runs, unsigned threads) {
  const std::vector<std::shared_ptr<const PileDescription>> piles = {example_of(what)};
  const double began_s = process_seconds();
  const double began_wall_s = wall_seconds();
  models::EnsembleOptions options;
  options.runs = runs;
  options.threads = threads;
  const auto result = models::run_ensembles(piles, options);
  const double wall_s = wall_seconds() - began_wall_s;
  const double cpu_s = process_seconds() - began_s;
  const auto done = static_cast<double>(runs + 1); // and the central run
  return {{"mesh", what.mesh},
          {"days", what.days},
          {"runs", runs},
          {"threads", threads},
          {"failed", result.front().failed.size()},
          {"cpu_s", cpu_s},
          {"wall_s", wall_s},
          {"runs_per_s_and_core", done / cpu_s},
          {"runs_per_s", done / wall_s},
          {"peak_MB", peak_MB()}};
}

/// The integrator alone on the example's windrow with a mesh of chosen size, not turned.
Json cells(const Case& what, engine::SectionResolution section, int repeats) {
  const auto pile = pile_of(what);
  const double volume = models::ingredients_volume_m3(*pile);
  const models::Shape shape = models::complete_shape(pile->shape, volume);
  const models::PileSite site(*pile, engine::make_prism({.height_m = shape.height_m,
                                                         .base_width_m = shape.width_m,
                                                         .top_width_m = shape.top_width_m,
                                                         .length_m = shape.length_m},
                                                        section));
  std::vector<double> ms;
  long steps = 0;
  long calls = 0;
  for (int i = 0; i < repeats; ++i) {
    models::PileState state(site.mesh.cells());
    models::fill_pile(*pile, site.mesh, site.coefficients, site.forcing.at(0.0).air_temperature_K,
                      state);
    PileSystem system(site, state);
    engine::Integrator integrator(system, PileRun::step_control());
    std::vector<double> y(state.y.begin(),
                          state.y.begin() + static_cast<std::ptrdiff_t>(system.size()));
    system.after_event(0.0, 1.0, false);
    integrator.restart(0.0);
    system.evaluate(0.0, y);
    const double began_s = process_seconds();
    for (long hour = 0; hour < hours_of(*pile); ++hour) {
      const double t_s = models::seconds_per_hour * static_cast<double>(hour);
      integrator.advance(y, t_s, t_s + models::seconds_per_hour);
    }
    ms.push_back(1e3 * (process_seconds() - began_s));
    steps = integrator.steps();
    calls = integrator.rate_calls();
  }
  return {{"cells", site.mesh.cells()},
          {"days", what.days},
          {"ms", median(ms)},
          {"repeats", repeats},
          {"steps", steps},
          {"calls", calls},
          {"ns_per_cell_and_call",
           1e6 * median(ms) / static_cast<double>(calls) / static_cast<double>(site.mesh.cells())},
          {"peak_MB", peak_MB()}};
}

/// Do the rates follow from (t, y) alone, whatever was asked before? A solver that goes back and
/// forth needs that. The state of day `days`, one where every cell is 0.5 K warmer, and the first
/// again: the largest difference of the two answers to the same question, over the largest rate of
/// the field.
Json repeatable(const Case& what, const std::string& equations) {
  const auto pile = pile_of(what);
  PileRun run(*pile);
  const bool full = equations == "full";
  run.system().set_oxygen_storage(full);
  for (long hour = 0; hour < hours_of(*pile); ++hour) {
    run.do_events();
    run.advance_hour();
  }
  PileSystem& system = run.system();
  const std::size_t n = system.size();
  const std::vector<double> y(run.state().y.begin(),
                              run.state().y.begin() + static_cast<std::ptrdiff_t>(n));
  const std::vector<double> x = system.workspace().oxygen_before;
  const double t_s = run.day() * models::seconds_per_day;
  const auto ask = [&](const std::vector<double>& at) {
    std::vector<double> slope(n + x.size());
    if (full) {
      system.rates_with_oxygen(t_s, at, x, {slope.data(), n}, {slope.data() + n, x.size()});
    } else {
      system.rates(t_s, at, {slope.data(), n});
    }
    return slope;
  };
  const auto layout = models::pile_layout(x.size());
  std::vector<double> other = y;
  const std::size_t heat = layout.field(static_cast<std::size_t>(models::CellField::enthalpy));
  for (std::size_t i = 0; i < x.size(); ++i) {
    other[heat + i] *= 1.02;
  }
  const std::vector<double> first = ask(y);
  (void)ask(other);
  const std::vector<double> again = ask(y);
  double worst = 0.0;
  for (std::size_t f = 0; f < models::integrated_fields; ++f) {
    double largest = 0.0;
    double off = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
      const std::size_t at = layout.field(f) + i;
      largest = std::max(largest, std::abs(first[at]));
      off = std::max(off, std::abs(first[at] - again[at]));
    }
    worst = std::max(worst, largest > 0.0 ? off / largest : 0.0);
  }
  return {{"equations", equations}, {"mesh", what.mesh}, {"largest_difference", worst}};
}

int run(int argc, char** argv) {
  CLI::App app("Speed of the pile's integrator and of others on the same equations");
  app.require_subcommand(1);
  RunSettings s;
  int threads = 1;
  std::size_t runs = 16;
  engine::SectionResolution section;
  std::string a, b;
  std::vector<std::string> python;

  const auto add_case = [&s](CLI::App* c) {
    c->add_option("--days", s.what.days);
    c->add_option("--mesh", s.what.mesh)
        ->check(CLI::IsMember({"coarse", "standard", "fine", "one_cell"}));
    c->add_option("--repeats", s.repeats);
  };
  CLI::App* solver = app.add_subcommand("run", "one pile by one solver");
  add_case(solver);
  solver->add_option("--solver", s.solver);
  solver->add_option("--equations", s.equations)->check(CLI::IsMember({"full", "algebraic"}));
  solver->add_option("--factor", s.factor, "tolerance, in units of a forecast's");
  solver->add_option("--most-seconds", s.most_seconds);
  solver->add_option("--most-error", s.most_error, "of a quantity's range; stops beyond");
  solver->add_flag("--stop-hourly", s.stop_hourly);
  solver->add_option("--reference", s.reference, "course to compare with");
  solver->add_option("--write", s.output, "file for the course");
  solver->callback([&] { std::puts(run_solver(s).dump().c_str()); });

  CLI::App* compared = app.add_subcommand("compare", "two courses");
  compared->add_option("a", a)->required();
  compared->add_option("b", b)->required();
  compared->callback([&] { std::puts(compare(a, b).dump().c_str()); });

  CLI::App* whole = app.add_subcommand("forecast", "the example as it is");
  add_case(whole);
  whole->callback([&] { std::puts(forecast(s.what, s.repeats).dump().c_str()); });

  CLI::App* many = app.add_subcommand("ensemble", "many runs of the example");
  add_case(many);
  many->add_option("--runs", runs);
  many->add_option("--threads", threads);
  many->callback(
      [&] { std::puts(ensemble(s.what, runs, static_cast<unsigned>(threads)).dump().c_str()); });

  CLI::App* sized = app.add_subcommand("cells", "the integrator alone on a mesh of chosen size");
  add_case(sized);
  sized->add_option("--shells", section.shells);
  sized->add_option("--sectors", section.sectors);
  sized->callback([&] { std::puts(cells(s.what, section, s.repeats).dump().c_str()); });

  CLI::App* same = app.add_subcommand("repeatable", "whether rates follow from (t, y) alone");
  add_case(same);
  same->add_option("--equations", s.equations)->check(CLI::IsMember({"full", "algebraic"}));
  same->callback([&] { std::puts(repeatable(s.what, s.equations).dump().c_str()); });

  CLI::App* script = app.add_subcommand("python", "a Python script that calls this program");
  script->prefix_command();
  int status = 0;
  script->callback([&] { status = run_python(script->remaining()); });

  CLI11_PARSE(app, argc, argv);
  return status;
}

} // namespace
} // namespace heapcast::benchmarks

int main(int argc, char** argv) {
  try {
    return heapcast::benchmarks::run(argc, argv);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "rivals: %s\n", e.what());
    return 1;
  }
}
