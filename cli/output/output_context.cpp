#include "cli/output/output_context.hpp"

#include "cli/joined.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cmath>

namespace heapcast::cli {

std::string command_options(const std::vector<std::string>& overrides,
                            std::optional<std::uint64_t> seed, std::size_t runs) {
  std::vector<std::string> parts;
  parts.reserve(overrides.size() + 2);
  for (const std::string& option : overrides) {
    parts.push_back(fmt::format("--set \"{}\"", option));
  }
  if (seed) {
    parts.push_back(fmt::format("--seed {}", *seed));
  }
  if (runs > 1) {
    parts.push_back(fmt::format("--runs {}", runs));
  }
  return joined(parts, " ");
}

std::string material_files_text(const std::map<std::string, std::string>& material_files) {
  std::string all;
  for (const auto& [name, text] : material_files) {
    all += fmt::format("{}# file = \"{}\"\n{}", all.empty() ? "" : "\n", name, text);
  }
  return all;
}

std::string_view resolution_name(models::Resolution resolution) {
  switch (resolution) {
  case models::Resolution::coarse:
    return "coarse";
  case models::Resolution::standard:
    return "standard";
  case models::Resolution::fine:
    return "fine";
  }
  return "";
}

std::string local_time(const std::string& start, double hours) {
  namespace chrono = std::chrono;
  const auto number = [&](std::size_t at, std::size_t length) {
    return std::stoi(start.substr(at, length));
  };
  const chrono::sys_days start_day{chrono::year{number(0, 4)} /
                                   chrono::month{static_cast<unsigned>(number(5, 2))} /
                                   chrono::day{static_cast<unsigned>(number(8, 2))}};
  const chrono::minutes since_midnight{number(11, 2) * 60 + number(14, 2) +
                                       std::llround(hours * 60.0)};
  const auto days = chrono::floor<chrono::days>(since_midnight);
  const chrono::year_month_day date{start_day + days};
  const chrono::hh_mm_ss time{since_midnight - days};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                     time.hours().count(), time.minutes().count());
}

} // namespace heapcast::cli
