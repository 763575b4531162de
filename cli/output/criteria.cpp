#include "cli/output/criteria.hpp"

#include "models/readiness/use.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace heapcast::cli {

namespace {

struct TextPart {
  const char* name;
  std::string CriterionFacts::*text;
  const char* long_name;
};
constexpr std::array<TextPart, 5> text_parts = {
    {{"criterion_key", &CriterionFacts::key, "name of the measure in the names of results"},
     {"criterion_title", &CriterionFacts::title, "what is measured"},
     {"criterion_unit", &CriterionFacts::unit, "unit of the limit"},
     {"criterion_source", &CriterionFacts::source, "where the limit comes from"},
     {"criterion_provenance", &CriterionFacts::provenance,
      "how the source is known: read, memory, common practice, judgement or given"}}};

CriterionFacts facts(const models::Use& use, models::Measure measure) {
  const models::MeasureRow& row = models::measure_row(measure);
  const auto asked = std::ranges::find(use.criteria, measure, &models::Criterion::measure);
  CriterionFacts one{.key = std::string(row.key),
                     .title = std::string(row.title),
                     .unit = std::string(row.unit),
                     .asked = asked != use.criteria.end(),
                     .source = "as the pile file asks",
                     .provenance = "given"};
  one.limit = one.asked ? asked->limit : models::built_in_limit(models::default_use, measure);
  const std::string_view name = one.asked ? std::string_view(use.name) : models::default_use;
  for (const models::UseRow& known : models::use_table()) {
    if (known.name == name && known.measure == measure && known.limit == one.limit) {
      one.source = known.source;
      one.provenance = known.provenance;
    }
  }
  return one;
}

} // namespace

void add_criteria(engine::Dataset& data, const models::PileDescription& pile) {
  const models::Use use = models::judged_use(pile);
  std::vector<CriterionFacts> all;
  for (std::size_t m = 0; m < static_cast<std::size_t>(models::Measure::count); ++m) {
    all.push_back(facts(use, static_cast<models::Measure>(m)));
  }
  data.attributes.emplace_back("use", models::use_title(use));
  data.attributes.emplace_back(
      "hygiene_rule", models::asks_for_hygiene(use, pile) ? use.hygiene_rule : std::string());
  data.dimensions.push_back({"criterion", all.size(), {}, {}});
  for (const TextPart& part : text_parts) {
    engine::Variable variable{
        part.name, {"criterion"}, {}, {}, {{"long_name", std::string(part.long_name)}}};
    for (const CriterionFacts& one : all) {
      variable.texts.push_back(one.*part.text);
    }
    data.variables.push_back(std::move(variable));
  }
  engine::Variable limit{
      "criterion_limit",
      {"criterion"},
      {},
      {},
      {{"long_name", std::string("most that the measure may be, in criterion_unit")}}};
  engine::Variable asked{
      "criterion_asked",
      {"criterion"},
      {},
      {},
      {{"units", std::string("1")},
       {"long_name",
        std::string("1: asked for by the use; 0: not, the limit is that of a garden bed")}}};
  for (const CriterionFacts& one : all) {
    limit.values.push_back(one.limit);
    asked.values.push_back(one.asked ? 1.0 : 0.0);
  }
  data.variables.push_back(std::move(limit));
  data.variables.push_back(std::move(asked));
}

std::vector<CriterionFacts> criteria(const engine::Dataset& data) {
  const engine::Variable* limit = data.variable("criterion_limit");
  const engine::Variable* asked = data.variable("criterion_asked");
  if (limit == nullptr || asked == nullptr || asked->values.size() != limit->values.size()) {
    return {};
  }
  std::vector<CriterionFacts> all(limit->values.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    all[i].limit = limit->values[i];
    all[i].asked = asked->values[i] == 1.0;
  }
  for (const TextPart& part : text_parts) {
    const engine::Variable* texts = data.variable(part.name);
    if (texts == nullptr || texts->texts.size() != all.size()) {
      return {};
    }
    for (std::size_t i = 0; i < all.size(); ++i) {
      all[i].*part.text = texts->texts[i];
    }
  }
  return all;
}

} // namespace heapcast::cli
