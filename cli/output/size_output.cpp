#include "cli/output/size_output.hpp"

#include "cli/output/comparison_output.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <utility>

namespace heapcast::cli {

namespace {

using Json = nlohmann::ordered_json;
using engine::Variable;

std::vector<const TriedSize*> all_tried(const Sizing& sizing) {
  std::vector<const TriedSize*> all;
  for (const auto* list :
       {&sizing.written.sizes, &sizing.helps, &sizing.together, &sizing.helped.sizes}) {
    for (const TriedSize& tried : *list) {
      all.push_back(&tried);
    }
  }
  return all;
}

Variable met_variable(const char* name, const std::string& formula,
                      const std::vector<const TriedSize*>& all, RunsMet TriedSize::*which) {
  Variable variable{name,
                    {"variant", "run"},
                    {},
                    {},
                    {{"long_name", "whether the run meets: " + formula}},
                    {"not_met", "met"}};
  for (const TriedSize* tried : all) {
    for (const bool met : (tried->*which).by_run) {
      variable.values.push_back(met ? 1.0 : 0.0);
    }
  }
  return variable;
}

Json asked_json(const RunsMet& met) {
  if (!met.asked()) {
    return nullptr;
  }
  const ShareInterval interval = share_interval(met.count(), met.by_run.size());
  Json conditions = Json::array();
  for (const ConditionMet& one : met.conditions) {
    Json json = {{"formula", one.condition.text}, {"runs", one.kept}};
    if (!one.condition.measured.empty()) {
      const models::Spread found = models::spread(one.values);
      const auto number = [](double value) {
        return std::isfinite(value) ? Json(value) : Json(nullptr);
      };
      json["measured"] = {{"formula", one.condition.measured},
                          {"low", number(found.low)},
                          {"mid", number(found.mid)},
                          {"high", number(found.high)},
                          {"runs_without", found.missing}};
    }
    conditions.push_back(std::move(json));
  }
  return {{"runs", met.count()},
          {"probability", met.share()},
          {"low", interval.low},
          {"high", interval.high},
          {"conditions", std::move(conditions)}};
}

Json tried_json(const TriedSize& tried) {
  Json json;
  if (!tried.help.empty()) {
    json["change"] = tried.help;
  }
  json["size"] = tried.size;
  json["volume_m3"] = tried.volume_m3;
  json["mass_kg"] = tried.mass_kg;
  json["goal"] = asked_json(tried.goal);
  json["limit"] = asked_json(tried.limit);
  json["failed_runs"] = tried.runs.result.failed.size();
  return json;
}

Json list_json(const std::vector<TriedSize>& all) {
  Json list = Json::array();
  for (const TriedSize& tried : all) {
    list.push_back(tried_json(tried));
  }
  return list;
}

Json answer_json(const SizeSearch& search, const SizeAnswer& answer, const std::string& formula) {
  if (formula.empty()) {
    return nullptr;
  }
  const bool found = answer.search.found.has_value();
  return {{"formula", formula},
          {"size", found ? Json(search.sizes[answer.tried].size) : Json()},
          {"at_the_end_of_the_range", answer.search.at_low_end},
          {"holds_for_all_beyond", !answer.search.falls_at.has_value()},
          {"deepest_fall_of_probability", answer.search.deepest_fall}};
}

Json search_json(const Sizing& sizing, const SizeSearch& search) {
  return {{"answer", sizing_answer(sizing, search)},
          {"smallest", answer_json(search, search.smallest, sizing.request.goal)},
          {"largest", answer_json(search, search.largest, sizing.request.limit)},
          {"curve", list_json(search.sizes)}};
}

} // namespace

engine::Dataset sizing_dataset(const Sizing& sizing, const OutputContext& context) {
  const std::vector<const TriedSize*> all = all_tried(sizing);
  std::vector<ComparedPile> piles;
  piles.reserve(all.size());
  for (const TriedSize* tried : all) {
    piles.push_back(tried->runs);
  }
  engine::Dataset data = comparison_dataset(piles, {sizing.title, context});
  for (auto& [name, value] : data.attributes) {
    if (name == "kind") {
      value = std::string("size");
    }
  }
  data.attributes.emplace_back("size_by", std::string(size_name(sizing.request.by)));
  data.attributes.emplace_back("goal", sizing.request.goal);
  data.attributes.emplace_back("limit", sizing.request.limit);
  data.attributes.emplace_back("probability", sizing.request.probability);
  data.attributes.emplace_back("answer", sizing_answer(sizing, sizing.written));
  if (!sizing.helped.sizes.empty()) {
    data.attributes.emplace_back("answer_with_help", "With " + sizing.helped.help + ": " +
                                                         sizing_answer(sizing, sizing.helped));
  }
  const auto number = [&](const char* name, const char* unit, const char* long_name,
                          double TriedSize::*which) {
    Variable variable{name,
                      {"variant"},
                      {},
                      {},
                      {{"units", std::string(unit)}, {"long_name", std::string(long_name)}}};
    for (const TriedSize* tried : all) {
      variable.values.push_back(tried->*which);
    }
    data.variables.push_back(std::move(variable));
  };
  number("pile_size", size_unit(sizing.request.by).data(), "size at the build", &TriedSize::size);
  number("build_volume", "m3", "volume of the materials at the build", &TriedSize::volume_m3);
  number("build_mass", "kg", "mass of the materials at the build", &TriedSize::mass_kg);
  Variable help{
      "help",
      {"variant"},
      {},
      {},
      {{"long_name", std::string("what else was changed; empty for the pile as written")}}};
  for (const TriedSize* tried : all) {
    help.texts.push_back(tried->help);
  }
  data.variables.push_back(std::move(help));
  if (!sizing.request.goal.empty()) {
    data.variables.push_back(met_variable("goal_met", sizing.request.goal, all, &TriedSize::goal));
  }
  if (!sizing.request.limit.empty()) {
    data.variables.push_back(
        met_variable("limit_met", sizing.request.limit, all, &TriedSize::limit));
  }
  return data;
}

Json sizing_json(const Sizing& sizing, const OutputContext& context) {
  Json json = {{"schema_version", results_schema_version},
               {"program_version", context.program_version},
               {"title", sizing.title},
               {"seed", context.seed},
               {"runs", sizing.runs},
               {"by", size_name(sizing.request.by)},
               {"unit", size_unit(sizing.request.by)},
               {"probability", sizing.request.probability}};
  json.update(search_json(sizing, sizing.written));
  json["would_help"] = list_json(sizing.helps);
  json["could_not_be_tried"] = sizing.cannot;
  json["put_together"] = list_json(sizing.together);
  if (!sizing.helped.sizes.empty()) {
    json["with_help"] = {{"change", sizing.helped.help}};
    json["with_help"].update(search_json(sizing, sizing.helped));
  }
  return json;
}

} // namespace heapcast::cli
