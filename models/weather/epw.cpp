#include "models/weather/epw.hpp"

#include "engine/errors.hpp"
#include "models/properties/moist_air.hpp"
#include "models/weather/checksum.hpp"
#include "models/weather/fao56.hpp"
#include "models/weather/file_faults.hpp"
#include "models/weather/gaps.hpp"
#include "models/weather/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

namespace heapcast::models {

namespace {

using std::chrono::hours;

constexpr double never = std::numeric_limits<double>::infinity();
constexpr std::size_t field_count = 35;

// Limits and codes as published, but for infrared and global radiation, where the published have no
// upper end and a sky of 0 W/m2: those of the hourly columns of CSV files.
constexpr auto fields = std::to_array<EpwField>({
    {1, "year", "", never, 1, 9999, 1, 0, nullptr},
    {2, "month", "", never, 1, 12, 1, 0, nullptr},
    {3, "day", "", never, 1, 31, 1, 0, nullptr},
    {4, "hour", "", never, 1, 24, 1, 0, nullptr},
    {5, "minute", "", never, 0, 60, 1, 0, nullptr},
    {6, "data source and uncertainty flags", "", never, -never, never, 1, 0, nullptr},
    {7, "dry bulb temperature", "degC", 99.9, -70, 70, 1, freezing_K,
     &WeatherSeries::temperature_K},
    {8, "dew point temperature", "degC", 99.9, -70, 70, 1, freezing_K, &WeatherSeries::dew_point_K},
    {9, "relative humidity", "%", 999, 0, 110, 0.01, 0, &WeatherSeries::humidity},
    {10, "atmospheric station pressure", "Pa", 999999, 31000, 120000, 1, 0, nullptr},
    {11, "extraterrestrial horizontal radiation", "Wh/m2", 9999, 0, never, 1, 0, nullptr},
    {12, "extraterrestrial direct normal radiation", "Wh/m2", 9999, 0, never, 1, 0, nullptr},
    {13, "horizontal infrared radiation intensity", "Wh/m2", 9999, 50, 700, 1, 0,
     &WeatherSeries::sky_infrared_W_m2},
    {14, "global horizontal radiation", "Wh/m2", 9999, 0, 1600, 1, 0,
     &WeatherSeries::radiation_W_m2},
    {15, "direct normal radiation", "Wh/m2", 9999, 0, 1600, 1, 0, nullptr},
    {16, "diffuse horizontal radiation", "Wh/m2", 9999, 0, 1600, 1, 0, nullptr},
    {17, "global horizontal illuminance", "lux", 999900, 0, never, 1, 0, nullptr},
    {18, "direct normal illuminance", "lux", 999900, 0, never, 1, 0, nullptr},
    {19, "diffuse horizontal illuminance", "lux", 999900, 0, never, 1, 0, nullptr},
    {20, "zenith luminance", "Cd/m2", 9999, 0, never, 1, 0, nullptr},
    {21, "wind direction", "deg", 999, 0, 360, 1, 0, nullptr},
    {22, "wind speed", "m/s", 999, 0, 40, 1, 0, &WeatherSeries::wind_m_s},
    {23, "total sky cover", "tenths", 99, 0, 10, 0.1, 0, &WeatherSeries::sky_cover},
    {24, "opaque sky cover", "tenths", 99, 0, 10, 0.1, 0, nullptr},
    {25, "visibility", "km", 9999, -never, never, 1, 0, nullptr},
    {26, "ceiling height", "m", 99999, -never, never, 1, 0, nullptr},
    {27, "present weather observation", "", 9, 0, 9, 1, 0, nullptr},
    {28, "present weather codes", "", 999999999, -never, never, 1, 0, nullptr},
    {29, "precipitable water", "mm", 999, -never, never, 1, 0, nullptr},
    {30, "aerosol optical depth", "thousandths", 0.999, -never, never, 1, 0, nullptr},
    {31, "snow depth", "cm", 999, -never, never, 1, 0, nullptr},
    {32, "days since last snowfall", "", 99, -never, never, 1, 0, nullptr},
    {33, "albedo", "", 999, -never, never, 1, 0, nullptr},
    {34, "liquid precipitation depth", "mm", 999, 0, 500, 1, 0, &WeatherSeries::rain_kg_m2},
    {35, "liquid precipitation quantity", "h", 99, 0, 24, 1, 0, nullptr},
});
static_assert(fields.size() == field_count);

constexpr std::size_t year_field = 0, month_field = 1, day_field = 2, hour_field = 3,
                      temperature_field = 6, global_field = 13, direct_field = 14,
                      diffuse_field = 15, wind_field = 21, total_cover_field = 22,
                      opaque_cover_field = 23, rain_field = 33, rain_hours_field = 34;

/// The fields that a row is read for, besides its time.
constexpr std::array read_fields{std::size_t{6},     std::size_t{7}, std::size_t{8},
                                 std::size_t{12},    global_field,   direct_field,
                                 diffuse_field,      wind_field,     total_cover_field,
                                 opaque_cover_field, rain_field,     rain_hours_field};

/// One column for each field; those that are not read stay empty.
using Columns = std::array<std::vector<double>, field_count>;

/// What the header lines say.
struct Header {
  std::string city;
  double latitude_deg = 0.0;
  double longitude_deg = 0.0;
  double utc_offset_h = 0.0;
  double elevation_m = 0.0;
  std::size_t location_line = 0;
  std::size_t periods_line = 0;
  bool leap_days = true;
  bool names_year = false;
  std::optional<LocalDays> first_day; ///< in the year 2000 where no year is named
  std::optional<LocalDays> last_day;
  std::optional<AnnualWave> soil_wave;
  double soil_depth_m = 0.0; ///< of the ground temperatures that it is of
};

/// A date of DATA PERIODS: "1/31", "1/31/2019", "31 Jan" or "January 31".
struct PeriodDate {
  LocalDays date;
  bool with_year = false;
};

std::optional<int> whole_number(std::string_view text) {
  const auto number = parse_number(trimmed(text));
  if (!number || !(*number >= -9999 && *number <= 9999) || *number != std::floor(*number)) {
    return std::nullopt;
  }
  return static_cast<int>(*number);
}

std::optional<LocalDays> calendar_day(int year, int month, int day) {
  if (year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > 31) {
    return std::nullopt;
  }
  return parse_date(fmt::format("{:04}-{:02}-{:02}", year, month, day));
}

std::optional<PeriodDate> period_date(std::string_view text) {
  constexpr int leap_year = 2000;
  const auto parts = pieces(text, '/');
  if (parts.size() == 2 || parts.size() == 3) {
    const auto month = whole_number(parts[0]);
    const auto day = whole_number(parts[1]);
    const auto year = parts.size() == 3 ? whole_number(parts[2]) : leap_year;
    const auto date =
        month && day && year ? calendar_day(*year, *month, *day) : std::optional<LocalDays>();
    return date ? std::optional(PeriodDate{*date, parts.size() == 3}) : std::nullopt;
  }
  const auto words = pieces(trimmed(text), ' ');
  if (words.size() != 2) {
    return std::nullopt;
  }
  constexpr std::array<std::string_view, 12> months{"jan", "feb", "mar", "apr", "may", "jun",
                                                    "jul", "aug", "sep", "oct", "nov", "dec"};
  for (const auto& [number, name] :
       {std::pair{words[0], words[1]}, std::pair{words[1], words[0]}}) {
    const auto day = whole_number(number);
    const auto month = std::find(months.begin(), months.end(), lower_case(name.substr(0, 3)));
    if (day && month != months.end()) {
      const auto date = calendar_day(leap_year, static_cast<int>(month - months.begin()) + 1, *day);
      return date ? std::optional(PeriodDate{*date, false}) : std::nullopt;
    }
  }
  return std::nullopt;
}

class EpwReader {
public:
  explicit EpwReader(const EpwOptions& options) : options_(&options), faults_(options.source) {}

