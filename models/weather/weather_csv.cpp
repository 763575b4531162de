#include "models/weather/weather_csv.hpp"

#include "engine/errors.hpp"
#include "engine/nearest.hpp"
#include "models/weather/checksum.hpp"
#include "models/weather/columns.hpp"
#include "models/weather/file_faults.hpp"
#include "models/weather/gaps.hpp"
#include "models/weather/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <set>

namespace heapcast::models {

namespace {

char separator_of(std::string_view header) {
  char best = ',';
  for (const char candidate : {';', '\t'}) {
    if (std::count(header.begin(), header.end(), candidate) >
        std::count(header.begin(), header.end(), best)) {
      best = candidate;
    }
  }
  return best;
}

constexpr std::string_view date_names = "date|day|time|datetime|date_time|timestamp";

bool is_date_name(std::string_view name) {
  const auto names = pieces(date_names, '|');
  return std::find(names.begin(), names.end(), name) != names.end();
}

/// A column that is read: where it is and what its numbers mean.
struct ReadColumn {
  const WeatherColumn* column = nullptr;
  const WeatherUnit* unit = nullptr;
  const WeatherUnit* limits_unit = nullptr; ///< of the limits in the table of columns
  std::size_t index = 0;
};

/// What the header says.
struct Table {
  SeriesStep step = SeriesStep::day;
  char separator = ',';
  std::size_t field_count = 0;
  std::vector<std::size_t> date_columns; ///< one, or a date and a time of day
  std::optional<DateForm> date_form;     ///< as the header or the rows say
  bool utc = false;                      ///< the header says that times are in UTC
  std::vector<ReadColumn> columns;
  std::optional<std::size_t> station_column;
  std::vector<std::string> unused;
};

/// Finds out what the header's columns are.
class HeaderReader {
public:
  HeaderReader(const FileLine& line, const std::vector<std::string>& cells,
               const WeatherCsvOptions& options, FileFaults& faults)
      : line_(line.number), options_(&options), faults_(&faults) {
    for (const auto& cell : cells) {
      cells_.push_back(read_header_cell(cell));
    }
    taken_.resize(cells_.size(), false);
  }

  Table read() {
    table_.field_count = cells_.size();
    table_.step = find_step();
    take_station();
    take_choices();
    take_known_names();
    const bool daily = table_.step == SeriesStep::day;
    for (const auto& column : weather_columns()) {
      const auto values = column.values;
      const bool required =
          values == &WeatherSeries::rain_kg_m2 ||
          (daily ? values == &WeatherSeries::tmin_K || values == &WeatherSeries::tmax_K
                 : values == &WeatherSeries::temperature_K);
      if (required && !has(column)) {
        report_missing(column);
      }
    }
    report_slips();
    check_dates();
    return std::move(table_);
  }

private:
  /// Days when a lowest or highest temperature is there; without any temperature by the name of the
  /// column of times.
  [[nodiscard]] SeriesStep find_step() const {
    bool temperature = false;
    bool time = false;
    std::vector<const WeatherColumn*> columns;
    for (const auto& choice : options_->columns) {
      columns.push_back(find_weather_column(choice.quantity));
    }
    for (const auto& cell : cells_) {
      columns.push_back(cell.column);
      time = time || cell.name.find("time") != std::string::npos;
    }
    for (const auto* column : columns) {
      if (column != nullptr &&
          (column->values == &WeatherSeries::tmin_K || column->values == &WeatherSeries::tmax_K)) {
        return SeriesStep::day;
      }
      temperature =
          temperature || (column != nullptr && column->values == &WeatherSeries::temperature_K);
    }
    return temperature || time ? SeriesStep::hour : SeriesStep::day;
  }

  /// Whether the column is read, or would be but for a fault that has been reported.
  [[nodiscard]] bool has(const WeatherColumn& column) const {
    return faulty_.count(&column) > 0 ||
           std::any_of(table_.columns.begin(), table_.columns.end(),
                       [&](const ReadColumn& read) { return read.column == &column; });
  }

  [[nodiscard]] std::vector<std::string> cell_texts() const {
    std::vector<std::string> texts;
    for (const auto& cell : cells_) {
      texts.push_back(shown(cell.text));
    }
    return texts;
  }

  [[nodiscard]] std::string cell_list() const { return listed(cell_texts()); }

