#include "cli/study/study_results.hpp"

#include "cli/joined.hpp"
#include "cli/output/cf_unit.hpp"
#include "cli/study/study_sensitivity.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <sstream>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using engine::Attributes;
using engine::Dataset;
using engine::Storage;
using engine::StreamedVariable;
using engine::Variable;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr std::string_view run_failed = "the run failed";

/// Labels and texts in the order of their first appearance.
struct Union {
  std::vector<Label> labels;
  std::map<std::string, std::size_t> places;

  std::size_t add(const Label& label) {
    const auto [place, is_new] = places.emplace(label.name, labels.size());
    if (is_new) {
      labels.push_back(label);
    }
    return place->second;
  }
};

/// Position of each label of a run in the union; the same for all runs with these labels.
struct Places {
  std::vector<std::size_t> scalars, series, fields;
};

/// What all runs have together, from a first reading of the records.
struct Survey {
  Union scalars, series, fields;
  std::vector<bool> lacks;       ///< by scalar: some run does not have it
  std::set<std::string> reasons; ///< in alphabetical order, whatever the order of runs
  std::size_t days = 0;
  std::size_t cells = 0;
  std::vector<double> field_day; ///< the longest
  std::size_t failed = 0;
  std::string first_failure;
  bool decided = false;
  /// By scalar and run, where sensitivity indices are wanted of them.
  std::vector<std::vector<double>> columns;
  std::size_t runs_for_columns = 0; ///< 0: they are not wanted

  void add(const RunRecord& record, std::size_t row) {
    if (!record.failure.empty()) {
      ++failed;
      reasons.emplace(run_failed);
      if (first_failure.empty()) {
        first_failure = record.failure;
      }
      return;
    }
    decided = decided || !record.decided_by.empty();
    for (const Label& label : record.labels->scalars) {
      scalars.add(label);
    }
    lacks.resize(scalars.labels.size(), false);
    columns.resize(runs_for_columns == 0 ? 0 : scalars.labels.size(),
                   std::vector<double>(runs_for_columns, missing));
    for (std::size_t i = 0; i < record.scalars.size(); ++i) {
      if (runs_for_columns > 0) {
        columns[scalars.places.at(record.labels->scalars[i].name)][row] = record.scalars[i];
      }
      if (!record.reasons[i].empty()) {
        lacks[scalars.places.at(record.labels->scalars[i].name)] = true;
        reasons.insert(record.reasons[i]);
      }
    }
    for (std::size_t i = 0; i < record.series.size(); ++i) {
      series.add(record.labels->series[i]);
      days = std::max(days, record.series[i].size());
    }
    for (std::size_t i = 0; i < record.fields.size(); ++i) {
      fields.add(record.labels->fields[i]);
    }
    cells = std::max(cells, record.cell_x_m.size());
    if (record.field_day.size() > field_day.size()) {
      field_day = record.field_day;
    }
  }
};

Attributes described(const Label& label) {
  const std::string units = cf_unit(label.unit);
  Attributes attributes{{"units", units}, {"long_name", label.long_name}};
  if (units != label.unit && !label.unit.empty()) {
    attributes.emplace_back("display_units", label.unit);
  }
  return attributes;
}

Attributes named(std::string long_name) {
  return {{"long_name", std::move(long_name)}};
}

/// Writes the file from a survey and a second reading.
class Writer {
public:
  Writer(const std::string& path, const StudyRuns& runs, const Survey& survey)
      : runs_(runs), survey_(survey) {
    declare();
    // A power of 2 that depends on nothing but what is written: the file's chunks follow from it.
    constexpr std::size_t block_bytes = std::size_t{32} << 20U;
    constexpr std::size_t most_rows = 4096;
    const std::size_t rows = std::clamp<std::size_t>(block_bytes / row_bytes_, 1, most_rows);
    block_rows_ = std::bit_floor(rows);
    stream_ = std::make_unique<engine::ResultsStream>(path, frame(), variables_, block_rows_);
  }