  Weather read(std::string_view text) {
    const auto lines = table_lines(checked_text(text, options_->source));
    if (lines.empty()) {
      throw InputError(options_->source, "is empty", "give an EPW file with header and rows");
    }
    const std::size_t rows = read_header(lines);
    faults_.throw_if_any();
    site_ = place();
    std::vector<std::array<int, 4>> dates;
    std::vector<Values> values;
    std::vector<std::size_t> row_lines;
    for (std::size_t i = rows; i < lines.size(); ++i) {
      read_row(lines[i], dates, values, row_lines);
    }
    faults_.throw_if_any();
    if (dates.empty()) {
      throw InputError(options_->source, "has no rows below DATA PERIODS", "give a row an hour");
    }
    put_in_order(dates, values, row_lines);
    faults_.throw_if_any();
    spread_rain();
    take_substitutes();
    WeatherSeries series = used_columns();
    faults_.throw_if_any();
    if (const auto filled = fill_gaps(series)) {
      notes_.push_back(*filled);
    }
    move_to_site(series);
    if (is_typical(series)) {
      repeat(series);
    }
    check_covers(covered(series), needed(), lines.back().number, faults_);
    faults_.throw_if_any();
    return complete(series, fnv1a64_hex(text));
  }

private:
  using Values = std::array<double, read_fields.size()>;

