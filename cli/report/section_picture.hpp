#pragma once

#include "cli/report/results_reader.hpp"
#include "cli/report/tables.hpp"

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// How one field is painted: a value below breaks[0] is class 0, from breaks[0] class 1, and so on.
/// The colours of the classes are in report.css, `.map-NAME .cK`.
struct ColourMap {
  std::string_view name; ///< of the variable and of the style sheet's class
  std::string_view title;
  std::string unit; ///< of the breaks and of the values painted
  std::array<double, 8> breaks;
};

/// The pile's section and what is painted on it.
struct SectionPicture {
  struct Field {
    ColourMap map;
    std::vector<double> values; ///< [day][cell]
  };
  std::vector<std::string> cells; ///< SVG path of each cell, in mm, z upwards negative
  std::vector<std::array<double, 2>> centres_m; ///< x, z: mean of each cell's corners
  bool mirrored = false;                        ///< only the half with x >= 0 is computed
  double half_width_mm = 0.0;                   ///< from the axis to the outermost corner
  double left_mm = 0.0;                         ///< left edge of what is drawn
  double height_mm = 0.0;
  std::vector<double> days;
  std::vector<Field> fields;
  DisplayUnits units = DisplayUnits::metric; ///< of the scale bar

  [[nodiscard]] std::string view_box() const;
  /// Width of the line around a cell, in its own colour: without it the paper shines through.
  [[nodiscard]] double seam_mm() const;
  /// What surrounds the cells: ground line and scale bar.
  [[nodiscard]] std::string frame() const;
  /// A whole picture of one field on one day, as an SVG element that needs only the style sheet.
  [[nodiscard]] std::string svg(std::size_t field, std::size_t day) const;
};

/// Class of a value; classes run from 0 to breaks.size().
[[nodiscard]] std::size_t colour_class(const ColourMap& map, double value);

/// The section, when the file has cell outlines and at least one field over them. Pictures are
/// thinned evenly so that no field holds more than `largest_field` values.
[[nodiscard]] std::optional<SectionPicture> read_section(const ResultsReader& results,
                                                         std::size_t largest_field = 40'000);

/// Lowest and highest value of each field in each picture.
[[nodiscard]] DailyTable section_table(const SectionPicture& section, const Calendar& calendar);

/// Indices of up to six days that tell the story in print: closer together early on.
[[nodiscard]] std::vector<std::size_t> story_days(const std::vector<double>& days);

} // namespace heapcast::cli
