#include "cli/temperature_chart.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <limits>
#include <optional>
#include <span>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr std::size_t margin = 6; ///< columns left of the plot: " 60 |"
constexpr std::size_t lines_below = 4;

/// Lowest and highest of some values; no value when there is none.
struct Extent {
  double low = std::numeric_limits<double>::infinity();
  double high = -std::numeric_limits<double>::infinity();
  void take(double value) {
    if (std::isfinite(value)) {
      low = std::min(low, value);
      high = std::max(high, value);
    }
  }
  [[nodiscard]] bool empty() const { return !(low <= high); }
};

/// The smallest of 1, 2, 5, 10, 20, … that is at least `least`.
double round_step(double least) {
  double decade = std::pow(10.0, std::floor(std::log10(least)));
  for (const double factor : {1.0, 2.0, 5.0}) {
    if (factor * decade >= least * (1 - 1e-9)) {
      return factor * decade;
    }
  }
  return 10 * decade;
}

class Chart {
public:
  Chart(const models::PileDescription& pile, const models::ForecastResult& result,
        const ChartSize& size, const ChartStyle& style)
      : pile_(pile), result_(result), utf8_(style.utf8), units_(style.units),
        degree_(display_unit("degC", style.units)), columns_(size.columns - margin),
        rows_(size.lines - lines_below), days_(std::max(result.time_h.back() / 24.0, 1e-9)) {}

  std::vector<std::string> draw(const models::Series& core, const models::Series* air,
                                const models::Band* core_band) {
    core_ = extents({&core.values});
    if (core_band != nullptr) {
      around_ = extents({&core_band->low, &core_band->high});
    }
    if (air != nullptr) {
      air_ = means(*air);
    }
    choose_scale();
    std::vector<std::string> lines;
    for (std::size_t row = 0; row < rows_; ++row) {
      lines.push_back(plot_line(row));
    }
    lines.push_back(axis_line());
    lines.push_back(rain_line());
    lines.push_back(label_line());
    lines.push_back(legend(air != nullptr));
    return lines;
  }

private:
  [[nodiscard]] std::size_t column_of(double day) const {
    const double share = std::clamp(day / days_, 0.0, 1.0);
    return std::min(columns_ - 1, static_cast<std::size_t>(share * static_cast<double>(columns_)));
  }

  std::vector<Extent> extents(std::initializer_list<const std::vector<double>*> curves) const {
    std::vector<Extent> extents(columns_);
    for (const std::vector<double>* values : curves) {
      for (std::size_t i = 0; i < values->size() && i < result_.time_h.size(); ++i) {
        extents[column_of(result_.time_h[i] / 24.0)].take(degree_((*values)[i]));
      }
    }
    // Fewer values than columns: a column without one lies between its neighbours.
    for (std::size_t i = 1; i < columns_; ++i) {
      if (extents[i].empty()) {
        extents[i] = extents[i - 1];
      }
    }
    return extents;
  }

  std::vector<double> means(const models::Series& series) const {
    std::vector<double> sums(columns_, 0.0);
    std::vector<double> counts(columns_, 0.0);
    for (std::size_t i = 0; i < series.values.size() && i < result_.time_h.size(); ++i) {
      if (std::isfinite(series.values[i])) {
        const std::size_t column = column_of(result_.time_h[i] / 24.0);
        sums[column] += degree_(series.values[i]);
        counts[column] += 1;
      }
    }
    double last = std::numeric_limits<double>::quiet_NaN();
    for (std::size_t i = 0; i < columns_; ++i) {
      last = counts[i] > 0 ? sums[i] / counts[i] : last;
      sums[i] = last;
    }
    return sums;
  }