  [[nodiscard]] TimeNeeded needed() const {
    return {.first = options_->first_needed, .last = options_->last_needed};
  }

  // --- header

  /// Returns where the rows start.
  std::size_t read_header(const std::vector<FileLine>& lines) {
    constexpr std::size_t most_fields = 5000;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const auto cells = split_csv_line(lines[i].text, ',');
      if (!cells || cells->size() > most_fields) {
        faults_.add(lines[i].number, cells ? "has too many fields" : "a quote is not closed",
                    "correct the header line");
        return lines.size();
      }
      const std::string key = lower_case(cells->front());
      if (i == 0 && key != "location") {
        faults_.add(lines[i].number, "is no LOCATION line, with which an EPW file starts",
                    "give an EPW file, or a CSV file without the ending .epw");
        return lines.size();
      }
      if (key == "location") {
        read_location(lines[i].number, *cells);
      } else if (key == "ground temperatures") {
        read_ground(lines[i].number, *cells);
      } else if (key == "holidays/daylight saving" || key == "holidays/daylight savings") {
        header_.leap_days = cells->size() < 2 || lower_case((*cells)[1]) != "no";
      } else if (key == "data periods") {
        read_periods(lines[i].number, *cells);
        return i + 1;
      } else if (whole_number(key)) {
        break;
      }
    }
    faults_.add(lines.front().number, "no line DATA PERIODS stands before the rows",
                "write DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31 as the header's last line");
    return lines.size();
  }

  void read_location(std::size_t line, const std::vector<std::string>& cells) {
    constexpr std::size_t location_fields = 10;
    header_.location_line = line;
    if (cells.size() < location_fields) {
      faults_.add(line, fmt::format("LOCATION has {} fields", cells.size()),
                  "give 10: LOCATION, city, state, country, source, number, latitude, longitude, "
                  "time zone, elevation");
      return;
    }
    const auto read = [&](std::size_t i, const char* name, double low, double high) {
      const auto number = parse_number(cells[i]);
      if (!number || !(*number >= low && *number <= high)) {
        faults_.add(line, fmt::format("{} of LOCATION is '{}'", name, shown(cells[i])),
                    fmt::format("write {:g} to {:g}", low, high));
        return 0.0;
      }
      return *number;
    };
    header_.city = cells[1];
    header_.latitude_deg = read(6, "the latitude", -90, 90);
    header_.longitude_deg = read(7, "the longitude", -180, 180);
    // Published -12..12; there are zones up to UTC+14.
    header_.utc_offset_h = read(8, "the time zone", -12, 14);
    header_.elevation_m = read(9, "the elevation", -500, 9000);
  }

