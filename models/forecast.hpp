#pragma once

#include "models/pile.hpp"

#include <functional>
#include <string>
#include <vector>

namespace heapcast::models {

/// Something that was done to the pile, or refused.
struct EventRecord {
  double day = 0.0;
  std::string kind;    ///< "turn", "water", "add", "cover", "refused"
  std::string reason;  ///< "every 2 days", the condition, or why it was refused
  double litres = 0.0; ///< water added
  double kg = 0.0;     ///< material added
};

/// One named curve over `time_h`, in the unit shown to people.
struct Series {
  std::string name;
  std::string unit;
  std::string long_name;
  std::vector<double> values;
};

/// One named number of a run.
struct Scalar {
  std::string name;
  std::string unit;
  std::string long_name;
  double value = 0.0;
  std::string reason; ///< why it is NaN, else empty
};

/// One named field over [field_time][cell].
struct Field {
  std::string name;
  std::string unit;
  std::string long_name;
  std::vector<double> values;
};

/// One cell of the section as drawn at the build: its corner points in the section plane.
struct CellOutline {
  std::vector<double> x_m; ///< from the axis
  std::vector<double> z_m; ///< above ground
};

/// Everything one run gives, in the units shown to people (degC, %, kg, m3, litres).
struct ForecastResult {
  std::vector<double> time_h; ///< hours since the build
  std::vector<Series> series;
  std::vector<Scalar> scalars;
  std::vector<double> field_time_h;
  std::vector<Field> fields;
  std::vector<double> cell_x_m, cell_z_m, cell_depth_m, cell_volume_m3; ///< at the build
  std::vector<CellOutline> outlines;
  std::vector<EventRecord> events;
  std::vector<std::string> warnings;
  /// Laboratory tests of a mixed sample, taken once a day.
  std::vector<double> test_time_h; ///< hours since the build
  std::vector<Series> tests;       ///< over `test_time_h`
  /// The criterion or the hygiene rule that was met last, or is not met within the horizon; by key.
  std::string decided_by;
  /// What held the pile back, per hour: "none", "cold", "hot", "dry", "airless", "food",
  /// "nitrogen".
  std::vector<std::string> limit;

  long steps = 0, rejected_steps = 0, rate_calls = 0;
  double compute_seconds = 0.0;

  [[nodiscard]] const Series* find_series(const std::string& name) const;
  [[nodiscard]] const Scalar* find_scalar(const std::string& name) const;
};

/// Called now and then with the share done, 0..1; returning false ends the run early
/// (what is computed so far is returned).
using Progress = std::function<bool(double)>;

/// Runs one pile to its horizon. Pure: same description, same result, bit by bit.
/// Throws NumericsError when the step size collapses.
[[nodiscard]] ForecastResult run_forecast(const PileDescription& pile,
                                          const Progress& progress = {});

} // namespace heapcast::models