  /// The column with this header; adds a fault when there is none.
  std::optional<std::size_t> find_cell(const std::string& header, const std::string& purpose) {
    const auto wanted = read_header_cell(header);
    const auto same_text = [&](const HeaderCell& cell) {
      return lower_case(cell.text) == lower_case(wanted.text);
    };
    const auto same_name = [&](const HeaderCell& cell) { return cell.name == wanted.name; };
    auto found = std::find_if(cells_.begin(), cells_.end(), same_text);
    if (found == cells_.end()) {
      found = std::find_if(cells_.begin(), cells_.end(), same_name);
    }
    if (found != cells_.end()) {
      return static_cast<std::size_t>(found - cells_.begin());
    }
    const auto texts = cell_texts();
    const auto near = engine::nearest(header, texts);
    faults_->add(line_, fmt::format("has no column '{}' for {}", shown(header), purpose),
                 near.empty() ? "the columns are: " + cell_list()
                              : fmt::format("did you mean '{}'?", near));
    return std::nullopt;
  }

  void take_station() {
    if (options_->station) {
      table_.station_column = find_cell(options_->station->column, "the station");
      if (table_.station_column) {
        taken_[*table_.station_column] = true;
      }
    }
  }

  void take_choices() {
    for (const auto& choice : options_->columns) {
      const bool date = is_date_name(choice.quantity);
      const auto* column = find_weather_column(choice.quantity);
      if (column == nullptr && !date) {
        std::vector<std::string> names{"date", "time"};
        for (const auto& known : weather_columns()) {
          names.emplace_back(known.name);
        }
        const auto near = engine::nearest(choice.quantity, names);
        faults_->add(line_, fmt::format("no quantity is named '{}'", shown(choice.quantity)),
                     near.empty() ? "choose from " + listed(names)
                                  : fmt::format("did you mean '{}'?", near));
        continue;
      }
      const auto index = find_cell(choice.header, choice.quantity);
      if (!index) {
        if (column != nullptr) {
          faulty_.insert(column);
        }
      } else if (date) {
        taken_[*index] = true;
        take_dates(*index, choice.unit.empty() ? cells_[*index].unit : choice.unit);
      } else {
        take(*column, *index, choice.unit.empty() ? cells_[*index].unit : choice.unit);
      }
    }
  }

  void take_known_names() {
    const bool dates_chosen = !table_.date_columns.empty();
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      const auto& cell = cells_[i];
      if (taken_[i]) {
        continue;
      }
      if (is_date_name(cell.name) && !dates_chosen) {
        taken_[i] = true;
        take_dates(i, cell.unit);
      } else if (cell.column != nullptr && !is_chosen(*cell.column)) {
        take(*cell.column, i, cell.unit);
      }
    }
  }

  /// A column of dates or times; in brackets may stand its form or UTC.
  void take_dates(std::size_t index, const std::string& form_text) {
    table_.date_columns.push_back(index);
    const std::string form = lower_case(form_text);
    if (form.starts_with("d")) {
      table_.date_form = DateForm::day_first;
    } else if (form.starts_with("m")) {
      table_.date_form = DateForm::month_first;
    }
    table_.utc = table_.utc || form.ends_with("utc") || form.ends_with("gmt");
  }

  /// One column of dates or times, or a date and a time of day in this order.
  void check_dates() {
    auto& columns = table_.date_columns;
    if (columns.empty()) {
      const bool daily = table_.step == SeriesStep::day;
      faults_->add(
          line_, fmt::format("has no column of {}", daily ? "dates" : "times"),
          fmt::format("name it '{}'; the columns are: {}", daily ? "date" : "time", cell_list()));
    } else if (columns.size() > 2) {
      faults_->add(line_, "has more than two columns of dates or times",
                   "keep one, or one of dates and one of times of day");
    } else if (columns.size() == 2 && cells_[columns[0]].name == "time") {
      std::swap(columns[0], columns[1]);
    }
  }

  [[nodiscard]] bool is_chosen(const WeatherColumn& column) const {
    return std::any_of(options_->columns.begin(), options_->columns.end(),
                       [&](const ColumnChoice& choice) {
                         return find_weather_column(choice.quantity) == &column;
                       });
  }