  void choose_scale() {
    Extent all;
    for (const auto* extents : {&core_, &around_}) {
      for (const Extent& extent : *extents) {
        all.take(extent.low);
        all.take(extent.high);
      }
    }
    for (const double mean : air_) {
      all.take(mean);
    }
    if (all.empty()) {
      all = {0.0, 1.0};
    }
    const auto intervals = static_cast<double>(rows_ - 1);
    step_ = round_step(std::max(1.0, (all.high - all.low) / intervals));
    while (std::floor(all.low / step_) * step_ + intervals * step_ < all.high) {
      step_ = round_step(step_ * 1.01);
    }
    bottom_ = std::floor(all.low / step_) * step_;
    // No empty rows above the curve.
    rows_ = static_cast<std::size_t>(std::ceil((all.high - bottom_) / step_)) + 1;
  }

  /// Rows counted from the bottom; values go to the nearest.
  [[nodiscard]] std::optional<long> level_of(double value) const {
    if (!std::isfinite(value)) {
      return std::nullopt;
    }
    return std::lround((value - bottom_) / step_);
  }

  std::string plot_line(std::size_t row) const {
    const auto level = static_cast<long>(rows_ - 1 - row);
    const double value = bottom_ + static_cast<double>(level) * step_;
    const bool labelled = std::abs(std::remainder(value, 2 * step_)) < 0.01 * step_;
    std::string line = labelled ? fmt::format("{:4.0f} ", value) : std::string(margin - 1, ' ');
    line += '|';
    for (std::size_t column = 0; column < columns_; ++column) {
      line += mark(column, level);
    }
    line.erase(line.find_last_not_of(' ') + 1);
    return line;
  }

  [[nodiscard]] std::string_view mark(std::size_t column, long level) const {
    const auto reaches = [level, this](const Extent& extent) {
      return !extent.empty() && *level_of(extent.low) <= level && level <= *level_of(extent.high);
    };
    if (reaches(core_[column])) {
      return core_mark();
    }
    if (!air_.empty() && level_of(air_[column]) == level) {
      return air_mark();
    }
    return !around_.empty() && reaches(around_[column]) ? band_mark() : " ";
  }

  [[nodiscard]] std::string_view core_mark() const { return utf8_ ? "█" : "#"; }
  [[nodiscard]] std::string_view band_mark() const { return utf8_ ? "░" : ":"; }
  [[nodiscard]] std::string_view air_mark() const { return utf8_ ? "·" : "."; }

  /// Turns last, so that they stand where several things are done in one column.
  std::string axis_line() const {
    std::string axis(columns_, '-');
    for (const auto& [kind, letter] : events) {
      for (const models::EventRecord& event : result_.events) {
        if (event.kind == kind) {
          axis[column_of(event.day)] = letter;
        }
      }
    }
    return std::string(margin - 1, ' ') + '+' + axis;
  }

  std::string rain_line() const {
    const RainMarks& marks = rain_marks();
    const DisplayUnit depth = display_unit("mm", units_);
    std::string line = "rain  ";
    const double days_per_column = days_ / static_cast<double>(columns_);
    for (std::size_t column = 0; column < columns_; ++column) {
      const double from_day = static_cast<double>(column) * days_per_column;
      const double daily = depth(rain_mm(from_day, from_day + days_per_column) / days_per_column);
      line += daily >= marks.much     ? '|'
              : daily >= marks.some   ? ':'
              : daily >= marks.little ? '.'
                                      : ' ';
    }
    line.erase(line.find_last_not_of(' ') + 1);
    return line;
  }

  [[nodiscard]] double rain_mm(double from_day, double to_day) const {
    double sum = 0;
    if (pile_.weather) {
      const auto& rain = pile_.weather->rain_kg_m2_h;
      const double from_h = pile_.start_hour_in_weather + 24.0 * from_day;
      const double to_h = pile_.start_hour_in_weather + 24.0 * to_day;
      for (auto i = static_cast<std::size_t>(from_h); i < rain.size(); ++i) {
        const auto hour = static_cast<double>(i);
        if (hour >= to_h) {
          break;
        }
        // The share of the hour that lies in the column.
        sum += rain[i] * (std::min(hour + 1, to_h) - std::max(hour, from_h));
      }
    }
    return sum;
  }

