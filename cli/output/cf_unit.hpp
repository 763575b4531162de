#pragma once

#include <string>
#include <string_view>

namespace heapcast::cli {

/// A unit as shown to people in the form that CF wants and UDUNITS parses: "m3/h" is "m3 h-1",
/// "mmol O2/kg OM/h" is "mmol kg-1 h-1", "vol %" is "%", no unit is "1". What a mass or a share is
/// of (C, N, O2, OM, …) is not part of a unit there; the variable's long name says it.
[[nodiscard]] std::string cf_unit(std::string_view shown);

} // namespace heapcast::cli
