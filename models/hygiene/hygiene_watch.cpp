#include "models/hygiene/hygiene_watch.hpp"

namespace heapcast::models {

HygieneWatch::HygieneWatch(const PileDescription& pile, const PileSite& site)
    : pile_(pile), site_(site) {}

void HygieneWatch::hour(double /*time_h*/, std::span<const double> /*before_K*/,
                        const Workspace& /*now*/) {}

void HygieneWatch::turning(double /*time_h*/, const Workspace& /*now*/) {}

void HygieneWatch::report(ForecastResult& /*result*/) const {}

double HygieneWatch::met_day(std::string_view /*rule*/) const {
  return unset;
}

} // namespace heapcast::models
