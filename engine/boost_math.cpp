// All that is taken from Boost.Math.

#include "engine/bisect.hpp"
#include "engine/normal_distribution.hpp"

#include <cmath>
#include <cstdint>
#include <limits>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/tools/roots.hpp>

namespace heapcast::engine {

namespace {

namespace policies = boost::math::policies;

/// In double: long double, to which Boost would go, differs between machines.
using Normal = boost::math::normal_distribution<
    double, policies::policy<policies::promote_double<false>,
                             policies::overflow_error<policies::ignore_error>>>;

} // namespace

double normal_share(double score) {
  return cdf(Normal(), score);
}

double normal_score(double share) {
  return quantile(Normal(), share);
}

double bisect(const std::function<bool(double)>& reached, double not_yet, double already,
              double tolerance) {
  const auto side = [&](double at) { return reached(at) ? 1.0 : -1.0; };
  const auto near = [&](double a, double b) { return std::abs(b - a) <= tolerance; };
  std::uintmax_t most = std::numeric_limits<double>::digits;
  return boost::math::tools::bisect(side, not_yet, already, near, most).second;
}

} // namespace heapcast::engine