  void write() {
    for (std::size_t begin = 0; begin < runs_.count; begin += block_rows_) {
      write_block(begin, std::min(block_rows_, runs_.count - begin));
    }
    stream_->finish();
  }

private:
  std::size_t add(std::string name, std::vector<std::string> dimensions, Attributes attributes,
                  Storage storage) {
    if (!coordinates_.empty()) {
      attributes.emplace_back("coordinates", coordinates_);
    }
    variables_.push_back({std::move(name), std::move(dimensions), std::move(attributes), storage});
    return variables_.size() - 1;
  }

  void declare() {
    std::vector<std::string> names;
    for (const DesignColumn& column : runs_.design) {
      const bool text = !column.texts.empty();
      add(column.name, {"run"}, column.attributes,
          text           ? Storage::text
          : column.whole ? Storage::whole
                         : Storage::real);
      names.push_back(column.name);
    }
    coordinates_ = joined(names, " ");
    start_ = add("run_start", {"run"}, named("start of the weather used, local standard time"),
                 Storage::text);
    failure_ = add("run_failure", {"run"}, named("why the run failed; empty for one that did not"),
                   Storage::text);
    if (survey_.decided) {
      decided_ = add("ready_decided_by", {"run"},
                     named("criteria that were met last, or are not met within the horizon"),
                     Storage::text);
    }
    for (std::size_t i = 0; i < survey_.scalars.labels.size(); ++i) {
      const Label& label = survey_.scalars.labels[i];
      Attributes attributes = described(label);
      const bool lacks = survey_.lacks[i] || survey_.failed > 0;
      if (lacks) {
        attributes.emplace_back("ancillary_variables", label.name + "_reason");
      }
      scalars_.push_back(add(label.name, {"run"}, std::move(attributes), Storage::real));
      reasons_.push_back(
          lacks ? std::optional(add(label.name + "_reason", {"run"},
                                    named("place in `reason` of why there is no value, -1 where "
                                          "there is: " +
                                          label.long_name),
                                    Storage::whole))
                : std::nullopt);
    }
    row_bytes_ = 8 * (variables_.size() + 1);
    for (const Label& label : survey_.series.labels) {
      series_.push_back(add(label.name, {"run", "day"}, described(label), Storage::single));
      row_bytes_ += 8 * survey_.days;
    }
    if (survey_.fields.labels.empty()) {
      return;
    }
    for (const auto& [name, long_name] : cell_names) {
      cells_.push_back(add(name, {"run", "cell"},
                           described({"", std::string_view(name) == "cell_volume" ? "m3" : "m",
                                      std::string(long_name)}),
                           Storage::single));
      row_bytes_ += 8 * survey_.cells;
    }
    for (const Label& label : survey_.fields.labels) {
      fields_.push_back(
          add(label.name, {"run", "field_day", "cell"}, described(label), Storage::single));
      row_bytes_ += 8 * survey_.field_day.size() * survey_.cells;
    }
  }

