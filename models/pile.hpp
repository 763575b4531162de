#pragma once

#include "models/materials/material.hpp"
#include "models/parameters.hpp"
#include "models/readiness/use.hpp"
#include "models/weather/weather.hpp"

#include <cstddef>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace heapcast::models {

inline constexpr double unset = std::numeric_limits<double>::quiet_NaN();
inline constexpr double seconds_per_hour = 3600.0;
inline constexpr double seconds_per_day = 86400.0;

enum class ShapeKind { windrow, heap, bin, one_cell };
enum class Profile {
  parabolic,
  triangular,
  trapezoidal
}; ///< of a windrow; a heap: parabolic = dome, triangular = cone
enum class Resolution { coarse, standard, fine };
enum class CoverKind { none, tarp, breathable, blanket, roof };
enum class TurnMethod { fork, loader, windrow_turner };
enum class Quantity {
  core_temperature,
  mean_temperature,
  skin_temperature,
  max_temperature,
  air_temperature,
  moisture,
  core_oxygen
};

/// Dimensions at the build. An unset dimension (NaN) follows from the others and the volume of the
/// materials; all unset means "as many as the materials give" at the shape's usual proportions.
struct Shape {
  ShapeKind kind = ShapeKind::heap;
  Profile profile = Profile::parabolic;
  double height_m = unset;
  double width_m = unset;     ///< of a windrow's or box bin's base; diameter of a heap or round bin
  double length_m = unset;    ///< of a windrow or box bin
  double top_width_m = unset; ///< of a trapezoidal windrow
  bool round = false;         ///< bin: a cylinder instead of a box
  bool wind_exposed = false;  ///< windrow: full cross-section with wind pressure on it
};

/// Bin walls and lid.
struct Walls {
  double open_fraction = 0.0;     ///< slats and mesh: open share of the wall area, 0..1
  double conductance_W_m2K = 4.0; ///< of the closed part, without surface films
  bool lid = false;
};

struct Cover {
  CoverKind kind = CoverKind::none;
  double thickness_m = 0.0;       ///< of a blanket of straw or finished compost
  double conductivity_W_mK = 0.1; ///< of that blanket
};

/// One thing that goes in, as it is when it goes in (overrides and ageing already applied).
struct Ingredient {
  Material material;
  double wet_mass_kg = 0.0;
  int layer = 0; ///< bottom first; all 0 means mixed
};

/// "core_temperature < 50 degC after > 55 degC"
struct Condition {
  Quantity quantity = Quantity::core_temperature;
  bool below = true;      ///< fires below (or above) `threshold`
  double threshold = 0.0; ///< K, fraction, or mol O2 per mol dry gas
  double armed_beyond =
      unset; ///< must first have been beyond this on the other side since the last time it fired
  std::string text; ///< as the user wrote it
};

/// When something is done: a rhythm, dates and conditions; any of them. Times are days since the
/// build.
struct Schedule {
  double every_days = unset;
  double from_day = 0.0;
  double until_day = std::numeric_limits<double>::infinity();
  std::vector<double> on_days;
  std::vector<Condition> when; ///< looked at once a day, at the working hour
  int at_most = std::numeric_limits<int>::max();
  double gap_days = 1.0;     ///< shortest time between two
  bool not_in_frost = false; ///< skip while the air is below 0 degC
  std::vector<int> weekdays; ///< 0 Monday … 6 Sunday; empty: any day
};

struct Turning {
  TurnMethod method = TurnMethod::fork;
  Schedule schedule;
  double water_to_moisture = unset; ///< wet basis; water at each turn up to this when drier
};

struct Watering {
  Schedule schedule;
  double litres = unset;      ///< each time; or
  double to_moisture = unset; ///< wet basis, up to this
};

struct CoverChange {
  double day = 0.0;
  Cover cover;
};

struct Addition {
  Schedule schedule;
  std::vector<Ingredient> ingredients; ///< each time
};

/// Fan or pipes under the pile.
struct Aeration {
  bool pipes = false;         ///< open pipes under the pile: ground is open to ambient air
  double fan_m3_h = 0.0;      ///< blown through the base while on
  double on_minutes_h = 60.0; ///< minutes on in each hour
  double on_above_K = unset;  ///< only while the core is hotter than this
};

/// A place where a thermometer is put.
struct Probe {
  std::string name;
  double depth_m = 0.0; ///< below the surface
};

/// What a pair of hands or a machine does in an hour. Defaults: common practice, no source.
struct LabourRates {
  double build_m3_h = 2.0;            ///< forking materials together and onto the pile
  double fork_m3_h = 1.5;             ///< turning by hand
  double loader_m3_h = 40.0;          ///< turning with a loader, the driver's time
  double windrow_turner_m3_h = 300.0; ///< turning with a windrow turner, the driver's time
  double watering_L_h = 600.0;        ///< with a hose, standing by
  double setting_up_h = 0.25;         ///< fetching and cleaning, for each turn or watering
};

/// A pile and how it is tended: checked, complete, SI, immutable. Many runs on many threads share
/// one through `std::shared_ptr<const PileDescription>`; each run has its own state.
struct PileDescription {
  std::string title;
  std::string text; ///< the pile file as read, for the results file
  /// Likewise the files of the user's own materials, each by its name in the pile file.
  std::map<std::string, std::string> material_files;
  std::string start;                ///< "YYYY-MM-DDThh:00", local standard time of the build
  double start_hour_in_weather = 0; ///< hours from weather sample 0 to the build
  std::shared_ptr<const Weather> weather;
  bool all_weather_years = true; ///< several runs take any year of the weather; else the start's
  Shape shape;
  Walls walls;
  Cover cover;
  double ground_conductance_scale = 1.0;  ///< 0 for a pile off the ground
  double compaction = 0.0;                ///< settling strain given at the build, e.g. by treading
  double build_temperature_K = unset;     ///< of the materials; unset: the air at the build
  double build_water_to_moisture = unset; ///< wet basis; wetted at the build up to this when drier
  bool layered = false;
  std::vector<Ingredient> ingredients;
  std::optional<Turning> turning;
  std::optional<Watering> watering;
  std::vector<CoverChange> cover_changes;
  std::vector<Addition> additions;
  Aeration aeration;
  std::vector<Probe> probes; ///< none: one at the core
  LabourRates labour;
  Use use;
  double work_hour = 9.0; ///< hour of the day when work is done
  double horizon_days = 60.0;
  double output_hours = 1.0;
  double field_output_hours = 24.0;
  Resolution resolution = Resolution::standard;
  ParameterSet parameters;
  std::vector<std::size_t> given_parameters; ///< indices of those set by the user: never drawn
};

} // namespace heapcast::models
