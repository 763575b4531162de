#include "validation/benchmarks/course.hpp"

#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <numeric>

namespace heapcast::benchmarks {

using models::CellField;
using models::PileDescription;
using models::PileRun;
using models::PileState;
using models::Total;

namespace {

constexpr std::size_t core_temperature = 1;
/// A range below this, in K, kg, kg/s, J or m3, is rounding: air flow in a single cell, snow in a
/// mild autumn. There is nothing to measure a difference with.
constexpr double no_range = 1e-10;

double weighted_mean(const std::vector<double>& value, const std::vector<double>& weight) {
  return std::inner_product(value.begin(), value.end(), weight.begin(), 0.0) /
         std::accumulate(weight.begin(), weight.end(), 0.0);
}

} // namespace

std::shared_ptr<const PileDescription> example_of(const Case& what) {
  return cli::read_pile_file(
             std::string(HEAPCAST_EXAMPLES_DIR) + "/01_market_garden_windrow/pile.toml",
             {"run.days=" + std::to_string(std::lround(what.days)), "run.resolution=" + what.mesh})
      .pile;
}

std::shared_ptr<const PileDescription> pile_of(const Case& what) {
  const bool lump = what.mesh == "one_cell";
  auto pile = std::make_shared<PileDescription>(
      *example_of({.days = what.days, .mesh = lump ? "coarse" : what.mesh}));
  pile->turning->schedule.when.clear();
  if (lump) {
    const double height_m = pile->shape.height_m;
    pile->shape = {};
    pile->shape.kind = models::ShapeKind::one_cell;
    pile->shape.height_m = height_m;
  }
  return pile;
}

const std::vector<std::string>& Course::names() {
  static const std::vector<std::string> all = [] {
    std::vector<std::string> n = {"core_oxygen",      "core_temperature",
                                  "mean_temperature", "skin_temperature",
                                  "max_temperature",  "moisture",
                                  "free_air_space",   "ph",
                                  "air_flow",         "volume"};
    const auto layout = models::pile_layout(1);
    for (std::size_t f = 0; f < models::integrated_fields; ++f) {
      n.emplace_back(layout.field_name(f));
    }
    for (std::size_t t = 0; t < models::total_count; ++t) {
      n.emplace_back(layout.total_name(t));
    }
    return n;
  }();
  return all;
}

std::vector<double> Course::observe(const PileRun& run) {
  const models::Readings now = run.readings();
  // The system is not const in a run only because solvers change it.
  const models::Workspace& w = const_cast<PileRun&>(run).system().workspace();
  const PileState& state = run.state();
  double inflow_kg_s = 0.0;
  for (const std::size_t f : run.site().boundary) {
    inflow_kg_s += std::max(-w.air_flow_kg_s[f], 0.0);
  }
  std::vector<double> values = {now.core_oxygen,
                                now.core_temperature_K,
                                now.mean_temperature_K,
                                now.skin_temperature_K,
                                now.max_temperature_K,
                                now.moisture,
                                weighted_mean(w.free_air_space, w.volume_m3_cell),
                                weighted_mean(w.ph, w.dry_kg),
                                inflow_kg_s,
                                w.volume_m3};
  for (std::size_t f = 0; f < models::integrated_fields; ++f) {
    values.push_back(state.sum(static_cast<CellField>(f)));
  }
  for (std::size_t t = 0; t < models::total_count; ++t) {
    values.push_back(state.total(static_cast<Total>(t)));
  }
  return values;
}

void Course::write(const std::string& path) const {
  std::ofstream out(path, std::ios::binary);
  for (const std::vector<double>& hour : hours) {
    out.write(reinterpret_cast<const char*>(hour.data()),
              static_cast<std::streamsize>(hour.size() * sizeof(double)));
  }
  if (!out) {
    throw FileError(path + ": could not be written");
  }
}

Course Course::read(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  Course course;
  std::vector<double> hour(names().size());
  while (in.read(reinterpret_cast<char*>(hour.data()),
                 static_cast<std::streamsize>(hour.size() * sizeof(double)))) {
    course.hours.push_back(hour);
  }
  if (course.hours.empty()) {
    throw FileError(path + ": holds no reference");
  }
  return course;
}

std::vector<double> Course::ranges() const {
  std::vector<double> low = hours.front();
  std::vector<double> high = low;
  for (const std::vector<double>& hour : hours) {
    for (std::size_t q = 0; q < hour.size(); ++q) {
      low[q] = std::min(low[q], hour[q]);
      high[q] = std::max(high[q], hour[q]);
    }
  }
  for (std::size_t q = 0; q < low.size(); ++q) {
    high[q] -= low[q];
  }
  return high;
}

void Comparison::see(std::size_t hour, const std::vector<double>& values) {
  const std::vector<double>& exact = reference_.hours.at(hour);
  for (std::size_t q = 0; q < values.size(); ++q) {
    const double off = std::abs(values[q] - exact[q]);
    const double share = ranges_[q] > no_range ? off / ranges_[q] : 0.0 * off;
    if (!(share <= of_[q])) {
      of_[q] = std::isnan(share) ? std::numeric_limits<double>::infinity() : share;
    }
  }
  oxygen_percent_ =
      std::max(oxygen_percent_, 100.0 * std::abs(values[Course::oxygen] - exact[Course::oxygen]));
  core_K_ = std::max(core_K_, std::abs(values[core_temperature] - exact[core_temperature]));
}

double Comparison::error() const {
  return *std::max_element(of_.begin() + 1, of_.end());
}

std::string Comparison::worst() const {
  const auto at = std::max_element(of_.begin() + 1, of_.end());
  return Course::names()[static_cast<std::size_t>(at - of_.begin())];
}

} // namespace heapcast::benchmarks
