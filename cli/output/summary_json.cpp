#include "cli/output/summary_json.hpp"

#include <cmath>

namespace heapcast::cli {
namespace {

using Json = nlohmann::ordered_json;

Json finite_or_null(double value) {
  return std::isfinite(value) ? Json(value) : Json();
}

Json results_json(const models::ForecastResult& result) {
  Json results = Json::object();
  for (const models::Scalar& scalar : result.scalars) {
    Json& entry = results[scalar.name];
    entry["value"] = finite_or_null(scalar.value);
    entry["unit"] = scalar.unit;
    if (!std::isfinite(scalar.value)) {
      entry["reason"] = scalar.reason;
    }
  }
  return results;
}

Json results_json(const models::EnsembleResult& ensemble) {
  Json results = Json::object();
  for (const models::RunValues& number : ensemble.numbers) {
    const models::Spread points = ensemble.spread_of(number);
    Json& entry = results[number.name];
    entry = {{"value", finite_or_null(points.mid)},
             {"low", finite_or_null(points.low)},
             {"high", finite_or_null(points.high)},
             {"missing_runs", points.missing},
             {"unit", number.unit}};
    if (points.missing > 0 || !std::isfinite(points.mid)) {
      entry["reason"] = ensemble.reason(number);
    }
  }
  return results;
}

Json events_json(const models::ForecastResult& result) {
  Json counts;
  for (const char* kind : {"turn", "water", "add", "cover", "refused"}) {
    counts[kind] = 0;
  }
  for (const models::EventRecord& event : result.events) {
    counts[event.kind] = counts.value(event.kind, 0) + 1;
  }
  return counts;
}

Json weather_json(const models::Weather& weather) {
  Json estimates = Json::array();
  for (const models::WeatherEstimate& estimate : weather.estimates) {
    estimates.push_back({{"column", estimate.column}, {"method", estimate.method}});
  }
  return {{"source", weather.source}, {"checksum", weather.checksum}, {"estimates", estimates}};
}

} // namespace

Json summary_json(const models::PileDescription& pile, const models::ForecastResult& result,
                  const OutputContext& context) {
  return {{"schema_version", results_schema_version},
          {"program_version", context.program_version},
          {"title", pile.title},
          {"start", pile.start},
          {"resolution", resolution_name(pile.resolution)},
          {"horizon_days", pile.horizon_days},
          {"seed", context.seed},
          {"results", results_json(result)},
          {"events", events_json(result)},
          {"warnings", result.warnings},
          {"weather", weather_json(pile.weather ? *pile.weather : models::Weather{})}};
}

Json summary_json(const models::PileDescription& pile, const models::EnsembleResult& ensemble,
                  const OutputContext& context) {
  Json json = summary_json(pile, ensemble.central, context);
  json["results"] = results_json(ensemble);
  json["runs"] = ensemble.runs();
  json["failed_runs"] = ensemble.failed.size();
  return json;
}

} // namespace heapcast::cli