  [[nodiscard]] Dataset frame() const {
    Dataset frame;
    frame.attributes = runs_.attributes;
    frame.attributes.emplace_back("failed_runs", static_cast<std::int64_t>(survey_.failed));
    if (survey_.failed > 0) {
      frame.attributes.emplace_back("first_failure", survey_.first_failure);
    }
    engine::Dimension run{"run", runs_.count, {}, named("number of the run in the study")};
    for (std::size_t i = 0; i < runs_.count; ++i) {
      run.values.push_back(static_cast<double>(runs_.first + i));
    }
    frame.dimensions.push_back(std::move(run));
    if (!series_.empty()) {
      engine::Dimension day{"day", survey_.days, {}, described({"", "day", "since the build"})};
      for (std::size_t i = 0; i < survey_.days; ++i) {
        day.values.push_back(static_cast<double>(i));
      }
      frame.dimensions.push_back(std::move(day));
    }
    if (!fields_.empty()) {
      frame.dimensions.push_back({"field_day", survey_.field_day.size(), survey_.field_day,
                                  described({"", "day", "of the pictures, since the build"})});
      frame.dimensions.push_back({"cell", survey_.cells, {}, {}});
    }
    if (!survey_.reasons.empty()) {
      frame.dimensions.push_back({"reason_number", survey_.reasons.size(), {}, {}});
      frame.variables.push_back(
          {"reason",
           {"reason_number"},
           {},
           {survey_.reasons.begin(), survey_.reasons.end()},
           named("why a run does not have a number; # stands for what differs from run to "
                 "run"),
           {}});
    }
    if (!survey_.columns.empty()) {
      StudyOutputs outputs{{}, survey_.scalars.labels, survey_.columns};
      for (const DesignColumn& column : runs_.design) {
        if (!column.whole) {
          outputs.factors.push_back(column.name);
        }
      }
      add_sensitivity(frame, outputs);
    }
    return frame;
  }

  void write_block(std::size_t begin, std::size_t count) {
    write_design(begin, count);
    const std::size_t scalars = scalars_.size();
    std::vector<std::string> starts(count);
    std::vector<std::string> failures(count);
    std::vector<std::string> decided(count);
    std::vector<std::vector<double>> values(scalars, std::vector<double>(count, missing));
    std::vector<std::vector<double>> why(scalars, std::vector<double>(count, -1.0));
    std::vector<std::vector<double>> series(series_.size(),
                                            std::vector<double>(count * survey_.days, missing));
    const std::size_t picture = survey_.field_day.size() * survey_.cells;
    std::vector<std::vector<double>> fields(fields_.size(),
                                            std::vector<double>(count * picture, missing));
    std::vector<std::vector<double>> cells(cells_.size(),
                                           std::vector<double>(count * survey_.cells, missing));
    for (std::size_t row = 0; row < count; ++row) {
      RunRecord record = runs_.record(runs_.first + begin + row);
      starts[row] = std::move(record.start);
      failures[row] = std::move(record.failure);
      decided[row] = std::move(record.decided_by);
      put_scalars(record, !failures[row].empty(), row, values, why);
      put_rows(survey_.series, record.labels->series, record.series, row, survey_.days, series);
      put_cells(record, row, cells);
      put_pictures(record, row, fields);
    }
    stream_->write(start_, begin, starts);
    stream_->write(failure_, begin, failures);
    if (decided_) {
      stream_->write(*decided_, begin, decided);
    }
    for (std::size_t i = 0; i < scalars; ++i) {
      stream_->write(scalars_[i], begin, values[i]);
      if (reasons_[i]) {
        stream_->write(*reasons_[i], begin, why[i]);
      }
    }
    const auto write_all = [&](const std::vector<std::size_t>& variables,
                               const std::vector<std::vector<double>>& all) {
      for (std::size_t i = 0; i < variables.size(); ++i) {
        stream_->write(variables[i], begin, all[i]);
      }
    };
    write_all(series_, series);
    write_all(cells_, cells);
    write_all(fields_, fields);
  }

  void write_design(std::size_t begin, std::size_t count) {
    for (std::size_t i = 0; i < runs_.design.size(); ++i) {
      const DesignColumn& column = runs_.design[i];
      if (column.texts.empty()) {
        stream_->write(i, begin, std::span(column.numbers).subspan(begin, count));
      } else {
        stream_->write(i, begin, std::span(column.texts).subspan(begin, count));
      }
    }
  }

  [[nodiscard]] double place_of_reason(const std::string& text) const {
    return static_cast<double>(std::distance(survey_.reasons.begin(), survey_.reasons.find(text)));
  }

