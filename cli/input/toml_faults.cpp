#include "cli/input/toml_faults.hpp"

#include <algorithm>

namespace heapcast::cli {

void TomlFaults::add(const toml::source_region& source, std::string_view what,
                     std::string_view remedy) {
  faults_.push_back(
      {source.begin, {location(file_, source), printable(what), printable(remedy, 600)}});
}

void TomlFaults::add(const Fault& fault) {
  faults_.push_back(
      {{}, {printable(fault.where), printable(fault.what), printable(fault.remedy, 600)}});
}

std::vector<Fault> TomlFaults::in_order() const {
  std::vector<Placed> sorted = faults_;
  std::ranges::stable_sort(sorted, [](const Placed& a, const Placed& b) {
    const bool a_known = static_cast<bool>(a.position);
    const bool b_known = static_cast<bool>(b.position);
    return a_known != b_known ? a_known : a_known && a.position < b.position;
  });
  std::vector<Fault> faults;
  faults.reserve(sorted.size());
  for (Placed& placed : sorted) {
    faults.push_back(std::move(placed.fault));
  }
  return faults;
}

} // namespace heapcast::cli