  void take(const WeatherColumn& column, std::size_t index, const std::string& unit_text) {
    taken_[index] = true;
    const std::string header = shown(cells_[index].text);
    const std::string names = weather_unit_names(column.dimension);
    const auto* unit = find_weather_unit(column.dimension, unit_text);
    if (!column.has(table_.step)) {
      table_.unused.push_back(header);
    } else if (has(column)) {
      faults_->add(line_, fmt::format("column '{}' is a second one for {}", header, column.name),
                   "keep one, or name it in the column choice");
    } else if (unit_text.empty()) {
      faulty_.insert(&column);
      faults_->add(line_, fmt::format("column '{}' has no unit", header),
                   fmt::format("write '{} [{}]' (units: {}) or choose the column with its unit",
                               column.name, column.unit, names));
    } else if (unit == nullptr) {
      faulty_.insert(&column);
      faults_->add(line_,
                   fmt::format("unit '{}' of column '{}' is not known", shown(unit_text), header),
                   fmt::format("write one of {}", names));
    } else {
      table_.columns.push_back({.column = &column,
                                .unit = unit,
                                .limits_unit = find_weather_unit(column.dimension, column.unit),
                                .index = index});
    }
  }

  void report_missing(const WeatherColumn& column) {
    faulty_.insert(&column);
    std::vector<std::string> names;
    std::vector<std::size_t> indices;
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      if (!taken_[i]) {
        names.push_back(cells_[i].name);
        indices.push_back(i);
      }
    }
    const std::string wanted = fmt::format("{} [{}]", column.name, column.unit);
    const std::string fault = fmt::format("has no column for {} ({})", column.name, column.meaning);
    std::vector<std::string> words{std::string(column.name)};
    for (const auto alias : pieces(column.aliases, '|')) {
      words.emplace_back(alias);
    }
    for (const auto& word : words) {
      const auto near = engine::nearest(word, names);
      if (!near.empty()) {
        const auto at = std::find(names.begin(), names.end(), near) - names.begin();
        const std::size_t index = indices[static_cast<std::size_t>(at)];
        taken_[index] = true;
        faults_->add(line_, fault,
                     fmt::format("is it '{}'? Name it '{}'", shown(cells_[index].text), wanted));
        return;
      }
    }
    faults_->add(line_, fault,
                 fmt::format("add '{}' or choose one of the columns: {}", wanted, cell_list()));
  }

  /// Columns that are not known: a slip of a name that is missing is a fault, others are not used.
  void report_slips() {
    std::vector<std::string> words;
    for (const auto& column : weather_columns()) {
      if (has(column) || !column.has(table_.step)) {
        continue;
      }
      words.emplace_back(column.name);
      for (const auto alias : pieces(column.aliases, '|')) {
        words.emplace_back(alias);
      }
    }
    for (std::size_t i = 0; i < cells_.size(); ++i) {
      if (taken_[i] || cells_[i].name.empty()) {
        continue;
      }
      const auto near = engine::nearest(cells_[i].name, words);
      const bool slip = !near.empty() && cells_[i].name.size() <= near.size() + 2;
      if (!slip) {
        table_.unused.push_back(shown(cells_[i].text));
      } else {
        faults_->add(line_, fmt::format("column '{}' is not known", shown(cells_[i].text)),
                     fmt::format("did you mean '{} [{}]'? If not, give it another name or leave "
                                 "it out",
                                 near, find_weather_column(near)->unit));
      }
    }
  }

  std::size_t line_;
  const WeatherCsvOptions* options_;
  FileFaults* faults_;
  std::vector<HeaderCell> cells_;
  std::vector<bool> taken_;
  std::set<const WeatherColumn*> faulty_; ///< with a fault that has been reported
  Table table_;
};

/// The text of a row's date and time.
std::string time_text(const Table& table, const std::vector<std::string>& fields) {
  std::string text;
  for (const std::size_t index : table.date_columns) {
    text += (text.empty() ? "" : " ") + fields[index];
  }
  return text;
}

/// Finds out whether dates have the day or the month first, where the header does not say it: only
/// what every row allows. Adds a fault when both are possible and differ.
void find_date_form(Table& table, std::span<const FileLine> rows, FileFaults& faults) {
  if (table.date_form) {
    return;
  }
  bool day_first = true;
  bool month_first = true;
  std::size_t differs = 0;
  std::string example;
  for (const FileLine& line : rows) {
    const auto fields = split_csv_line(line.text, table.separator);
    if (!fields || fields->size() != table.field_count) {
      continue;
    }
    const std::string text = time_text(table, *fields);
    const auto as_day = parse_row_time(text, DateForm::day_first);
    const auto as_month = parse_row_time(text, DateForm::month_first);
    if (!as_day && !as_month) {
      continue;
    }
    day_first = day_first && as_day;
    month_first = month_first && as_month;
    if (as_day && as_month && as_day->time != as_month->time && differs == 0) {
      differs = line.number;
      example = text;
    }
    if (!month_first || !day_first) {
      break;
    }
  }
  table.date_form = day_first ? DateForm::day_first : DateForm::month_first;
  if (day_first && month_first && differs > 0) {
    faults.add(differs, fmt::format("'{}' may have the day or the month first", shown(example)),
               "write dates as 2026-03-01, or say it in the header: date [dd.mm.yyyy] or "
               "date [mm/dd/yyyy]");
  }
}

