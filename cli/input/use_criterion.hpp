#pragma once

#include "models/readiness/use.hpp"

#include <string_view>

namespace heapcast::cli {

/// Reads a criterion of a use, e.g. "oxygen_uptake <= 15 mmol O2/kg/h", "self_heating <= 20 K",
/// "carbon_nitrogen_ratio <= 20": a measure, `<=` or `<`, and a limit in a unit of its kind.
/// Respiration is understood on every scale in use (respiration.hpp).
///
/// Throws UnitError for anything else.
[[nodiscard]] models::Criterion parse_criterion(std::string_view text);

} // namespace heapcast::cli
