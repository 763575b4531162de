#include "models/readiness/use.hpp"

#include "engine/errors.hpp"

#include <array>
#include <string>

namespace heapcast::models {

std::span<const UseRow> use_table() {
  static constexpr std::array<UseRow, 1> rows = {
      {{"garden_bed", "garden bed", Measure::above_air, 10.0, "no source", "common practice"}}};
  return rows;
}

Use built_in_use(std::string_view name) {
  return {std::string(name), {}, "", true};
}

} // namespace heapcast::models