/// Reads the rows below the header.
class RowReader {
public:
  RowReader(const Table& table, const WeatherCsvOptions& options, FileFaults& faults)
      : table_(&table), options_(&options), faults_(&faults), sun_(options.site),
        order_(table.step, options.longest_gap_filled, faults) {
    series_.step = table.step;
  }

  void read(const FileLine& line) {
    const auto fields = split_csv_line(line.text, table_->separator);
    if (!fields) {
      order_.next_unread();
      faults_->add(line.number, "a quote is not closed", "close it on the same line");
      return;
    }
    if (fields->size() != table_->field_count) {
      order_.next_unread();
      faults_->add(line.number,
                   fmt::format("has {} {}, the header {}", fields->size(),
                               fields->size() == 1 ? "field" : "fields", table_->field_count),
                   "give one value for each column");
      return;
    }
    if (table_->station_column) {
      const auto& station = (*fields)[*table_->station_column];
      if (station != options_->station->value) {
        constexpr std::size_t most_stations = 100;
        if (other_stations_.size() < most_stations) {
          other_stations_.insert(station);
        }
        return;
      }
    }
    read_time(line, *fields);
    read_values(line, *fields);
    lines_.push_back(line.number);
  }

  WeatherSeries finish(std::size_t last_line) {
    if (!order_.any()) {
      report_no_rows(last_line);
    } else if (order_.first()) {
      const auto& last = *order_.last();
      check_covers({.first = *order_.first(),
                    .last = table_->step == SeriesStep::day ? last + order_.period() : last},
                   {.first = options_->first_needed, .last = options_->last_needed}, last_line,
                   *faults_);
      series_.first = *order_.first();
    }
    if (fills()) {
      check_gaps();
    }
    return std::move(series_);
  }

private:
  void read_time(const FileLine& line, const std::vector<std::string>& fields) {
    const std::string text = time_text(*table_, fields);
    const bool daily = table_->step == SeriesStep::day;
    const auto time = site_time(line, text);
    if (!time || (daily && *time != std::chrono::floor<std::chrono::days>(*time))) {
      faults_->add(line.number,
                   fmt::format("'{}' is not a {}", shown(text), daily ? "date" : "whole hour"),
                   daily ? "write it as 2026-03-01" : "write it as 2026-03-01T06:00");
      time_ = std::nullopt;
      order_.next_unread();
      return;
    }
    time_ = time;
    insert_missing(order_.next(line.number, *time));
  }

  /// The time by the site's clock; nothing when it is none.
  std::optional<LocalHours> site_time(const FileLine& line, const std::string& text) {
    const auto row = parse_row_time(text, *table_->date_form);
    const bool daily = table_->step == SeriesStep::day;
    if (!row || daily || (!row->utc_offset && !table_->utc)) {
      return row && !(daily && row->utc_offset) ? std::optional(row->time) : std::nullopt;
    }
    const Site& site = options_->site;
    if (!site.utc_offset_h && !site.longitude_deg) {
      if (!zone_reported_) {
        faults_->add(line.number, fmt::format("'{}' has a time zone, the site none", shown(text)),
                     "give the site's utc_offset, or times in local standard time");
      }
      zone_reported_ = true;
      return row->time;
    }
    const double site_h =
        site.utc_offset_h.value_or(std::round(site.longitude_deg.value_or(0.0) / 15.0));
    const std::chrono::minutes site_offset{std::lround(60.0 * site_h)};
    const auto moved = site_offset - row->utc_offset.value_or(std::chrono::minutes{0});
    if (moved % std::chrono::hours{1} != std::chrono::minutes{0}) {
      if (!zone_reported_) {
        faults_->add(line.number,
                     fmt::format("'{}' is no whole hour by the site's clock, UTC{:+g} h",
                                 shown(text), site_h),
                     "write a utc_offset in [site] that is whole hours from the file's zone; the "
                     "pile's times are then by that clock");
      }
      zone_reported_ = true;
      return row->time;
    }
    return row->time + std::chrono::duration_cast<std::chrono::hours>(moved);
  }

