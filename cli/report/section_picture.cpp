#include "cli/report/section_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace heapcast::cli {

namespace {

constexpr double mm_per_m = 1000.0;

// 55 degC is the hygiene rules' limit. Moisture is told apart best where piles are: 50 to 75 %.
std::vector<ColourMap> colour_maps(DisplayUnits units) {
  std::vector<ColourMap> maps = {
      {"temperature", "Temperature", "degC", {{10, 20, 30, 40, 50, 55, 60, 70}}},
      {"moisture_wet_basis_field", "Moisture, wet basis", "%", {{30, 40, 50, 55, 60, 65, 70, 75}}},
      {"oxygen", "Oxygen in the pores", "vol %", {{0.5, 1, 2, 5, 8, 11, 14, 17}}},
  };
  for (ColourMap& map : maps) {
    const DisplayUnit unit = display_unit(map.unit, units);
    std::ranges::transform(map.breaks, map.breaks.begin(), unit);
    map.unit = unit_sign(unit.name, true);
  }
  return maps;
}

long to_mm(double metres) {
  return std::lround(metres * mm_per_m);
}

/// A length in metres or feet that fits under the pile and is easily pictured.
double scale_bar(double width) {
  for (const double length : {5.0, 2.0, 1.0, 0.5, 0.2}) {
    if (length <= width / 3.0) {
      return length;
    }
  }
  return 0.1;
}

} // namespace

std::size_t colour_class(const ColourMap& map, double value) {
  return static_cast<std::size_t>(std::distance(
      map.breaks.begin(), std::upper_bound(map.breaks.begin(), map.breaks.end(), value)));
}

std::string SectionPicture::view_box() const {
  const double margin = 0.04 * half_width_mm;
  const double below = 0.22 * half_width_mm;
  return fmt::format("{:.0f} {:.0f} {:.0f} {:.0f}", left_mm - margin, -height_mm - margin,
                     half_width_mm - left_mm + 2.0 * margin, height_mm + margin + below);
}

double SectionPicture::seam_mm() const {
  return 0.008 * half_width_mm;
}

std::string SectionPicture::frame() const {
  const double margin = 0.04 * half_width_mm;
  const DisplayUnit unit = display_unit("m", units);
  const double bar = scale_bar(unit((half_width_mm - left_mm) / mm_per_m));
  const double bar_mm = bar / unit.factor * mm_per_m;
  const double y = 0.07 * half_width_mm;
  return fmt::format(
      R"(<path class="ground" d="M{:.0f} 0H{:.0f}"/><path class="scale" d="M{:.0f} {:.0f}h{:.0f}"/>)"
      R"(<text x="{:.0f}" y="{:.0f}" font-size="{:.0f}">{:g} {}</text>)",
      left_mm - margin, half_width_mm + margin, left_mm, y, bar_mm, left_mm + bar_mm + margin,
      y + 0.035 * half_width_mm, 0.09 * half_width_mm, bar, unit.name);
}

std::string SectionPicture::svg(std::size_t field, std::size_t day) const {
  const auto& painted = fields[field];
  std::array<std::string, std::tuple_size_v<decltype(ColourMap::breaks)> + 1> by_class;
  for (std::size_t cell = 0; cell < cells.size(); ++cell) {
    const double value = painted.values[day * cells.size() + cell];
    if (std::isfinite(value)) {
      by_class[colour_class(painted.map, value)] += cells[cell];
    }
  }
  std::string shapes;
  for (std::size_t k = 0; k < by_class.size(); ++k) {
    if (!by_class[k].empty()) {
      shapes += fmt::format(R"(<path class="c{}" d="{}"/>)", k, by_class[k]);
    }
  }
  const auto id = fmt::format("section-{}-{}", field, day);
  const auto mirror =
      mirrored ? fmt::format("<use href=\"#{}\" transform=\"scale(-1 1)\"/>", id) : std::string();
  return fmt::format("<svg class=\"section\" viewBox=\"{}\" aria-hidden=\"true\">"
                     "<g id=\"{}\" class=\"map-{}\" stroke-width=\"{:.0f}\">{}</g>{}{}</svg>",
                     view_box(), id, painted.map.name, seam_mm(), shapes, mirror, frame());
}

