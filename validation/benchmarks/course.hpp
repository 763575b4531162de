#pragma once

#include "models/pile_run.hpp"

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

namespace heapcast::benchmarks {

/// What is run: the first example's windrow, turned on a rhythm. The example's condition for
/// turning is left out: a threshold passed an hour earlier or later would move an event, and the
/// difference would say nothing about a solver.
struct Case {
  double days = 60.0;
  std::string mesh = "standard"; ///< coarse, standard, fine, or one_cell: the same as a single cell
};

[[nodiscard]] std::shared_ptr<const models::PileDescription> pile_of(const Case& what);
/// The example as it is, condition and all, with other days and another mesh.
[[nodiscard]] std::shared_ptr<const models::PileDescription> example_of(const Case& what);

/// What is compared after each hour: temperatures, moisture, structure, air flow and the pile's
/// sum of each integrated quantity; everything that a forecast's curves are made of.
class Course {
public:
  [[nodiscard]] static const std::vector<std::string>& names();
  /// Of the hour that `run` has just done, in the order of `names`.
  [[nodiscard]] static std::vector<double> observe(const models::PileRun& run);
  /// Oxygen is shown and not judged: it is no integrated quantity in all systems compared.
  static constexpr std::size_t oxygen = 0;

  std::vector<std::vector<double>> hours;

  void write(const std::string& path) const;
  [[nodiscard]] static Course read(const std::string& path);
  /// Of each quantity: largest less smallest value.
  [[nodiscard]] std::vector<double> ranges() const;
};

/// Largest difference from a reference so far, in shares of each quantity's range.
class Comparison {
public:
  explicit Comparison(const Course& reference)
      : reference_(reference), ranges_(reference.ranges()), of_(ranges_.size(), 0.0) {}
  void see(std::size_t hour, const std::vector<double>& values);
  [[nodiscard]] double error() const; ///< of the worst quantity but oxygen; infinity for NaN
  [[nodiscard]] std::string worst() const;
  [[nodiscard]] double oxygen_percent() const { return oxygen_percent_; } ///< in volume percent
  [[nodiscard]] double core_K() const { return core_K_; }

private:
  const Course& reference_;
  std::vector<double> ranges_, of_;
  double oxygen_percent_ = 0.0, core_K_ = 0.0;
};

} // namespace heapcast::benchmarks
