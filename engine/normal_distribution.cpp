#include "engine/normal_distribution.hpp"

#include <boost/math/distributions/normal.hpp>

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

} // namespace heapcast::engine
