#pragma once

#include "models/pile.hpp"

#include <string_view>

namespace heapcast::cli {

/// Reads a condition: a quantity, `<` or `>`, a limit with its unit, and perhaps "after" with the
/// other sign and a limit that must have been passed first.
///
///     core_temperature < 50 degC after > 55 degC
///     moisture < 45 %
///     core_oxygen < 5 %
///
/// "below" and "above" may stand for the signs. Throws UnitError.
[[nodiscard]] models::Condition parse_condition(std::string_view text);

} // namespace heapcast::cli