  /// The ground temperatures of the depth nearest to the soil's of `complete_weather`.
  void read_ground(std::size_t line, const std::vector<std::string>& cells) {
    constexpr std::size_t first = 2, cells_each = 16, temperatures = 4;
    constexpr double deepest_m = 2.0;
    const auto fault = [&](const std::string& what) {
      faults_.add(line, what,
                  "give for each depth: depth, conductivity, density, specific heat, 12 monthly "
                  "temperatures from -60 to 60 degC; or write GROUND TEMPERATURES,0");
    };
    const auto count = cells.size() > 1 && !cells[1].empty() ? whole_number(cells[1]) : 0;
    if (!count || *count < 0 ||
        cells.size() < first + cells_each * static_cast<std::size_t>(*count)) {
      fault("GROUND TEMPERATURES does not hold the depths that it names");
      return;
    }
    for (std::size_t set = 0; set < static_cast<std::size_t>(*count); ++set) {
      const auto at = cells.begin() + static_cast<std::ptrdiff_t>(first + cells_each * set);
      const auto depth_m = parse_number(*at);
      std::array<double, 12> monthly_K{};
      bool sound = depth_m && *depth_m >= 0.0 && *depth_m <= 1000.0;
      for (std::size_t m = 0; m < 12; ++m) {
        const auto degC = parse_number(*(at + static_cast<std::ptrdiff_t>(temperatures + m)));
        sound = sound && degC && *degC >= -60.0 && *degC <= 60.0;
        monthly_K[m] = degC.value_or(0.0) + freezing_K;
      }
      if (!sound) {
        fault(fmt::format("depth {} of GROUND TEMPERATURES has a value that is none", set + 1));
        return;
      }
      const bool nearer = !header_.soil_wave || std::abs(*depth_m - soil_depth_m) <
                                                    std::abs(header_.soil_depth_m - soil_depth_m);
      if (*depth_m <= deepest_m && nearer) {
        header_.soil_depth_m = *depth_m;
        header_.soil_wave = deeper(wave_of_months(monthly_K), soil_depth_m - *depth_m);
      }
    }
  }

  void read_periods(std::size_t line, const std::vector<std::string>& cells) {
    header_.periods_line = line;
    const auto count = cells.size() > 1 ? whole_number(cells[1]) : std::nullopt;
    const auto an_hour = cells.size() > 2 ? whole_number(cells[2]) : std::nullopt;
    if (!count || *count < 1) {
      faults_.add(line, "DATA PERIODS does not say how many there are",
                  "write DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31");
      return;
    }
    if (an_hour != 1) {
      faults_.add(line,
                  fmt::format("has {} records an hour", an_hour
                                                            ? fmt::to_string(*an_hour)
                                                            : std::string("an unknown number of")),
                  "give a file with one record an hour");
    }
    constexpr std::size_t first = 3, cells_each = 4;
    std::optional<PeriodDate> from;
    std::optional<PeriodDate> to;
    const std::size_t last = first + cells_each * (static_cast<std::size_t>(*count) - 1);
    if (cells.size() >= last + cells_each) {
      from = period_date(cells[first + 2]);
      to = period_date(cells[last + 3]);
    }
    if (from && to) {
      header_.names_year = from->with_year && to->with_year;
      header_.first_day = from->date;
      header_.last_day = to->date;
    }
  }

  /// The site, with what only the file knows. Adds faults where they contradict.
  Site place() {
    Site site = options_->site;
    constexpr double far_deg = 10.0;
    if (std::abs(site.latitude_deg - header_.latitude_deg) > far_deg) {
      faults_.add(header_.location_line,
                  fmt::format("the weather is at latitude {:g}, the site at {:g} deg",
                              header_.latitude_deg, site.latitude_deg),
                  "give weather from nearer by, or correct the site's latitude (north positive)");
    } else if (site.latitude_deg != header_.latitude_deg ||
               site.longitude_deg.value_or(header_.longitude_deg) != header_.longitude_deg) {
      notes_.push_back({"place", fmt::format("of {} at latitude {:g}, longitude {:g} deg",
                                             header_.city.empty() ? "a place" : shown(header_.city),
                                             header_.latitude_deg, header_.longitude_deg)});
    }
    if (!site.utc_offset_h) {
      site.utc_offset_h = header_.utc_offset_h;
    }
    if (!site.longitude_deg) {
      site.longitude_deg = header_.longitude_deg;
    }
    if (!options_->elevation_known) {
      site.elevation_m = header_.elevation_m;
    }
    const double moved_h = *site.utc_offset_h - header_.utc_offset_h;
    if (moved_h != std::floor(moved_h)) {
      faults_.add(header_.location_line,
                  fmt::format("time zone UTC{:+g} h is not whole hours from the site's UTC{:+g} h",
                              header_.utc_offset_h, *site.utc_offset_h),
                  "leave utc_offset out: the site's times are then the file's");
    }
    check_site(site, options_->source);
    return site;
  }

  // --- rows

