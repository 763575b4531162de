// What run `run` of an ensemble is given.

#include "engine/counter_random.hpp"
#include "engine/normal_distribution.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/weather/calendar.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cassert>
#include <chrono>
#include <cmath>
#include <optional>

namespace heapcast::models {

namespace {

using Matrix = Eigen::MatrixXd;

/// Lower triangle L of the correlations' matrix L L'.
Matrix correlation_root() {
  const auto size = static_cast<Eigen::Index>(parameter_count);
  Matrix matrix = Matrix::Identity(size, size);
  for (const ParameterCorrelation& pair : parameter_correlations()) {
    const auto i = static_cast<Eigen::Index>(pair.first);
    const auto j = static_cast<Eigen::Index>(pair.second);
    matrix(i, j) = matrix(j, i) = pair.coefficient;
  }
  const Eigen::LLT<Matrix> factors(matrix);
  assert(factors.info() == Eigen::Success);
  return factors.matrixL();
}

/// A normal distribution cut off at both ends.
struct CutNormal {
  double mean;
  double sd;
  double low; ///< may be minus infinity
  double high;

  [[nodiscard]] double quantile_at(double share) const {
    const double below = std::isinf(low) ? 0.0 : engine::normal_share((low - mean) / sd);
    const double above = engine::normal_share((high - mean) / sd);
    // Rounding alone can lead out of the ends.
    return std::clamp(mean + sd * engine::normal_score(std::lerp(below, above, share)), low, high);
  }
};

} // namespace

double prior_quantile(const ParameterRow& row, double centre, double share) {
  switch (row.prior) {
  case Prior::fixed:
    return centre;
  case Prior::uniform:
    return std::lerp(row.low, row.high, share);
  case Prior::normal:
    return CutNormal{centre, (row.high - row.low) / 4.0, row.low, row.high}.quantile_at(share);
  case Prior::lognormal:
    assert(centre > 0.0);
    const double sd =
        row.low > 0.0 ? std::log(row.high / row.low) / 4.0 : std::log(row.high / centre) / 2.0;
    const CutNormal logarithm{std::log(centre), sd, std::log(row.low), std::log(row.high)};
    return std::clamp(std::exp(logarithm.quantile_at(share)), row.low, row.high);
  }
  return centre;
}

bool is_drawn(const PileDescription& pile, std::size_t parameter) {
  return parameter_table()[parameter].prior != Prior::fixed &&
         std::ranges::find(pile.given_parameters, parameter) == pile.given_parameters.end();
}

ParameterSet draw_parameters(const PileDescription& pile, std::uint64_t seed, std::size_t run) {
  static const Matrix root = correlation_root();
  Eigen::VectorXd scores(static_cast<Eigen::Index>(parameter_count));
  for (std::size_t i = 0; i < parameter_count; ++i) {
    scores(static_cast<Eigen::Index>(i)) =
        engine::normal_score(engine::random_share({seed, run, i}));
  }
  scores = root * scores;

  ParameterSet drawn = pile.parameters;
  for (std::size_t i = 0; i < parameter_count; ++i) {
    if (is_drawn(pile, i)) {
      const ParameterRow& row = parameter_table()[i];
      drawn.set(i, prior_quantile(row, pile.parameters[static_cast<Parameter>(i)],
                                  engine::normal_share(scores(static_cast<Eigen::Index>(i)))));
    }
  }
  return drawn;
}

std::vector<WeatherYear> weather_years(const PileDescription& pile) {
  using std::chrono::hours;
  const WeatherYear own{pile.weather, pile.start_hour_in_weather, pile.start};
  const std::optional<LocalHours> start = parse_time(pile.start);
  if (!pile.all_weather_years || !start) {
    return {own};
  }
  const LocalDays date = std::chrono::floor<std::chrono::days>(*start);
  const std::chrono::year_month_day own_date{date};
  const auto last_sample = static_cast<double>(pile.weather->size()) - 1.0;
  std::vector<WeatherYear> found;
  const auto add = [&](std::chrono::year year) {
    if (year == own_date.year()) {
      found.push_back(own);
      return;
    }
    std::chrono::year_month_day other{year, own_date.month(), own_date.day()};
    if (!other.ok()) { // 29 February
      other = year / own_date.month() / 28;
    }
    const LocalHours time = LocalDays{other} + (*start - date);
    const double hour = pile.start_hour_in_weather + static_cast<double>((time - *start).count());
    if (hour >= 0.0 && hour + std::ceil(24.0 * pile.horizon_days) <= last_sample) {
      found.push_back({pile.weather, hour, format_time(time)});
    }
  };
  constexpr double hours_a_year = 24.0 * 365.0;
  const std::chrono::years before{
      static_cast<int>(std::ceil(pile.start_hour_in_weather / hours_a_year))};
  const std::chrono::years after{static_cast<int>(std::ceil(last_sample / hours_a_year))};
  for (auto year = own_date.year() - before; year <= own_date.year() + after; ++year) {
    add(year);
  }
  return found;
}

} // namespace heapcast::models