  void put_scalars(const RunRecord& record, bool failed, std::size_t row,
                   std::vector<std::vector<double>>& values,
                   std::vector<std::vector<double>>& why) const {
    if (failed) {
      for (std::vector<double>& reasons : why) {
        reasons[row] = place_of_reason(std::string(run_failed));
      }
      return;
    }
    for (std::size_t i = 0; i < record.scalars.size(); ++i) {
      const std::size_t place = survey_.scalars.places.at(record.labels->scalars[i].name);
      values[place][row] = record.scalars[i];
      if (!record.reasons[i].empty()) {
        why[place][row] = place_of_reason(record.reasons[i]);
      }
    }
  }

  static void put_rows(const Union& all, const std::vector<Label>& labels,
                       const std::vector<std::vector<float>>& from, std::size_t row,
                       std::size_t length, std::vector<std::vector<double>>& to) {
    for (std::size_t i = 0; i < from.size(); ++i) {
      std::ranges::copy(from[i], to[all.places.at(labels[i].name)].begin() +
                                     static_cast<std::ptrdiff_t>(row * length));
    }
  }

  void put_cells(const RunRecord& record, std::size_t row,
                 std::vector<std::vector<double>>& cells) const {
    if (cells.empty()) {
      return;
    }
    const std::array all = {&record.cell_x_m, &record.cell_z_m, &record.cell_depth_m,
                            &record.cell_volume_m3};
    for (std::size_t i = 0; i < all.size(); ++i) {
      std::ranges::copy(*all.at(i),
                        cells[i].begin() + static_cast<std::ptrdiff_t>(row * survey_.cells));
    }
  }

  void put_pictures(const RunRecord& record, std::size_t row,
                    std::vector<std::vector<double>>& fields) const {
    const std::size_t own = record.cell_x_m.size();
    const std::size_t times = survey_.field_day.size();
    for (std::size_t i = 0; i < record.fields.size(); ++i) {
      std::vector<double>& to = fields[survey_.fields.places.at(record.labels->fields[i].name)];
      for (std::size_t t = 0; t < record.field_day.size(); ++t) {
        const auto from = record.fields[i].begin() + static_cast<std::ptrdiff_t>(t * own);
        std::copy(from, from + static_cast<std::ptrdiff_t>(own),
                  to.begin() + static_cast<std::ptrdiff_t>((row * times + t) * survey_.cells));
      }
    }
  }

  static constexpr std::array<std::pair<const char*, const char*>, 4> cell_names = {{
      {"cell_x", "distance of the cell's centre from the axis at the build"},
      {"cell_z", "height of the cell's centre above the ground at the build"},
      {"cell_depth", "depth of the cell's centre below the nearest surface at the build"},
      {"cell_volume", "volume of the cell at the build"},
  }};

  const StudyRuns& runs_;
  const Survey& survey_;
  std::vector<StreamedVariable> variables_;
  std::string coordinates_;
  std::size_t start_ = 0, failure_ = 0;
  std::optional<std::size_t> decided_;
  std::vector<std::size_t> scalars_, series_, fields_, cells_;
  std::vector<std::optional<std::size_t>> reasons_;
  std::size_t row_bytes_ = 1;
  std::size_t block_rows_ = 1;
  std::unique_ptr<engine::ResultsStream> stream_;
};

} // namespace

