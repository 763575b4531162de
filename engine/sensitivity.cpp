#include "engine/sensitivity.hpp"

#include "engine/counter_random.hpp"
#include "engine/sorted_point.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

namespace heapcast::engine {

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// The streams of the resamples lie beyond those of a design with the same seed.
constexpr std::uint64_t resampling = std::uint64_t{1} << 32U;

/// The blocks without missing values: f(A), f(B), f(AB_1), ... one after the other.
struct Blocks {
  std::size_t factors;
  std::vector<double> values;

  [[nodiscard]] std::size_t size() const { return factors + 2; }
  [[nodiscard]] std::size_t count() const { return values.size() / size(); }
  [[nodiscard]] const double* at(std::size_t block) const { return &values[block * size()]; }
};

struct PointIndices {
  std::vector<double> first, total;
  double mean = missing, variance = missing;
};

/// The indices over the blocks that `chosen` names, which may name one several times.
PointIndices indices_over(const Blocks& blocks, const std::vector<std::size_t>& chosen) {
  PointIndices result{std::vector<double>(blocks.factors, 0.0),
                      std::vector<double>(blocks.factors, 0.0)};
  const auto count = static_cast<double>(chosen.size());
  double sum = 0.0;
  for (const std::size_t n : chosen) {
    sum += blocks.at(n)[0] + blocks.at(n)[1];
  }
  result.mean = sum / (2.0 * count);
  double squares = 0.0;
  for (const std::size_t n : chosen) {
    const double a = blocks.at(n)[0];
    const double b = blocks.at(n)[1];
    squares += (a - result.mean) * (a - result.mean) + (b - result.mean) * (b - result.mean);
    for (std::size_t i = 0; i < blocks.factors; ++i) {
      const double change = blocks.at(n)[2 + i] - a;
      result.first[i] += (b - result.mean) * change;
      result.total[i] += change * change;
    }
  }
  result.variance = squares / (2.0 * count);
  for (std::size_t i = 0; i < blocks.factors; ++i) {
    result.first[i] = result.variance > 0.0 ? result.first[i] / count / result.variance : missing;
    result.total[i] =
        result.variance > 0.0 ? result.total[i] / (2.0 * count) / result.variance : missing;
  }
  return result;
}

Blocks complete_blocks(std::span<const double> outputs, std::size_t factors) {
  Blocks blocks{factors, {}};
  for (std::size_t at = 0; at < outputs.size(); at += blocks.size()) {
    const auto block = outputs.subspan(at, blocks.size());
    if (std::ranges::all_of(block, [](double value) { return std::isfinite(value); })) {
      blocks.values.insert(blocks.values.end(), block.begin(), block.end());
    }
  }
  return blocks;
}

/// The interval that holds `confidence` of the values; those that are no number say nothing.
void set_interval(IndexEstimate& estimate, std::vector<double> values, double confidence) {
  std::erase_if(values, [](double value) { return std::isnan(value); });
  std::ranges::sort(values);
  const double beyond = (1.0 - confidence) / 2.0;
  estimate.low = values.empty() ? missing : sorted_point(values, beyond);
  estimate.high = values.empty() ? missing : sorted_point(values, 1.0 - beyond);
}

} // namespace

SobolIndices sobol_indices(std::span<const double> outputs, std::size_t factors,
                           const BootstrapOptions& options) {
  if (factors == 0 || outputs.size() % (factors + 2) != 0) {
    throw std::invalid_argument("outputs that are no whole blocks");
  }
  const Blocks blocks = complete_blocks(outputs, factors);
  SobolIndices result;
  result.blocks = blocks.count();
  result.dropped = outputs.size() / blocks.size() - result.blocks;
  result.first.assign(factors, {missing, missing, missing});
  result.total = result.first;
  result.mean = result.variance = missing;
  if (result.blocks < 2) {
    return result;
  }

  std::vector<std::size_t> chosen(result.blocks);
  std::iota(chosen.begin(), chosen.end(), std::size_t{0});
  const PointIndices point = indices_over(blocks, chosen);
  result.mean = point.mean;
  result.variance = point.variance;
  std::vector<std::vector<double>> first(factors);
  std::vector<std::vector<double>> total(factors);
  for (std::size_t resample = 0; resample < options.resamples; ++resample) {
    for (std::size_t n = 0; n < chosen.size(); ++n) {
      chosen[n] = level_at(random_share({options.seed, resampling + resample, n}), result.blocks);
    }
    const PointIndices drawn = indices_over(blocks, chosen);
    for (std::size_t i = 0; i < factors; ++i) {
      first[i].push_back(drawn.first[i]);
      total[i].push_back(drawn.total[i]);
    }
  }
  for (std::size_t i = 0; i < factors; ++i) {
    result.first[i].value = point.first[i];
    result.total[i].value = point.total[i];
    set_interval(result.first[i], std::move(first[i]), options.confidence);
    set_interval(result.total[i], std::move(total[i]), options.confidence);
  }
  return result;
}

std::vector<MorrisEffect> morris_effects(const Design& design, std::span<const double> outputs) {
  if (outputs.size() != design.size) {
    throw std::invalid_argument("outputs of another number than the design's points");
  }
  const std::size_t points = design.dimension + 1;
  std::vector<std::vector<double>> effects(design.dimension);
  std::vector<MorrisEffect> result(design.dimension);
  for (std::size_t i = 0; i + 1 < design.size; ++i) {
    if ((i + 1) % points == 0) {
      continue; // the next point begins another trajectory
    }
    const std::vector<double> from = design.point(i);
    const std::vector<double> to = design.point(i + 1);
    const auto moved = static_cast<std::size_t>(std::ranges::mismatch(from, to).in1 - from.begin());
    const double effect = (outputs[i + 1] - outputs[i]) / (to[moved] - from[moved]);
    if (std::isfinite(effect)) {
      effects[moved].push_back(effect);
    } else {
      ++result[moved].dropped;
    }
  }
  for (std::size_t j = 0; j < design.dimension; ++j) {
    const auto count = static_cast<double>(effects[j].size());
    MorrisEffect& of_factor = result[j];
    of_factor.effects = effects[j].size();
    double sum = 0.0;
    double size = 0.0;
    for (const double effect : effects[j]) {
      sum += effect;
      size += std::abs(effect);
    }
    of_factor.mu = sum / count; // 0/0 without effects: NaN
    of_factor.mu_star = size / count;
    double squares = 0.0;
    for (const double effect : effects[j]) {
      squares += (effect - of_factor.mu) * (effect - of_factor.mu);
    }
    of_factor.sigma = effects[j].size() > 1 ? std::sqrt(squares / (count - 1.0)) : missing;
  }
  return result;
}

} // namespace heapcast::engine
