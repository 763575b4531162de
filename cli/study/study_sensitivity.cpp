#include "cli/study/study_sensitivity.hpp"

#include "engine/run_pool.hpp"
#include "engine/sampling.hpp"
#include "engine/sensitivity.hpp"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <utility>
#include <variant>

namespace heapcast::cli {

namespace {

using engine::Attributes;
using engine::Variable;

std::string text_in(const Attributes& attributes, std::string_view name) {
  const auto found = std::ranges::find(attributes, name, &Attributes::value_type::first);
  const auto* text = found == attributes.end() ? nullptr : std::get_if<std::string>(&found->second);
  return text == nullptr ? "" : *text;
}

std::size_t whole_in(const Attributes& attributes, std::string_view name) {
  const auto found = std::ranges::find(attributes, name, &Attributes::value_type::first);
  const auto* number =
      found == attributes.end() ? nullptr : std::get_if<std::int64_t>(&found->second);
  return number == nullptr || *number < 1 ? 1 : static_cast<std::size_t>(*number);
}

/// The mean over the runs of each point.
std::vector<double> by_point(const std::vector<double>& values, std::size_t years) {
  std::vector<double> means(values.size() / years, 0.0);
  for (std::size_t i = 0; i < means.size() * years; ++i) {
    means[i / years] += values[i] / static_cast<double>(years);
  }
  return means;
}

/// An array over number and factor, filled with what `get` takes from each element.
template <class Element, class Get>
Variable index_table(std::string name, const std::string& long_name, const std::string& units,
                     const std::vector<std::vector<Element>>& elements, const Get& get) {
  Variable variable{std::move(name), {"number", "factor"}, {}, {}, {{"long_name", long_name}}, {}};
  if (!units.empty()) {
    variable.attributes.emplace_back("units", units);
  }
  for (const auto& row : elements) {
    for (const Element& element : row) {
      variable.values.push_back(get(element));
    }
  }
  return variable;
}

void add_estimates(engine::Dataset& data, const std::string& name, const std::string& long_name,
                   const std::vector<std::vector<engine::IndexEstimate>>& estimates) {
  const auto add = [&](const std::string& suffix, const std::string& what,
                       double engine::IndexEstimate::*member) {
    data.variables.push_back(
        index_table(name + suffix, long_name + what, "1", estimates,
                    [&](const engine::IndexEstimate& one) { return one.*member; }));
  };
  add("", "", &engine::IndexEstimate::value);
  add("_low", ", low end of its 95 % bootstrap interval", &engine::IndexEstimate::low);
  add("_high", ", high end of its 95 % bootstrap interval", &engine::IndexEstimate::high);
}

void add_sobol(engine::Dataset& data, const StudyOutputs& outputs, std::size_t years) {
  std::vector<engine::SobolIndices> indices(outputs.numbers.size());
  const engine::BootstrapOptions bootstrap{.seed = whole_in(data.attributes, "design_seed")};
  engine::run_pool(indices.size(), 0, [&](std::size_t i) {
    indices[i] = engine::sobol_indices(by_point(outputs.values[i], years), outputs.factors.size(),
                                       bootstrap);
  });
  std::vector<std::vector<engine::IndexEstimate>> first;
  std::vector<std::vector<engine::IndexEstimate>> total;
  Variable used{"sobol_blocks",
                {"number"},
                {},
                {},
                {{"long_name", std::string("blocks of points that the indices are computed from")}},
                {}};
  for (const engine::SobolIndices& one : indices) {
    first.push_back(one.first);
    total.push_back(one.total);
    used.values.push_back(static_cast<double>(one.blocks));
  }
  add_estimates(data, "sobol_first", "share of the variance due to the factor alone", first);
  add_estimates(data, "sobol_total",
                "share of the variance due to the factor and what it does with others", total);
  data.variables.push_back(std::move(used));
}

void add_morris(engine::Dataset& data, const StudyOutputs& outputs, std::size_t years) {
  const engine::Design design = engine::morris_design(
      whole_in(data.attributes, "design_points"), outputs.factors.size(),
      whole_in(data.attributes, "design_levels"), whole_in(data.attributes, "design_seed"));
  std::vector<std::vector<engine::MorrisEffect>> effects;
  for (const std::vector<double>& values : outputs.values) {
    effects.push_back(engine::morris_effects(design, by_point(values, years)));
  }
  const auto add = [&](const std::string& name, const std::string& long_name,
                       double engine::MorrisEffect::*member) {
    data.variables.push_back(
        index_table(name, long_name + ", in the number's unit over the factor's whole range", "",
                    effects, [&](const engine::MorrisEffect& one) { return one.*member; }));
  };
  add("morris_mu", "mean elementary effect", &engine::MorrisEffect::mu);
  add("morris_mu_star", "mean absolute elementary effect", &engine::MorrisEffect::mu_star);
  add("morris_sigma", "standard deviation of elementary effects", &engine::MorrisEffect::sigma);
}

} // namespace

bool has_sensitivity(const Attributes& attributes) {
  const std::string kind = text_in(attributes, "design_kind");
  return (kind == "saltelli" || kind == "morris") && text_in(attributes, "shard").empty();
}

void add_sensitivity(engine::Dataset& data, const StudyOutputs& outputs) {
  if (outputs.numbers.empty() || outputs.factors.empty()) {
    return;
  }
  std::vector<std::string> names;
  for (const Label& label : outputs.numbers) {
    names.push_back(label.name);
  }
  data.dimensions.push_back({"number", names.size(), {}, {}});
  data.dimensions.push_back({"factor", outputs.factors.size(), {}, {}});
  data.variables.push_back({"number_name",
                            {"number"},
                            {},
                            names,
                            {{"long_name", std::string("number of a run that an index is of")}},
                            {}});
  data.variables.push_back({"factor_name",
                            {"factor"},
                            {},
                            outputs.factors,
                            {{"long_name", std::string("factor that an index is of")}},
                            {}});
  const std::size_t years = whole_in(data.attributes, "weather_years");
  if (text_in(data.attributes, "design_kind") == "saltelli") {
    add_sobol(data, outputs, years);
  } else {
    add_morris(data, outputs, years);
  }
}

} // namespace heapcast::cli