StudyRuns planned_runs(const StudyPlan& plan, std::size_t first, std::size_t count,
                       Attributes attributes) {
  StudyRuns runs;
  runs.attributes = std::move(attributes);
  runs.first = first;
  runs.count = count;
  const Study& study = plan.study();
  const auto add = [&](std::string name, Attributes described, bool whole) -> DesignColumn& {
    return runs.design.emplace_back(
        DesignColumn{std::move(name), std::move(described), whole, {}, {}});
  };
  DesignColumn& point = add("point", named("number of the point in the design"), true);
  for (std::size_t i = 0; i < count; ++i) {
    point.numbers.push_back(static_cast<double>(plan.point(first + i)));
  }
  if (study.weather_years > 1) {
    DesignColumn& year = add("weather_year", named("years of weather behind the pile's own"), true);
    for (std::size_t i = 0; i < count; ++i) {
      year.numbers.push_back(static_cast<double>(plan.weather_year(first + i)));
    }
  }
  const std::size_t before = runs.design.size();
  for (const Factor& factor : study.factors) {
    Attributes described_factor = {{"long_name", factor.meaning}, {"pile_key", factor.key}};
    if (factor.numeric) {
      described_factor.emplace_back("units", cf_unit(factor.unit));
    }
    add(factor.name, std::move(described_factor), false);
  }
  for (std::size_t i = 0; i < count; ++i) {
    const std::vector<FactorValue> values = plan.values(first + i);
    for (std::size_t j = 0; j < values.size(); ++j) {
      DesignColumn& column = runs.design[before + j];
      if (study.factors[j].numeric) {
        column.numbers.push_back(values[j].number);
      } else {
        column.texts.push_back(values[j].text);
      }
    }
  }
  std::vector<std::string> names;
  for (const DesignColumn& column : runs.design) {
    names.push_back(column.name);
  }
  runs.attributes.emplace_back("design", joined(names, " "));
  return runs;
}

void write_study_results(const std::string& path, const StudyRuns& runs) {
  Survey survey;
  survey.runs_for_columns = has_sensitivity(runs.attributes) ? runs.count : 0;
  for (std::size_t i = 0; i < runs.count; ++i) {
    survey.add(runs.record(runs.first + i), i);
  }
  Writer(path, runs, survey).write();
}

namespace {

/// A study's results in memory, and where what is in them.
struct StoredStudy {
  Dataset data;
  std::size_t first = 0;
  const Variable* start = nullptr;
  const Variable* failure = nullptr;
  const Variable* decided = nullptr;
  const Variable* reason = nullptr;
  struct Number {
    const Variable* values;
    const Variable* reasons; ///< nullptr: all have it
  };
  std::vector<Number> numbers;
  std::vector<const Variable*> series, fields;
  std::array<const Variable*, 4> cells{};
  std::shared_ptr<RunLabels> labels = std::make_shared<RunLabels>();

