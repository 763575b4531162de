#pragma once

#include "cli/display_units.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/ensemble/paired.hpp"
#include "models/pile.hpp"

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace heapcast::cli {

/// One of the piles that are compared.
struct ComparedPile {
  std::string name;
  std::shared_ptr<const models::PileDescription> pile;
  models::EnsembleResult result;

  /// Runs that count: 1 without an ensemble.
  [[nodiscard]] std::size_t runs() const;
  /// One number of every run, NaN of those that failed; empty when there is no such number.
  [[nodiscard]] std::vector<double> values(const std::string& name) const;
  /// The same of the runs that did not fail.
  [[nodiscard]] std::vector<double> counted(const std::string& name) const;
  /// What decided each run's ready day, by key; empty of those that failed.
  [[nodiscard]] std::vector<std::string> decided_by() const;
};

/// How one number of `other` differs from that of `first`, over the runs that failed in neither;
/// nothing when one of them does not have it.
[[nodiscard]] std::optional<models::PairedDifference>
difference_from(const ComparedPile& first, const ComparedPile& other, const std::string& name);

/// The piles side by side on one screen, then how each differs from the first, run by run. At most
/// 80 columns; more than four piles stand in blocks below one another.
[[nodiscard]] std::string comparison_text(const std::string& title,
                                          const std::vector<ComparedPile>& piles,
                                          const std::vector<std::string>& saved, bool utf8,
                                          DisplayUnits units = DisplayUnits::metric);

} // namespace heapcast::cli