  /// Rows that are not there, in every column.
  void insert_missing(long count) {
    const auto rows = static_cast<std::size_t>(count);
    for (const auto& read : table_->columns) {
      auto& values = series_.*(read.column->values);
      values.insert(values.end(), rows, std::nan(""));
    }
    lines_.insert(lines_.end(), rows, 0);
  }

  void read_values(const FileLine& line, const std::vector<std::string>& fields) {
    for (const auto& read : table_->columns) {
      (series_.*(read.column->values)).push_back(read_value(line, read, fields[read.index]));
    }
    check_together(line);
  }

  [[nodiscard]] bool fills() const { return options_->longest_gap_filled.count() > 0; }

  /// Adds a fault for each gap in a column that is too long to be filled.
  void check_gaps() {
    for (const auto& read : table_->columns) {
      const auto& values = series_.*(read.column->values);
      for (const Gap& gap : gaps_of(values)) {
        const bool all = gap.count == values.size();
        if (!all &&
            static_cast<long>(gap.count) * order_.period() <= options_->longest_gap_filled) {
          continue;
        }
        const auto at = std::find_if(lines_.begin() + static_cast<std::ptrdiff_t>(gap.first),
                                     lines_.end(), [](std::size_t line) { return line > 0; });
        faults_->add(*at,
                     all ? fmt::format("{} has no value", read.column->name)
                         : fmt::format("{} is missing from here on for {} h", read.column->name,
                                       static_cast<long>(gap.count) * order_.period().count()),
                     all ? "leave the column out"
                         : fmt::format("give the values; gaps up to {} h are filled",
                                       options_->longest_gap_filled.count()));
      }
    }
  }

  /// The value in SI; NaN, with a fault, when it cannot be used.
  double read_value(const FileLine& line, const ReadColumn& read, const std::string& field) {
    const WeatherColumn& column = *read.column;
    const double low = column.low(table_->step);
    const double high = column.high(table_->step);
    const auto limits = [&] {
      return fmt::format("allowed is {:g} to {:g} {}", low, high, column.unit);
    };
    std::string text = field;
    if (table_->separator == ';') {
      std::replace(text.begin(), text.end(), ',', '.');
    }
    if (text.empty() && fills()) {
      return std::nan("");
    }
    const auto number = parse_number(text);
    if (!number || !std::isfinite(*number)) {
      faults_->add(line.number,
                   text.empty() ? fmt::format("{} is empty", column.name)
                                : fmt::format("{} '{}' is not a number", column.name, shown(field)),
                   fmt::format("write a number in {}; {}", read.unit->name, limits()));
      return std::nan("");
    }
    const double value = *number * read.unit->factor + read.unit->offset;
    const auto& limits_unit = *read.limits_unit;
    const double converted = (value - limits_unit.offset) / limits_unit.factor;
    // Converting a limit may itself round beyond it.
    constexpr double rounding = 1e-12;
    if (!(converted >= low - rounding * std::abs(low) &&
          converted <= high + rounding * std::abs(high))) {
      faults_->add(line.number,
                   fmt::format("{} is {:g} {}{}", column.name, *number, read.unit->name,
                               read.unit == read.limits_unit
                                   ? ""
                                   : fmt::format(" ({:.4g} {})", converted, column.unit)),
                   limits() + "; correct the value or the column's unit");
      return std::nan("");
    }
    return value;
  }