  void read_row(const FileLine& line, std::vector<std::array<int, 4>>& dates,
                std::vector<Values>& values, std::vector<std::size_t>& row_lines) {
    const auto cells = pieces(line.text, ',');
    if (cells.size() < wind_field + 1 || cells.size() > field_count + 1) {
      faults_.add(line.number, fmt::format("has {} fields", cells.size()),
                  fmt::format("give 35, at least those up to {}", fields[wind_field].name));
      return;
    }
    std::array<int, 4> date{};
    for (std::size_t f = year_field; f <= hour_field; ++f) {
      const auto number = whole_number(cells[f]);
      if (!number || !(*number >= fields[f].low && *number <= fields[f].high)) {
        faults_.add(line.number,
                    fmt::format("{} is '{}'", fields[f].name, shown(trimmed(cells[f]))),
                    fmt::format("write {:g} to {:g}", fields[f].low, fields[f].high));
        return;
      }
      date[f] = *number;
    }
    if (!calendar_day(date[year_field], date[month_field], date[day_field])) {
      faults_.add(line.number,
                  fmt::format("there is no {:04}-{:02}-{:02}", date[0], date[1], date[2]),
                  "correct year, month and day");
      return;
    }
    Values row{};
    for (std::size_t k = 0; k < read_fields.size(); ++k) {
      const std::size_t f = read_fields[k];
      row[k] = read_value(line.number, fields[f], f < cells.size() ? trimmed(cells[f]) : "");
    }
    const double dew_C = row[1];
    constexpr double instrument_error_K = 1.0;
    if (dew_C > row[0] + instrument_error_K) {
      faults_.add(line.number,
                  fmt::format("dew point temperature {:g} degC is above the air's {:g} degC", dew_C,
                              row[0]),
                  "correct the values, or write 99.9 for one that is missing");
    }
    dates.push_back(date);
    values.push_back(row);
    row_lines.push_back(line.number);
  }

  /// In the file's unit; NaN for a missing value, or with a fault.
  double read_value(std::size_t line, const EpwField& field, std::string_view text) {
    if (text.empty()) {
      return unknown_value;
    }
    const auto number = parse_number(text);
    if (number && *number >= field.missing) {
      return unknown_value;
    }
    // No sky sends down nothing: a column of zeros is a missing one.
    if (number == 0.0 && field.values == &WeatherSeries::sky_infrared_W_m2) {
      return unknown_value;
    }
    if (!number || !(*number >= field.low && *number <= field.high)) {
      faults_.add(line, fmt::format("{} is '{}'", field.name, shown(text)),
                  fmt::format("allowed is {:g} to {:g} {}, {:g} when it is missing", field.low,
                              field.high, field.unit, field.missing));
      return unknown_value;
    }
    return *number;
  }

  // --- order

  /// Whether the year changes elsewhere than at the new year: months from different years.
  static bool has_mixed_years(const std::vector<std::array<int, 4>>& dates) {
    for (std::size_t i = 1; i < dates.size(); ++i) {
      if (dates[i][year_field] != dates[i - 1][year_field] &&
          !(dates[i - 1][month_field] == 12 && dates[i][month_field] == 1)) {
        return true;
      }
    }
    return false;
  }

  void put_in_order(const std::vector<std::array<int, 4>>& dates, const std::vector<Values>& values,
                    const std::vector<std::size_t>& row_lines) {
    mixed_years_ = !header_.names_year && has_mixed_years(dates);
    const bool has_leap_day = std::any_of(dates.begin(), dates.end(), [](const auto& date) {
      return date[month_field] == 2 && date[day_field] == 29;
    });
    constexpr int leap_year = 2000, common_year = 2001;
    RowOrder order(SeriesStep::hour, options_->longest_gap_filled, faults_);
    for (std::size_t i = 0; i < dates.size(); ++i) {
      const auto& date = dates[i];
      const int year = mixed_years_ ? (has_leap_day ? leap_year : common_year) : date[year_field];
      const LocalHours time =
          *calendar_day(year, date[month_field], date[day_field]) + hours{date[hour_field]};
      if (order.last()) {
        repeat_before_march(*order.last(), time, row_lines[i], order);
      }
      append_missing(order.next(row_lines[i], time));
      append(values[i], row_lines[i]);
    }
    first_ = *order.first();
    check_period(dates);
  }