  [[nodiscard]] RunRecord record(std::size_t run) const;
};

Label label_of(const Variable& variable) {
  const auto text = [&](std::string_view name) {
    const auto found = std::ranges::find(variable.attributes, name, &Attributes::value_type::first);
    const auto* value =
        found == variable.attributes.end() ? nullptr : std::get_if<std::string>(&found->second);
    return value == nullptr ? std::string() : *value;
  };
  const std::string shown = text("display_units");
  const std::string units = text("units");
  return {variable.name, !shown.empty() ? shown : units == "1" ? "" : units, text("long_name")};
}

std::vector<float> row_of(const Variable& variable, std::size_t row, std::size_t rows) {
  const std::size_t length = rows == 0 ? 0 : variable.values.size() / rows;
  std::vector<float> values;
  for (std::size_t i = row * length; i < (row + 1) * length; ++i) {
    values.push_back(static_cast<float>(variable.values[i]));
  }
  return values;
}

RunRecord StoredStudy::record(std::size_t run) const {
  const std::size_t row = run - first;
  const std::size_t rows = start->texts.size();
  RunRecord record = failed_record(run, start->texts.at(row), failure->texts.at(row));
  if (!record.failure.empty()) {
    return record;
  }
  record.labels = labels;
  record.decided_by = decided == nullptr ? "" : decided->texts.at(row);
  for (const Number& number : numbers) {
    record.scalars.push_back(number.values->values.at(row));
    const double place = number.reasons == nullptr ? -1.0 : number.reasons->values.at(row);
    record.reasons.push_back(
        place < 0 || reason == nullptr ? "" : reason->texts.at(static_cast<std::size_t>(place)));
  }
  for (const Variable* one : series) {
    record.series.push_back(row_of(*one, row, rows));
  }
  for (const Variable* one : fields) {
    record.fields.push_back(row_of(*one, row, rows));
  }
  if (!fields.empty()) {
    record.field_day = data.dimension("field_day")->values;
    record.cell_x_m = row_of(*cells[0], row, rows);
    record.cell_z_m = row_of(*cells[1], row, rows);
    record.cell_depth_m = row_of(*cells[2], row, rows);
    record.cell_volume_m3 = row_of(*cells[3], row, rows);
  }
  return record;
}

std::string text_attribute(const Attributes& attributes, std::string_view name) {
  const auto found = std::ranges::find(attributes, name, &Attributes::value_type::first);
  const auto* text = found == attributes.end() ? nullptr : std::get_if<std::string>(&found->second);
  return text == nullptr ? "" : *text;
}

[[noreturn]] void no_study(const std::string& path) {
  throw FileError(
      fmt::format("{}: holds no study - give files that `heapcast sweep` has written", path));
}

/// Sorts the variables of a file into what they are.
void sort_variables(StoredStudy& study, const std::set<std::string>& design) {
  static const std::array<std::string, 4> cell_names = {"cell_x", "cell_z", "cell_depth",
                                                        "cell_volume"};
  for (const Variable& variable : study.data.variables) {
    const auto cell = std::ranges::find(cell_names, variable.name);
    if (variable.name == "reason") {
      study.reason = &variable;
    } else if (variable.dimensions.empty() || variable.dimensions.front() != "run") {
      continue; // computed again
    } else if (variable.name == "run_start") {
      study.start = &variable;
    } else if (variable.name == "run_failure") {
      study.failure = &variable;
    } else if (variable.name == "ready_decided_by") {
      study.decided = &variable;
    } else if (cell != cell_names.end()) {
      study.cells.at(static_cast<std::size_t>(cell - cell_names.begin())) = &variable;
    } else if (variable.dimensions.size() == 3) {
      study.fields.push_back(&variable);
      study.labels->fields.push_back(label_of(variable));
    } else if (variable.dimensions.size() == 2) {
      study.series.push_back(&variable);
      study.labels->series.push_back(label_of(variable));
    } else if (!design.contains(variable.name) && !variable.name.ends_with("_reason")) {
      study.numbers.push_back({&variable, study.data.variable(variable.name + "_reason")});
      study.labels->scalars.push_back(label_of(variable));
    }
  }
}

} // namespace

StudyRuns read_study_results(const std::string& path) {
  auto study = std::make_shared<StoredStudy>();
  study->data = engine::read_results_file(path);
  const engine::Dimension* run = study->data.dimension("run");
  const std::string design = text_attribute(study->data.attributes, "design");
  if (run == nullptr || run->values.empty() || design.empty()) {
    no_study(path);
  }
  StudyRuns runs;
  for (const auto& [name, value] : study->data.attributes) {
    if (name != "failed_runs" && name != "first_failure") { // counted again
      runs.attributes.emplace_back(name, value);
    }
  }
  runs.first = static_cast<std::size_t>(run->values.front());
  runs.count = run->size;
  std::set<std::string> names;
  std::istringstream words(design);
  for (std::string name; words >> name;) {
    const Variable* variable = study->data.variable(name);
    if (variable == nullptr) {
      no_study(path);
    }
    DesignColumn column{name, {}, false, variable->values, variable->texts};
    for (const auto& attribute : variable->attributes) {
      column.attributes.push_back(attribute);
    }
    column.whole = name == "point" || name == "weather_year";
    runs.design.push_back(std::move(column));
    names.insert(name);
  }
  study->first = runs.first;
  sort_variables(*study, names);
  if (study->start == nullptr || study->failure == nullptr ||
      study->start->texts.size() != runs.count || study->failure->texts.size() != runs.count ||
      (!study->fields.empty() && std::ranges::count(study->cells, nullptr) > 0)) {
    no_study(path);
  }
  runs.record = [study](std::size_t number) { return study->record(number); };
  return runs;
}

} // namespace heapcast::cli