  /// What the values of one row say together; NaN, already reported, says nothing.
  void check_together(const FileLine& line) {
    const bool daily = table_->step == SeriesStep::day;
    const auto degC = [](double kelvin) { return kelvin - 273.15; };
    const auto& warmest = daily ? series_.tmax_K : series_.temperature_K;
    const double warmest_K = warmest.empty() ? std::nan("") : warmest.back();
    if (daily && !series_.tmin_K.empty() && series_.tmin_K.back() > warmest_K) {
      faults_->add(line.number,
                   fmt::format("tmin {:.4g} degC is above tmax {:.4g} degC",
                               degC(series_.tmin_K.back()), degC(warmest_K)),
                   "correct the values; are the columns swapped?");
    }
    if (!series_.humidity_min.empty() && !series_.humidity_max.empty() &&
        series_.humidity_min.back() > series_.humidity_max.back()) {
      faults_->add(line.number,
                   fmt::format("humidity_min {:.4g} % is above humidity_max {:.4g} %",
                               100 * series_.humidity_min.back(),
                               100 * series_.humidity_max.back()),
                   "correct the values; are the columns swapped?");
    }
    constexpr double instrument_error_K = 1.0;
    for (const auto& [name, column] : {std::pair{"dew_point", &series_.dew_point_K},
                                       std::pair{"wet_bulb", &series_.wet_bulb_K}}) {
      if (!column->empty() && column->back() > warmest_K + instrument_error_K) {
        faults_->add(line.number,
                     fmt::format("{} {:.4g} degC is above the air's {:.4g} degC", name,
                                 degC(column->back()), degC(warmest_K)),
                     "correct the value or the column's unit");
      }
    }
    if (daily && time_ && !series_.radiation_W_m2.empty()) {
      // 10 % and 10 W/m2 for instrument error and twilight.
      const double above_W_m2 =
          sun_.extraterrestrial_W_m2(std::chrono::floor<std::chrono::days>(*time_));
      if (series_.radiation_W_m2.back() > 1.1 * above_W_m2 + 10.0) {
        faults_->add(
            line.number,
            fmt::format("radiation {:.4g} W/m2 is more than the {:.4g} W/m2 that reach the top of "
                        "the atmosphere that day",
                        series_.radiation_W_m2.back(), above_W_m2),
            "correct the value, the column's unit or the latitude");
      }
    }
  }

  void report_no_rows(std::size_t last_line) {
    if (!table_->station_column) {
      faults_->add(last_line, "has no rows below its header", "give at least one day");
      return;
    }
    const std::vector<std::string> stations(other_stations_.begin(), other_stations_.end());
    const auto near = engine::nearest(options_->station->value, stations);
    std::vector<std::string> names;
    std::transform(stations.begin(), stations.end(), std::back_inserter(names), shown);
    faults_->add(last_line,
                 fmt::format("has no rows with {} = '{}'", shown(options_->station->column),
                             shown(options_->station->value)),
                 near.empty() ? "there is " + listed(names)
                              : fmt::format("did you mean '{}'?", shown(near)));
  }

  const Table* table_;
  const WeatherCsvOptions* options_;
  FileFaults* faults_;
  SiteSun sun_;
  RowOrder order_;
  bool zone_reported_ = false;
  WeatherSeries series_;
  std::vector<std::size_t> lines_; ///< of the rows; 0 for one that is not there
  std::optional<LocalHours> time_; ///< of the row that is read; nothing when it cannot be told
  std::set<std::string> other_stations_;
};

} // namespace

Weather read_weather_csv(std::string_view text, const WeatherCsvOptions& options) {
  check_site(options.site, options.source);
  const auto lines = table_lines(checked_text(text, options.source));
  if (lines.empty()) {
    throw InputError(options.source, "is empty", "give a header and at least one day of weather");
  }
  FileFaults faults(options.source);
  const char separator = separator_of(lines.front().text);
  const auto cells = split_csv_line(lines.front().text, separator);
  constexpr std::size_t most_columns = 1000;
  if (!cells || cells->size() > most_columns) {
    faults.add(lines.front().number,
               cells ? fmt::format("has {} columns, more than {}", cells->size(), most_columns)
                     : "a quote is not closed",
               "give a header line with the columns' names and units");
    faults.throw_if_any();
  }
  Table table = HeaderReader(lines.front(), *cells, options, faults).read();
  table.separator = separator;
  const bool rows_can_be_told = !table.date_columns.empty() &&
                                options.station.has_value() == table.station_column.has_value();
  if (!rows_can_be_told) {
    faults.throw_if_any();
  }

  const auto row_lines = std::span(lines).subspan(1);
  find_date_form(table, row_lines, faults);
  RowReader rows(table, options, faults);
  for (const auto& line : row_lines) {
    rows.read(line);
  }
  WeatherSeries series = rows.finish(lines.back().number);
  faults.throw_if_any();
  const auto filled = fill_gaps(series);

  Weather weather = complete_weather(series, options.site,
                                     {.name = options.source, .checksum = fnv1a64_hex(text)});
  if (!series.air_pressure_Pa.empty() && series.wet_bulb_K.empty()) {
    table.unused.emplace_back("pressure");
  }
  if (filled) {
    weather.estimates.push_back(*filled);
  }
  if (!table.unused.empty()) {
    weather.estimates.push_back({"columns not used", listed(table.unused)});
  }
  return weather;
}

} // namespace heapcast::models