std::optional<SectionPicture> read_section(const ResultsReader& results,
                                           std::size_t largest_field) {
  const auto& data = results.data();
  const auto* cell_dimension = data.dimension("cell");
  const auto* corner_dimension = data.dimension("corner");
  const auto* time = data.dimension("field_time");
  const auto xs = results.field("cell_corner_x");
  const auto zs = results.field("cell_corner_z");
  if (cell_dimension == nullptr || corner_dimension == nullptr || time == nullptr || xs.empty() ||
      xs.size() != zs.size() || xs.size() != cell_dimension->size * corner_dimension->size ||
      time->values.empty()) {
    return std::nullopt;
  }
  const std::size_t cells = cell_dimension->size;
  const std::size_t corners = corner_dimension->size;
  SectionPicture section;
  double smallest_x = std::numeric_limits<double>::infinity();
  for (std::size_t cell = 0; cell < cells; ++cell) {
    std::string path;
    double sum_x = 0.0;
    double sum_z = 0.0;
    double count = 0.0;
    for (std::size_t corner = 0; corner < corners; ++corner) {
      const double x = xs[cell * corners + corner];
      const double z = zs[cell * corners + corner];
      if (!std::isfinite(x) || !std::isfinite(z)) {
        continue; // a cell with fewer corners than the most
      }
      path += fmt::format("{}{} {}", path.empty() ? 'M' : 'L', to_mm(x), -to_mm(z));
      sum_x += x;
      sum_z += z;
      count += 1.0;
      smallest_x = std::min(smallest_x, x);
      section.half_width_mm = std::max(section.half_width_mm, x * mm_per_m);
      section.height_mm = std::max(section.height_mm, z * mm_per_m);
    }
    section.cells.push_back(path.empty() ? path : path + 'Z');
    section.centres_m.push_back({sum_x / count, sum_z / count});
  }
  if (!(section.half_width_mm > 0.0 && section.height_mm > 0.0)) {
    return std::nullopt;
  }
  section.mirrored = smallest_x >= -1e-6;
  section.left_mm = section.mirrored ? -section.half_width_mm : smallest_x * mm_per_m;

  const std::size_t times = time->values.size();
  const std::size_t most = std::max<std::size_t>(2, largest_field / cells);
  const std::size_t stride = (times + most - 1) / most;
  std::vector<std::size_t> chosen;
  for (std::size_t t = 0; t < times; t += stride) {
    chosen.push_back(t);
  }
  if (chosen.back() != times - 1) {
    chosen.push_back(times - 1);
  }
  for (const auto t : chosen) {
    section.days.push_back(time->values[t] / 24.0);
  }
  section.units = results.units();
  for (const auto& map : colour_maps(results.units())) {
    const auto all = results.field(std::string(map.name));
    if (all.size() != times * cells) {
      continue;
    }
    SectionPicture::Field field{map, {}};
    for (const auto t : chosen) {
      const auto first = all.begin() + static_cast<std::ptrdiff_t>(t * cells);
      field.values.insert(field.values.end(), first, first + static_cast<std::ptrdiff_t>(cells));
    }
    section.fields.push_back(std::move(field));
  }
  if (section.fields.empty()) {
    return std::nullopt;
  }
  return section;
}

DailyTable section_table(const SectionPicture& section, const Calendar& calendar) {
  auto table = table_of_days(section.days, calendar);
  const auto cells = static_cast<std::ptrdiff_t>(section.cells.size());
  for (const auto& field : section.fields) {
    std::vector<double> low;
    std::vector<double> high;
    for (auto first = field.values.begin(); first != field.values.end(); first += cells) {
      const std::vector<double> picture(first, first + cells);
      low.push_back(smallest(picture));
      high.push_back(largest(picture));
    }
    const std::string title(field.map.title);
    const std::string unit(field.map.unit);
    add_column(table, with_unit(title + ", lowest", unit), low);
    add_column(table, with_unit(title + ", highest", unit), high);
  }
  return table;
}

std::vector<std::size_t> story_days(const std::vector<double>& days) {
  std::vector<std::size_t> chosen;
  if (days.empty()) {
    return chosen;
  }
  const double span = days.back() - days.front();
  for (const double share : {0.0, 0.05, 0.12, 0.25, 0.5, 1.0}) {
    const double wanted = days.front() + share * span;
    const auto nearest = std::min_element(days.begin(), days.end(), [&](double a, double b) {
      return std::abs(a - wanted) < std::abs(b - wanted);
    });
    const auto index = static_cast<std::size_t>(std::distance(days.begin(), nearest));
    if (chosen.empty() || chosen.back() != index) {
      chosen.push_back(index);
    }
  }
  return chosen;
}

} // namespace heapcast::cli
