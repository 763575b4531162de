#pragma once

#include "models/pile.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// Of the results file and the JSON summary; changes when a reader of the old one would go wrong.
inline constexpr std::int64_t results_schema_version = 1;

/// What a run's output says of how it came about, besides the pile and its weather.
struct OutputContext {
  std::string program_version;
  std::int64_t seed = 0;
  std::string command_options; ///< as given, e.g. "--resolution fine --set turning.every=3d"
};

/// The options that change the result, for the results file.
[[nodiscard]] std::string command_options(const std::vector<std::string>& overrides,
                                          std::optional<std::uint64_t> seed, std::size_t runs);

/// The user's own material files as one text, each below a line `# file = "NAME"`; "" without any.
[[nodiscard]] std::string
material_files_text(const std::map<std::string, std::string>& material_files);

/// "coarse", "standard" or "fine".
[[nodiscard]] std::string_view resolution_name(models::Resolution resolution);

/// The date and time `hours` after `start` ("YYYY-MM-DDThh:mm"), in the same form, to the minute.
[[nodiscard]] std::string local_time(const std::string& start, double hours);

} // namespace heapcast::cli
