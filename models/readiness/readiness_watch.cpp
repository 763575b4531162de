#include "models/readiness/readiness_watch.hpp"

namespace heapcast::models {

ReadinessWatch::ReadinessWatch(const PileDescription& pile, const PileSite& site)
    : pile_(pile), site_(site) {}

void ReadinessWatch::hour(double /*time_h*/, double /*core_K*/, double /*air_K*/,
                          const PileState& /*state*/, const Workspace& /*w*/) {}

void ReadinessWatch::turned(double /*time_h*/, double /*core_K*/) {}

void ReadinessWatch::report(double /*hygiene_met_day*/, ForecastResult& result) const {
  result.scalars.push_back({"ready_day", "day", "day when the compost is ready", unset,
                            "readiness is not judged in this version"});
}

} // namespace heapcast::models
