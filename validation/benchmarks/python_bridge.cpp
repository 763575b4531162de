#include "validation/benchmarks/python_bridge.hpp"

#include "validation/benchmarks/course.hpp"

#include <dlfcn.h>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <span>

namespace heapcast::benchmarks {

int run_python(const std::vector<std::string>& arguments) {
  constexpr int not_there = 77;
  void* library = nullptr;
  for (const char* name :
       {"libpython3.11.so.1.0", "libpython3.so", "libpython3.12.so.1.0", "libpython3.13.so.1.0"}) {
    library = library != nullptr ? library : dlopen(name, RTLD_NOW | RTLD_GLOBAL);
  }
  void* symbol = library != nullptr ? dlsym(library, "Py_BytesMain") : nullptr;
  if (symbol == nullptr) {
    std::fprintf(stderr, "no Python library to load\n");
    return not_there;
  }
  std::vector<std::string> texts = {"python3"};
  texts.insert(texts.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  argv.reserve(texts.size());
  for (std::string& text : texts) {
    argv.push_back(text.data());
  }
  const auto main_of_python = reinterpret_cast<int (*)(int, char**)>(symbol);
  return main_of_python(static_cast<int>(argv.size()), argv.data());
}

namespace {

/// One run that a script takes through its hours.
struct ScriptRun {
  std::shared_ptr<const models::PileDescription> pile;
  models::PileRun run;
  bool full;
  std::vector<double> whole, last;
  explicit ScriptRun(const Case& what, bool with_oxygen)
      : pile(pile_of(what)), run(*pile), full(with_oxygen) {
    run.system().set_oxygen_storage(full);
  }
  [[nodiscard]] std::size_t states() { return run.system().size(); }
  [[nodiscard]] std::size_t oxygen() const { return full ? run.site().mesh.cells() : 0; }
};

} // namespace
} // namespace heapcast::benchmarks

using heapcast::benchmarks::Course;
using heapcast::benchmarks::ScriptRun;

// For ctypes. A state is that of the integrated fields and totals, then oxygen a cell where it is
// integrated.
extern "C" {

ScriptRun* heapcast_new(double days, const char* mesh, int full) {
  return new ScriptRun({.days = days, .mesh = mesh}, full != 0);
}
void heapcast_delete(ScriptRun* r) {
  delete r;
}
int heapcast_size(ScriptRun* r) {
  return static_cast<int>(r->states() + r->oxygen());
}
int heapcast_quantities() {
  return static_cast<int>(Course::names().size());
}
/// Error allowed per step by a forecast; infinite where there is no control.
void heapcast_scale(ScriptRun* r, const double* y, double* scale) {
  constexpr double oxygen = 1e-4;
  const std::span<const double> s = r->run.system().error_scale({y, r->states()});
  std::copy(s.begin(), s.end(), scale);
  std::fill(scale + r->states(), scale + r->states() + r->oxygen(), oxygen);
}
/// 0, or 1 where the state is impossible.
int heapcast_rates(ScriptRun* r, double t_s, const double* y, double* dydt) {
  try {
    const std::size_t n = r->states();
    if (r->full) {
      r->run.system().rates_with_oxygen(t_s, {y, n}, {y + n, r->oxygen()}, {dydt, n},
                                        {dydt + n, r->oxygen()});
    } else {
      r->run.system().rates(t_s, {y, n}, {dydt, n});
    }
    return 0;
  } catch (const std::exception&) {
    return 1;
  }
}
/// Whether rain sets in or stops at t.
int heapcast_jumps(ScriptRun* r, double t_s) {
  return r->run.site().forcing.precipitation_jumps_at(t_s) ? 1 : 0;
}
/// One hour: events, then `advance(y, t, t_end)`, which changes y.
void heapcast_hour(ScriptRun* r, void (*advance)(double*, double, double), double* observed) {
  r->run.do_events();
  r->run.advance_hour([&](heapcast::models::PileSystem& system, std::vector<double>& y, double t_s,
                          double t_end_s) {
    const std::size_t n = r->states();
    r->whole = y;
    const std::vector<double>& x = system.workspace().oxygen_before;
    r->whole.insert(r->whole.end(), x.begin(),
                    x.begin() + static_cast<std::ptrdiff_t>(r->oxygen()));
    advance(r->whole.data(), t_s, t_end_s);
    std::vector<double> slope(r->whole.size());
    (void)heapcast_rates(r, t_end_s, r->whole.data(), slope.data());
    std::copy(r->whole.begin(), r->whole.begin() + static_cast<std::ptrdiff_t>(n), y.begin());
    system.end_step(t_end_s, y);
  });
  const std::vector<double> values = Course::observe(r->run);
  std::copy(values.begin(), values.end(), observed);
}
}
