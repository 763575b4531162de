#include "cli/report/cautions.hpp"

#include <array>
#include <string>
#include <utility>

namespace heapcast::cli {

namespace {

using models::Caution;

struct Part {
  const char* name;
  std::string Caution::*text;
  const char* long_name;
};
constexpr std::array<Part, 4> parts = {
    {{"caution_title", &Caution::title, "where something can hurt someone"},
     {"caution_finding", &Caution::finding, "the numbers of this run behind it"},
     {"caution_brief", &Caution::brief, "what to do, in a few words"},
     {"caution_advice", &Caution::advice, "what to do"}}};

} // namespace

void add_cautions(engine::Dataset& data, const std::vector<Caution>& cautions) {
  data.dimensions.push_back({"caution", cautions.size(), {}, {}});
  for (const Part& part : parts) {
    engine::Variable variable{
        part.name, {"caution"}, {}, {}, {{"long_name", std::string(part.long_name)}}};
    for (const Caution& one : cautions) {
      variable.texts.push_back(one.*part.text);
    }
    data.variables.push_back(std::move(variable));
  }
  engine::Variable applies{
      "caution_applies",
      {"caution"},
      {},
      {},
      {{"units", std::string("1")},
       {"long_name", std::string("1: this run gives a reason for it; 0: it holds for any pile")}}};
  for (const Caution& one : cautions) {
    applies.values.push_back(one.applies ? 1.0 : 0.0);
  }
  data.variables.push_back(std::move(applies));
}

std::vector<Caution> cautions(const ResultsReader& results) {
  std::vector<Caution> all;
  const engine::Variable* applies = results.data().variable("caution_applies");
  if (applies == nullptr) {
    return all;
  }
  all.resize(applies->values.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    all[i].applies = applies->values[i] == 1.0;
    for (const Part& part : parts) {
      const engine::Variable* texts = results.data().variable(part.name);
      if (texts != nullptr && i < texts->texts.size()) {
        all[i].*part.text = texts->texts[i];
      }
    }
  }
  return all;
}

} // namespace heapcast::cli
