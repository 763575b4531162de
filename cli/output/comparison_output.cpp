#include "cli/output/comparison_output.hpp"

#include "cli/output/cf_unit.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string_view>

namespace heapcast::cli {

namespace {

using engine::Dataset;
using engine::Variable;
using Json = nlohmann::ordered_json;

/// What a number or a curve is called.
struct Heading {
  std::string name, unit, long_name;
};

engine::Attributes described(const Heading& heading) {
  return {{"units", cf_unit(heading.unit)}, {"long_name", heading.long_name}};
}

/// The numbers that the first pile's runs give.
std::vector<Heading> numbers_of(const ComparedPile& pile) {
  std::vector<Heading> all;
  for (const models::RunValues& one : pile.result.numbers) {
    all.push_back({one.name, one.unit, one.long_name});
  }
  if (all.empty()) {
    for (const models::Scalar& one : pile.result.central.scalars) {
      all.push_back({one.name, one.unit, one.long_name});
    }
  }
  return all;
}

/// A curve as it lies among the times of all piles, NaN at those that are not its own.
void append_curve(std::vector<double>& values, const std::vector<double>& curve,
                  const std::vector<double>& own_h, const std::vector<double>& all_h) {
  std::size_t next = 0;
  for (const double hour : all_h) {
    const bool there = next < curve.size() && own_h[next] == hour;
    values.push_back(there ? curve[next++] : models::unset);
  }
}

Variable curve_variable(const std::vector<ComparedPile>& piles, const Heading& heading,
                        const std::vector<double>& all_h) {
  const bool bands = piles.front().runs() > 1;
  Variable variable{heading.name,
                    bands ? std::vector<std::string>{"variant", "quantile", "time"}
                          : std::vector<std::string>{"variant", "time"},
                    {},
                    {},
                    described(heading)};
  for (const ComparedPile& pile : piles) {
    const std::vector<double>& own_h = pile.result.central.time_h;
    if (bands) {
      const auto band = std::ranges::find(pile.result.bands, heading.name, &models::Band::name);
      for (const auto part : {&models::Band::low, &models::Band::mid, &models::Band::high}) {
        append_curve(variable.values,
                     band == pile.result.bands.end() ? std::vector<double>{} : (*band).*part, own_h,
                     all_h);
      }
    } else {
      const models::Series* series = pile.result.central.find_series(heading.name);
      append_curve(variable.values, series == nullptr ? std::vector<double>{} : series->values,
                   own_h, all_h);
    }
  }
  return variable;
}

Json known(double value) {
  return std::isfinite(value) ? Json(value) : Json();
}

Json results_json(const ComparedPile& pile) {
  Json results = Json::object();
  for (const Heading& heading : numbers_of(pile)) {
    const models::Spread s = models::spread(pile.counted(heading.name));
    Json& entry = results[heading.name];
    entry["value"] = known(s.mid);
    if (pile.runs() > 1) {
      entry["low"] = known(s.low);
      entry["high"] = known(s.high);
      entry["missing_runs"] = s.missing;
    }
    entry["unit"] = heading.unit;
  }
  return results;
}

Json differences_json(const ComparedPile& first, const ComparedPile& other) {
  Json all = Json::object();
  for (const Heading& heading : numbers_of(first)) {
    const auto d = difference_from(first, other, heading.name);
    if (heading.name.starts_with("closure_") || !d) {
      continue;
    }
    all[heading.name] = {{"value", known(d->mid)}, {"low", known(d->low)},
                         {"high", known(d->high)}, {"runs_less", d->less},
                         {"runs_more", d->more},   {"runs_compared", d->pairs},
                         {"unit", heading.unit}};
  }
  return all;
}

} // namespace

Dataset comparison_dataset(const std::vector<ComparedPile>& piles, const ComparisonInfo& info) {
  const ComparedPile& first = piles.front();
  const std::size_t runs = first.runs();
  std::set<double> times; // piles may be written out at steps of their own
  for (const ComparedPile& pile : piles) {
    times.insert(pile.result.central.time_h.begin(), pile.result.central.time_h.end());
  }
  const std::vector<double> hours(times.begin(), times.end());
  std::string start = first.pile->start;
  std::ranges::replace(start, 'T', ' ');

  Dataset data;
  data.attributes = {{"Conventions", std::string("CF-1.8")},
                     {"title", info.title},
                     {"source", "Heapcast " + info.context.program_version},
                     {"comment", std::string("Model estimates: measure, and follow local rules.")},
                     {"schema_version", results_schema_version},
                     {"program_version", info.context.program_version},
                     {"kind", std::string("comparison")},
                     {"seed", info.context.seed},
                     {"command_options", info.context.command_options}};
  data.dimensions = {{"variant", piles.size(), {}, {}},
                     {"run", runs, {}, {}},
                     {"time",
                      hours.size(),
                      hours,
                      {{"units", "hours since " + start + ":00"},
                       {"standard_name", std::string("time")},
                       {"calendar", std::string("standard")},
                       {"axis", std::string("T")},
                       {"long_name", std::string("time since the build of the first pile")}}}};
  if (runs > 1) {
    data.dimensions.push_back(
        {"quantile",
         3,
         {0.1, 0.5, 0.9},
         {{"units", std::string("1")}, {"long_name", std::string("share of the runs below")}}});
  }
  const auto text = [&](const char* name, const char* long_name, const auto& of) {
    Variable variable{name, {"variant"}, {}, {}, {{"long_name", std::string(long_name)}}};
    for (const ComparedPile& pile : piles) {
      variable.texts.push_back(of(pile));
    }
    data.variables.push_back(std::move(variable));
  };
  text("variant_name", "what is compared", [](const ComparedPile& p) { return p.name; });
  text("variant_start", "date of the build", [](const ComparedPile& p) { return p.pile->start; });
  text("variant_pile_file", "the pile file as read",
       [](const ComparedPile& p) { return p.pile->text; });
  text("variant_material_files", "the files of own materials as read",
       [](const ComparedPile& p) { return material_files_text(p.pile->material_files); });

  Variable decided{"ready_decided_by",
                   {"variant", "run"},
                   {},
                   {},
                   {{"long_name", std::string("criterion that came last, or is not met")}}};
  for (const ComparedPile& pile : piles) {
    const std::vector<std::string> keys = pile.decided_by();
    decided.texts.insert(decided.texts.end(), keys.begin(), keys.end());
  }
  data.variables.push_back(std::move(decided));

  for (const Heading& heading : numbers_of(first)) {
    Variable variable{heading.name, {"variant", "run"}, {}, {}, described(heading)};
    for (const ComparedPile& pile : piles) {
      const std::vector<double> values = pile.values(heading.name);
      variable.values.insert(variable.values.end(), values.begin(), values.end());
      variable.values.insert(variable.values.end(), runs - values.size(), models::unset);
    }
    data.variables.push_back(std::move(variable));
  }
  for (const models::Series& series : first.result.central.series) {
    data.variables.push_back(
        curve_variable(piles, {series.name, series.unit, series.long_name}, hours));
  }
  return data;
}

Json comparison_json(const std::vector<ComparedPile>& piles, const ComparisonInfo& info) {
  Json variants = Json::array();
  Json differences = Json::array();
  for (const ComparedPile& pile : piles) {
    Json decided = Json::object();
    for (const std::string& key : pile.decided_by()) {
      if (!key.empty()) {
        decided[key] = decided.value(key, 0) + 1;
      }
    }
    variants.push_back({{"name", pile.name},
                        {"start", pile.pile->start},
                        {"horizon_days", pile.pile->horizon_days},
                        {"failed_runs", pile.result.failed.size()},
                        {"decided_by", std::move(decided)},
                        {"results", results_json(pile)}});
    if (&pile != &piles.front()) {
      differences.push_back({{"variant", pile.name},
                             {"against", piles.front().name},
                             {"differences", differences_json(piles.front(), pile)}});
    }
  }
  return {{"schema_version", results_schema_version},
          {"program_version", info.context.program_version},
          {"title", info.title},
          {"seed", info.context.seed},
          {"runs", piles.front().runs()},
          {"variants", std::move(variants)},
          {"differences", std::move(differences)}};
}

} // namespace heapcast::cli
