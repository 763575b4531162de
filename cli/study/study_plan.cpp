#include "cli/study/study_plan.hpp"

#include "models/ensemble/ensemble.hpp"

#include <algorithm>
#include <limits>
#include <numeric>
#include <set>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::size_t most_points = std::size_t{1} << 31U;

engine::Design design_of(const Study& study) {
  const std::size_t factors = study.factors.size();
  std::vector<std::size_t> levels;
  std::vector<std::size_t> base;
  for (const Factor& factor : study.factors) {
    levels.push_back(factor.levels.size());
    base.push_back(factor.base);
  }
  switch (study.kind) {
  case DesignKind::grid:
    return engine::full_grid(levels);
  case DesignKind::one_at_a_time:
    return engine::one_at_a_time(levels, base);
  case DesignKind::latin_hypercube:
    return engine::latin_hypercube(study.points, factors, study.seed);
  case DesignKind::sobol:
    return engine::sobol_sequence(study.points, factors, study.seed);
  case DesignKind::saltelli:
    return engine::saltelli_design(study.points, factors, study.seed);
  case DesignKind::morris:
    return engine::morris_design(study.points, factors, study.morris_levels, study.seed);
  }
  return {};
}

/// Keys whose texts decide into how many cells a section is cut.
bool shapes(const Factor& factor) {
  static const std::set<std::string, std::less<>> keys = {
      "pile.shape", "pile.round", "pile.profile", "pile.wind_exposed", "run.resolution"};
  return keys.contains(factor.key);
}

/// The year that stands `place` places behind the pile's own, from the first again after the last.
models::WeatherYear year_after_own(const models::PileDescription& pile, std::size_t place) {
  const std::vector<models::WeatherYear> years = models::weather_years(pile);
  if (place >= years.size()) {
    throw InputError(
        "design.weather_years",
        fmt::format("the weather holds the pile's dates in {} years alone", years.size()),
        "give more years of weather");
  }
  const auto own = std::ranges::find(years, pile.start, &models::WeatherYear::start);
  const auto first = static_cast<std::size_t>(own == years.end() ? 0 : own - years.begin());
  return years[(first + place) % years.size()];
}

} // namespace

StudyPlan::StudyPlan(const Study& study) : study_(study) {
  try {
    design_ = design_of(study);
  } catch (const std::length_error&) {
    design_.size = std::numeric_limits<std::size_t>::max();
  }
  if (design_.size > most_points || design_.size * study.weather_years > most_points) {
    throw InputError("design", "has more than 2 thousand million runs",
                     "leave out factors or values, or sample with kind = \"sobol\"");
  }
  // By constraint: the factors of its names.
  std::vector<std::vector<std::size_t>> places;
  for (const Expression& constraint : study.constraints) {
    std::vector<std::size_t>& of_names = places.emplace_back();
    for (const std::string& name : constraint.names()) {
      const auto found = std::ranges::find(study.factors, name, &Factor::name);
      of_names.push_back(static_cast<std::size_t>(found - study.factors.begin()));
    }
  }
  for (std::size_t i = 0; i < design_.size; ++i) {
    if (study.constraints.empty() || allowed(values_at(i), places)) {
      accepted_.push_back(static_cast<std::uint32_t>(i));
    }
  }
  left_out_ = design_.size - accepted_.size();
  if (accepted_.empty()) {
    throw InputError("design.constraints", "rule out every point of the design",
                     "loosen a constraint, or widen a factor's range");
  }
}

std::vector<FactorValue> StudyPlan::values_at(std::size_t point) const {
  const std::vector<double> shares = design_.point(point);
  std::vector<FactorValue> values;
  values.reserve(shares.size());
  for (std::size_t j = 0; j < shares.size(); ++j) {
    values.push_back(study_.factors[j].at(shares[j]));
  }
  return values;
}

bool StudyPlan::allowed(const std::vector<FactorValue>& values,
                        const std::vector<std::vector<std::size_t>>& places) const {
  for (std::size_t c = 0; c < places.size(); ++c) {
    std::vector<double> numbers;
    for (const std::size_t place : places[c]) {
      numbers.push_back(values[place].number);
    }
    if (!study_.constraints[c].holds(numbers)) {
      return false;
    }
  }
  return true;
}

std::vector<FactorValue> StudyPlan::values(std::size_t run) const {
  return values_at(point(run));
}

PileFile StudyPlan::file_of(const std::vector<FactorValue>& values) const {
  std::vector<std::string> changes;
  std::string words;
  for (std::size_t j = 0; j < values.size(); ++j) {
    const Factor& factor = study_.factors[j];
    // A parameter's number needs no reading; of a text with its unit there the reader knows more.
    if (!factor.parameter || values[j].toml.starts_with('"')) {
      changes.push_back(fmt::format("{}={}", factor.key, values[j].toml));
      words += changes.back() + '\n';
    }
  }
  if (changes.empty()) {
    return study_.pile;
  }
  {
    const std::scoped_lock lock(mutex_);
    if (const auto found = files_.find(words); found != files_.end()) {
      return found->second;
    }
  }
  PileFile file = study_.pile_with(changes);
  constexpr std::size_t most_kept = 32;
  const std::scoped_lock lock(mutex_);
  if (files_.size() >= most_kept) {
    files_.clear();
  }
  files_.emplace(words, file);
  return file;
}

std::shared_ptr<const models::PileDescription> StudyPlan::pile(std::size_t run) const {
  const std::vector<FactorValue> point = values(run);
  const PileFile file = file_of(point);
  auto pile = std::make_shared<models::PileDescription>(*file.pile);
  for (std::size_t j = 0; j < point.size(); ++j) {
    const Factor& factor = study_.factors[j];
    if (factor.parameter && !point[j].toml.starts_with('"')) {
      pile->parameters.set(*factor.parameter, point[j].number);
    }
  }
  if (const std::size_t place = weather_year(run); place > 0) {
    const models::WeatherYear year = file.year ? file.year(place) : year_after_own(*pile, place);
    pile->weather = year.weather;
    pile->start_hour_in_weather = year.start_hour_in_weather;
    pile->start = year.start;
  }
  return pile;
}

std::vector<std::size_t> StudyPlan::in_order_of_shape(std::vector<std::size_t> runs) const {
  std::vector<std::size_t> places;
  for (std::size_t j = 0; j < study_.factors.size(); ++j) {
    if (shapes(study_.factors[j])) {
      places.push_back(j);
    }
  }
  if (places.empty()) {
    return runs;
  }
  std::map<std::string, std::vector<std::size_t>> groups;
  for (const std::size_t run : runs) {
    std::string words;
    const std::vector<FactorValue> point = values(run);
    for (const std::size_t j : places) {
      words += point[j].toml + '\n';
    }
    groups[words].push_back(run);
  }
  runs.clear();
  for (const auto& [words, group] : groups) {
    runs.insert(runs.end(), group.begin(), group.end());
  }
  return runs;
}

} // namespace heapcast::cli