  /// 28 February again where the file leaves out the 29th, as its header says.
  void repeat_before_march(LocalHours last, LocalHours time, std::size_t line, RowOrder& order) {
    const LocalDays day = std::chrono::floor<std::chrono::days>(last);
    const std::chrono::year_month_day date{day};
    constexpr hours a_day{24};
    if (header_.leap_days || date.month() != std::chrono::February ||
        date.day() != std::chrono::day{29} || last != LocalHours{day} ||
        time != last + a_day + hours{1} || lines_.size() < 24) {
      return;
    }
    for (int hour = 1; hour <= 24; ++hour) {
      static_cast<void>(order.next(line, last + hours{hour}));
      for (const std::size_t f : read_fields) {
        columns_[f].push_back(columns_[f][columns_[f].size() - 24]);
      }
      lines_.push_back(line);
    }
    leap_days_made_.push_back(format_date(day));
  }

  void append_missing(long count) {
    const auto rows = static_cast<std::size_t>(count);
    for (const std::size_t f : read_fields) {
      columns_[f].insert(columns_[f].end(), rows, unknown_value);
    }
    lines_.insert(lines_.end(), rows, 0);
  }

  void append(const Values& row, std::size_t line) {
    for (std::size_t k = 0; k < read_fields.size(); ++k) {
      columns_[read_fields[k]].push_back(row[k]);
    }
    lines_.push_back(line);
  }

  /// The rows start and end on the days that DATA PERIODS names.
  void check_period(const std::vector<std::array<int, 4>>& dates) {
    const auto check = [&](const std::optional<LocalDays>& named, const std::array<int, 4>& row,
                           const char* what) {
      if (!named) {
        return;
      }
      const std::chrono::year_month_day date{*named};
      const bool same = static_cast<int>(static_cast<unsigned>(date.month())) == row[month_field] &&
                        static_cast<int>(static_cast<unsigned>(date.day())) == row[day_field] &&
                        (!header_.names_year || static_cast<int>(date.year()) == row[year_field]);
      if (!same) {
        faults_.add(header_.periods_line,
                    fmt::format("DATA PERIODS says that the {} day is {:02}-{:02}, the rows say "
                                "{:02}-{:02}",
                                what, static_cast<unsigned>(date.month()),
                                static_cast<unsigned>(date.day()), row[month_field],
                                row[day_field]),
                    "correct the header, or give all rows");
      }
    };
    check(header_.first_day, dates.front(), "first");
    check(header_.last_day, dates.back(), "last");
  }

  // --- columns

  [[nodiscard]] static bool is_known(const std::vector<double>& values) {
    return std::any_of(values.begin(), values.end(), [](double v) { return !std::isnan(v); });
  }

  /// Rain that was measured over several hours, evenly over these.
  void spread_rain() {
    auto& rain = columns_[rain_field];
    const auto measured = rain;
    for (std::size_t i = 0; i < rain.size(); ++i) {
      const double period_h = std::floor(columns_[rain_hours_field][i]);
      if (!(measured[i] > 0.0 && period_h > 1.0)) {
        continue;
      }
      const std::size_t count = std::min(static_cast<std::size_t>(period_h), i + 1);
      rain[i] -= measured[i];
      for (std::size_t k = i + 1 - count; k <= i; ++k) {
        rain[k] = (std::isnan(rain[k]) ? 0.0 : rain[k]) + measured[i] / static_cast<double>(count);
      }
      rain[i] = std::max(rain[i], 0.0);
    }
  }

  void take_substitutes() {
    if (!is_known(columns_[total_cover_field]) && is_known(columns_[opaque_cover_field])) {
      columns_[total_cover_field] = columns_[opaque_cover_field];
      notes_.push_back({"sky cover", "the opaque cover"});
    }
    auto& global = columns_[global_field];
    if (is_known(global) || !is_known(columns_[direct_field]) ||
        !is_known(columns_[diffuse_field])) {
      return;
    }
    notes_.push_back({"global radiation", "diffuse + direct normal by the sun's height"});
    Site there = site_;
    there.utc_offset_h = header_.utc_offset_h;
    const SiteSun sun(there);
    for (std::size_t i = 0; i < global.size(); ++i) {
      const LocalHours time = first_ + hours{i};
      const LocalDays date = std::chrono::floor<std::chrono::days>(time);
      // 0.0820 MJ/m2/min (FAO-56 eq. 21) on a plane that faces the sun.
      constexpr double solar_constant_W_m2 = 0.0820e6 / 60.0;
      const double normal_W_m2 =
          solar_constant_W_m2 * fao56::inverse_relative_distance(day_of_year(date));
      const double level_W_m2 =
          0.5 * (sun.extraterrestrial_W_m2(time - hours{1}) + sun.extraterrestrial_W_m2(time));
      global[i] = std::min(columns_[diffuse_field][i] +
                               columns_[direct_field][i] * level_W_m2 / normal_W_m2,
                           fields[global_field].high);
    }
  }

