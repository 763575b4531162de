#pragma once

#include "cli/comparison.hpp"
#include "cli/output/output_context.hpp"
#include "engine/results_file.hpp"

#include <string>
#include <vector>

#include <nlohmann/json.hpp>

namespace heapcast::cli {

/// What compared piles have in common.
struct ComparisonInfo {
  std::string title;
  OutputContext context;
};

/// All piles in one results file: numbers over (variant,run), curves over (variant,time), with
/// several runs over (variant,quantile,time); at times that are not a pile's own NaN.
[[nodiscard]] engine::Dataset comparison_dataset(const std::vector<ComparedPile>& piles,
                                                 const ComparisonInfo& info);

/// The numbers of every pile and how each differs from the first.
[[nodiscard]] nlohmann::ordered_json comparison_json(const std::vector<ComparedPile>& piles,
                                                     const ComparisonInfo& info);

} // namespace heapcast::cli