  std::string label_line() const {
    std::string line(margin + columns_, ' ');
    const double step = round_step(days_ / 8.0);
    std::size_t free_from = 0;
    const int last = static_cast<int>(days_ / step * (1 + 1e-9));
    for (int i = 0; i <= last; ++i) {
      const double day = i * step;
      const std::string label = fmt::format("{:g}", day);
      const std::size_t at = margin + column_of(day);
      if (at >= free_from && at + label.size() <= line.size()) {
        line.replace(at, label.size(), label);
        free_from = at + label.size() + 1;
      }
    }
    const std::string_view name = "day";
    line.replace(0, name.size(), name);
    line.erase(line.find_last_not_of(' ') + 1);
    return line;
  }

  std::string legend(bool with_air) const {
    std::string line = fmt::format("      {} core", core_mark());
    if (!around_.empty()) {
      line += fmt::format("  {} 80 %", band_mark());
    }
    if (with_air) {
      line += fmt::format("  {} air", air_mark());
    }
    line += ", " + unit_sign(degree_.name, utf8_);
    for (const auto& mark : events) {
      const bool there = std::ranges::any_of(result_.events, [&](const models::EventRecord& event) {
        return event.kind == mark.kind;
      });
      if (there) {
        line += fmt::format("  {} {}", mark.letter, event_word(mark.kind));
      }
    }
    const RainMarks& marks = rain_marks();
    const std::string unit = display_unit("mm/day", units_).name;
    for (const std::string& rain :
         {fmt::format("  rain . under {:g}  : under {:g}  | more {}", marks.some, marks.much, unit),
          fmt::format("  rain . : | from {:g}, {:g}, {:g} {}", marks.little, marks.some, marks.much,
                      unit)}) {
      // One column for each UTF-8 character.
      const auto width = std::ranges::count_if(
          line, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
      if (static_cast<std::size_t>(width) + rain.size() <= margin + columns_) {
        return line.append(rain);
      }
    }
    return line;
  }

  static std::string_view event_word(std::string_view kind) {
    return kind == "turn" ? "turn" : kind == "water" ? "water" : kind == "add" ? "added" : "cover";
  }

  /// Rain a day from which each sign stands, mm or inches.
  struct RainMarks {
    double little, some, much;
  };
  [[nodiscard]] const RainMarks& rain_marks() const {
    static constexpr RainMarks in_mm{0.2, 2.0, 10.0};
    static constexpr RainMarks in_inches{0.01, 0.1, 0.4};
    return units_ == DisplayUnits::us ? in_inches : in_mm;
  }

  struct EventMark {
    std::string_view kind;
    char letter;
  };
  static constexpr std::array<EventMark, 4> events = {
      {{"cover", 'C'}, {"add", 'A'}, {"water", 'W'}, {"turn", 'T'}}};

  const models::PileDescription& pile_;
  const models::ForecastResult& result_;
  bool utf8_;
  DisplayUnits units_;
  DisplayUnit degree_;
  std::size_t columns_;
  std::size_t rows_;
  double days_;
  double bottom_ = 0;
  double step_ = 10;
  std::vector<Extent> core_;
  std::vector<Extent> around_; ///< of the band, or empty
  std::vector<double> air_;
};

} // namespace

std::vector<std::string> temperature_chart(const models::PileDescription& pile,
                                           const models::ForecastResult& result,
                                           const ChartSize& size, const ChartStyle& style,
                                           const models::Band* core_band) {
  const models::Series* core = result.find_series("core_temperature");
  if (core == nullptr || core->values.empty() || result.time_h.empty()) {
    return {};
  }
  return Chart(pile, result, size, style)
      .draw(*core, result.find_series("air_temperature"), core_band);
}

} // namespace heapcast::cli
