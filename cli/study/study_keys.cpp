#include "cli/study/study_keys.hpp"

#include <iterator>
#include <utility>
#include <vector>

namespace heapcast::cli {

namespace {

using enum ValueKind;

using Keys = std::vector<Key>;

Keys top_keys() {
  return {{.section = "",
           .name = "title",
           .kind = text,
           .meaning = "what the study is called in the output",
           .example = "\"How often to turn\""},
          {.section = "",
           .name = "pile",
           .kind = text,
           .required = true,
           .meaning = "the pile file, relative to the study",
           .example = "\"pile.toml\""},
          {.section = "",
           .name = "design",
           .kind = table,
           .required = true,
           .meaning = "which points are run"},
          {.section = "",
           .name = "factor",
           .kind = tables,
           .required = true,
           .meaning = "what differs between the runs"},
          {.section = "",
           .name = "output",
           .kind = table,
           .meaning = "what is kept of a run beside its numbers"}};
}

Keys design_keys() {
  return {{.section = "design",
           .name = "kind",
           .kind = choice,
           .choices = {"grid", "one_at_a_time", "latin_hypercube", "sobol", "saltelli", "morris"},
           .required = true,
           .meaning = "every combination, one factor after the other, points spread evenly, or "
                      "points for sensitivity indices",
           .example = "\"latin_hypercube\""},
          {.section = "design",
           .name = "points",
           .kind = whole,
           .low = "1",
           .high = "100000000",
           .meaning = "of a Latin hypercube or Sobol' sequence, before constraints",
           .example = "256"},
          {.section = "design",
           .name = "blocks",
           .kind = whole,
           .low = "2",
           .high = "10000000",
           .meaning = "of as many runs as there are factors and two more, for Sobol' indices; best "
                      "a power of 2",
           .example = "256"},
          {.section = "design",
           .name = "trajectories",
           .kind = whole,
           .low = "2",
           .high = "10000000",
           .meaning = "of as many runs as there are factors and one more, for Morris' effects",
           .example = "20"},
          {.section = "design",
           .name = "levels",
           .kind = whole,
           .low = "2",
           .high = "1000",
           .initial = "4",
           .meaning = "of Morris' grid; even",
           .example = "4"},
          {.section = "design",
           .name = "seed",
           .kind = whole,
           .low = "0",
           .high = "2000000000",
           .initial = "1",
           .meaning = "another number gives other points",
           .example = "7"},
          {.section = "design",
           .name = "weather_years",
           .kind = whole,
           .low = "1",
           .high = "1000",
           .initial = "1",
           .meaning = "every point is run in so many years of weather: the pile's own and those "
                      "after it",
           .example = "4"},
          {.section = "design",
           .name = "constraints",
           .kind = texts,
           .meaning = "formulas over names of factors; points that do not meet all are left out",
           .example = "[\"pile_height < 0.6 * pile_width\"]"}};
}

Keys factor_keys() {
  return {
      {.section = "factor",
       .name = "key",
       .kind = text,
       .required = true,
       .meaning = "a key of the pile file as for --set, or the name of a parameter",
       .example = "\"turning.every\""},
      {.section = "factor",
       .name = "name",
       .kind = text,
       .meaning = "what it is called in constraints and results; else the key with _ for dots",
       .example = "\"height\""},
      {.section = "factor",
       .name = "values",
       .kind = any,
       .meaning = "a list of what the key may be",
       .example = "[\"2 days\", \"7 days\", \"14 days\"]"},
      {.section = "factor",
       .name = "from",
       .kind = any,
       .meaning = "low end of a range",
       .example = "\"0.8 m\""},
      {.section = "factor",
       .name = "to",
       .kind = any,
       .meaning = "high end of a range",
       .example = "\"2 m\""},
      {.section = "factor",
       .name = "steps",
       .kind = whole,
       .low = "2",
       .high = "1000000",
       .meaning = "so many values from one end to the other instead of the range between",
       .example = "5"},
      {.section = "factor",
       .name = "scale",
       .kind = choice,
       .choices = {"linear", "log"},
       .initial = "linear",
       .meaning = "whether equal parts of the range are equal differences or equal ratios",
       .example = "\"log\""},
      {.section = "factor",
       .name = "prior",
       .kind = flag,
       .initial = "false",
       .meaning = "a parameter as uncertain as `heapcast parameters` says, in place of a range",
       .example = "true"},
      {.section = "factor",
       .name = "base",
       .kind = any,
       .meaning = "which of the values it has while others change one at a time; else the first",
       .example = "\"7 days\""}};
}

Keys output_keys() {
  return {{.section = "output",
           .name = "daily",
           .kind = texts,
           .meaning = "series, one value a day from the build on",
           .example = "[\"core_temperature\", \"moisture_wet_basis\"]"},
          {.section = "output",
           .name = "fields",
           .kind = texts,
           .meaning = "pictures of the section, as often as run.pictures says",
           .example = "[\"temperature\"]"}};
}

Keys all_keys() {
  Keys keys = top_keys();
  for (const auto& more : {design_keys(), factor_keys(), output_keys()}) {
    keys.insert(keys.end(), more.begin(), more.end());
  }
  return keys;
}

} // namespace

std::span<const Key> study_keys() {
  static const Keys keys = all_keys();
  return keys;
}

} // namespace heapcast::cli