  /// The columns that can be used, in SI, an entry for each row.
  WeatherSeries used_columns() {
    WeatherSeries series;
    series.step = SeriesStep::hour;
    series.first = first_;
    series.soil_wave = header_.soil_wave;
    for (const EpwField& field : fields) {
      if (field.values == nullptr) {
        continue;
      }
      auto& column = columns_[field.column - 1];
      const bool required = field.column - 1 == temperature_field;
      if (!is_known(column)) {
        if (required) {
          faults_.add(lines_.back(), fmt::format("{} is missing in all rows", field.name),
                      "give a file with temperatures");
        } else if (field.column - 1 == rain_field) {
          column.assign(column.size(), 0.0);
          notes_.push_back({"rain", "the file has none: no rain falls"});
        } else {
          continue;
        }
      }
      if (gaps_can_be_filled(field, required || field.column - 1 == rain_field)) {
        auto& values = series.*(field.values);
        std::transform(column.begin(), column.end(), std::back_inserter(values),
                       [&](double value) { return value * field.factor + field.offset; });
      }
    }
    return series;
  }

  /// Whether a column can be used; adds faults for gaps that the user has to decide on.
  bool gaps_can_be_filled(const EpwField& field, bool required) {
    std::size_t longest = 0;
    for (const Gap& gap : gaps_of(columns_[field.column - 1])) {
      longest = std::max(longest, gap.count);
    }
    if (!required && static_cast<long>(longest) > longest_gap_filled.count()) {
      notes_.push_back(
          {std::string(field.name), fmt::format("is missing for {} h on end: not used", longest)});
      return false;
    }
    for (const Gap& gap : gaps_of(columns_[field.column - 1])) {
      if (static_cast<long>(gap.count) > options_->longest_gap_filled.count()) {
        const auto at = std::find_if(lines_.begin() + static_cast<std::ptrdiff_t>(gap.first),
                                     lines_.end(), [](std::size_t line) { return line > 0; });
        faults_.add(*at,
                    fmt::format("{} is missing from {} for {} h", field.name,
                                format_time(first_ + hours{gap.first}), gap.count),
                    static_cast<long>(gap.count) <= longest_gap_filled.count()
                        ? "give it, or have gaps filled: fill_gaps = \"3 days\" in [site]"
                        : "give it; gaps up to 3 days can be filled");
      }
    }
    return true;
  }

  // --- time

  void move_to_site(WeatherSeries& series) {
    const auto moved = static_cast<int>(*site_.utc_offset_h - header_.utc_offset_h);
    series.first += hours{moved};
    moved_ = hours{moved};
    if (moved != 0) {
      notes_.push_back(
          {"time", fmt::format("moved by {:+} h from UTC{:+g} h to the site's UTC{:+g} h", moved,
                               header_.utc_offset_h, *site_.utc_offset_h)});
    }
  }

  /// From the start of the first row's hour to the end of the last one's.
  [[nodiscard]] static TimeCovered covered(const WeatherSeries& series) {
    return {.first = series.first - hours{1},
            .last = series.first + hours{series.size()} - hours{1}};
  }

  /// Whether the rows are one calendar year that stands for every year.
  [[nodiscard]] bool is_typical(const WeatherSeries& series) {
    const LocalHours first = first_ - hours{1};
    const std::chrono::year_month_day start{std::chrono::floor<std::chrono::days>(first)};
    const LocalHours next_year = LocalDays{(start.year() + std::chrono::years{1}) / 1 / 1};
    const bool whole = LocalHours{LocalDays{start.year() / 1 / 1}} == first &&
                       first + hours{series.size()} == next_year;
    if (mixed_years_ && !whole) {
      faults_.add(header_.periods_line,
                  "the rows are of different years and no whole year from 1 January to 31 December",
                  "give all rows, or rows whose years follow one another");
      faults_.throw_if_any();
    }
    return whole && (mixed_years_ || (!header_.names_year && !covered(series).has(needed())));
  }

  /// The typical year in every year needed, and a day more at both ends.
  void repeat(WeatherSeries& series) {
    const LocalHours first = first_ - hours{1};
    const LocalHours from = options_->first_needed.value_or(first);
    const LocalHours to = std::max(options_->last_needed.value_or(from), from);
    const auto year_of = [](LocalHours time) {
      return std::chrono::year_month_day{std::chrono::floor<std::chrono::days>(time)}.year();
    };
    const std::chrono::year own{year_of(first)};
    const LocalDays begin = LocalDays{year_of(from) / 1 / 1} - std::chrono::days{1};
    const LocalDays end = LocalDays{year_of(to) / 12 / 31} + std::chrono::days{1};
    const WeatherSeries once = series;
    for (const EpwField& field : fields) {
      if (field.values != nullptr) {
        (series.*(field.values)).clear();
      }
    }
    for (LocalDays day = begin; day <= end; day += std::chrono::days{1}) {
      const std::chrono::year_month_day date{day};
      std::chrono::year_month_day same{own, date.month(), date.day()};
      if (!same.ok()) {
        same = own / std::chrono::February / 28;
      }
      const auto at = static_cast<std::ptrdiff_t>((LocalHours{LocalDays{same}} - first).count());
      for (const EpwField& field : fields) {
        if (field.values != nullptr && !(once.*(field.values)).empty()) {
          const auto start = (once.*(field.values)).begin() + at;
          (series.*(field.values)).insert((series.*(field.values)).end(), start, start + 24);
        }
      }
    }
    series.first = LocalHours{begin} + hours{1} + moved_;
    notes_.push_back(
        {"year", mixed_years_
                     ? "a typical year, of months from several years, stands for every year"
                     : fmt::format("{} stands for every year, as the file names none",
                                   static_cast<int>(own))});
  }

  /// Rows, which end at their time, as samples at whole hours, of which the first is the first
  /// row's start.
  static void make_samples(WeatherSeries& series) {
    for (const EpwField& field : fields) {
      if (field.values == nullptr || (series.*(field.values)).empty()) {
        continue;
      }
      auto& values = series.*(field.values);
      if (field.values == &WeatherSeries::rain_kg_m2) {
        values.push_back(0.0);
        continue;
      }
      values.insert(values.begin(), values.front());
      if (field.values == &WeatherSeries::radiation_W_m2) {
        for (std::size_t i = 1; i + 1 < values.size(); ++i) {
          values[i] = 0.5 * (values[i] + values[i + 1]);
        }
      }
    }
    series.first -= hours{1};
  }

  Weather complete(WeatherSeries& series, const std::string& checksum) {
    make_samples(series);
    Weather weather =
        complete_weather(series, site_, {.name = options_->source, .checksum = checksum});
    if (!leap_days_made_.empty()) {
      notes_.push_back({"leap day", "28 February again on " + listed(leap_days_made_)});
    }
    weather.estimates.insert(weather.estimates.end(), notes_.begin(), notes_.end());
    return weather;
  }

  const EpwOptions* options_;
  FileFaults faults_;
  Header header_;
  Site site_;
  Columns columns_;
  std::vector<std::size_t> lines_; ///< of the rows; 0 for one that is not there
  LocalHours first_;               ///< of the first row, by the file's clock
  hours moved_{0};
  bool mixed_years_ = false;
  std::vector<std::string> leap_days_made_;
  std::vector<WeatherEstimate> notes_;
};

} // namespace

std::span<const EpwField> epw_fields() {
  return fields;
}

bool is_epw(std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") {
    text.remove_prefix(3);
  }
  constexpr std::string_view first = "location,";
  constexpr std::size_t header_bytes = 65536;
  return lower_case(text.substr(0, first.size())) == first &&
         lower_case(text.substr(0, header_bytes)).find("\ndata periods,") != std::string::npos;
}

Weather read_epw(std::string_view text, const EpwOptions& options) {
  return EpwReader(options).read(text);
}

} // namespace heapcast::models
