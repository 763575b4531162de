#include "cli/output/csv.hpp"

#include "cli/output/output_context.hpp"
#include "engine/atomic_file.hpp"
#include "engine/errors.hpp"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <iterator>
#include <string_view>
#include <system_error>

namespace heapcast::cli {
namespace {

/// A table as text, cell by cell.
class CsvText {
public:
  void cell(std::string_view text) {
    separate();
    if (text.find_first_of(",\"\r\n") == std::string_view::npos) {
      text_ += text;
      return;
    }
    text_ += '"';
    for (const char c : text) {
      text_ += c;
      if (c == '"') {
        text_ += c;
      }
    }
    text_ += '"';
  }
  void cell(double value) {
    separate();
    if (std::isfinite(value)) {
      fmt::format_to(std::back_inserter(text_), "{}", value);
    }
  }
  void heading(std::string_view name, std::string_view unit) {
    cell(unit.empty() ? std::string(name) : fmt::format("{} [{}]", name, unit));
  }
  void end_line() {
    text_ += "\r\n";
    at_start_ = true;
  }
  [[nodiscard]] const std::string& text() const { return text_; }

private:
  void separate() {
    if (!at_start_) {
      text_ += ',';
    }
    at_start_ = false;
  }

  std::string text_;
  bool at_start_ = true;
};

std::string series_csv(const models::ForecastResult& result, const std::string& start) {
  CsvText csv;
  csv.heading("time", "h");
  csv.heading("date", "");
  for (const models::Series& series : result.series) {
    csv.heading(series.name, series.unit);
  }
  csv.heading("limit", "");
  csv.end_line();
  for (std::size_t i = 0; i < result.time_h.size(); ++i) {
    csv.cell(result.time_h[i]);
    csv.cell(local_time(start, result.time_h[i]));
    for (const models::Series& series : result.series) {
      csv.cell(series.values.at(i));
    }
    csv.cell(i < result.limit.size() ? result.limit[i] : "");
    csv.end_line();
  }
  return csv.text();
}

std::string tests_csv(const models::ForecastResult& result, const std::string& start) {
  CsvText csv;
  csv.heading("time", "h");
  csv.heading("date", "");
  for (const models::Series& test : result.tests) {
    csv.heading(test.name, test.unit);
  }
  csv.end_line();
  for (std::size_t i = 0; i < result.test_time_h.size(); ++i) {
    csv.cell(result.test_time_h[i]);
    csv.cell(local_time(start, result.test_time_h[i]));
    for (const models::Series& test : result.tests) {
      csv.cell(test.values.at(i));
    }
    csv.end_line();
  }
  return csv.text();
}

std::string series_csv(const models::EnsembleResult& ensemble, const std::string& start) {
  const models::ForecastResult& central = ensemble.central;
  CsvText csv;
  csv.heading("time", "h");
  csv.heading("date", "");
  for (const models::Band& band : ensemble.bands) {
    for (const char* point : {"low", "median", "high"}) {
      csv.heading(fmt::format("{}_{}", band.name, point), band.unit);
    }
  }
  csv.heading("limit", "");
  csv.end_line();
  for (std::size_t i = 0; i < central.time_h.size(); ++i) {
    csv.cell(central.time_h[i]);
    csv.cell(local_time(start, central.time_h[i]));
    for (const models::Band& band : ensemble.bands) {
      csv.cell(band.low.at(i));
      csv.cell(band.mid.at(i));
      csv.cell(band.high.at(i));
    }
    csv.cell(i < central.limit.size() ? central.limit[i] : "");
    csv.end_line();
  }
  return csv.text();
}

std::string tests_csv(const models::EnsembleResult& ensemble, const std::string& start) {
  const std::vector<double>& time_h = ensemble.central.test_time_h;
  CsvText csv;
  csv.heading("time", "h");
  csv.heading("date", "");
  for (const models::Band& band : ensemble.test_bands) {
    for (const char* point : {"low", "median", "high"}) {
      csv.heading(fmt::format("{}_{}", band.name, point), band.unit);
    }
  }
  csv.end_line();
  for (std::size_t i = 0; i < time_h.size(); ++i) {
    csv.cell(time_h[i]);
    csv.cell(local_time(start, time_h[i]));
    for (const models::Band& band : ensemble.test_bands) {
      csv.cell(band.low.at(i));
      csv.cell(band.mid.at(i));
      csv.cell(band.high.at(i));
    }
    csv.end_line();
  }
  return csv.text();
}

std::string summary_csv(const models::EnsembleResult& ensemble) {
  CsvText csv;
  for (const char* name : {"name", "value", "unit", "reason", "low", "high", "missing_runs"}) {
    csv.heading(name, "");
  }
  csv.end_line();
  for (const models::RunValues& number : ensemble.numbers) {
    const models::Spread points = ensemble.spread_of(number);
    csv.cell(number.name);
    csv.cell(points.mid);
    csv.cell(number.unit);
    csv.cell(ensemble.reason(number));
    csv.cell(points.low);
    csv.cell(points.high);
    csv.cell(std::to_string(points.missing));
    csv.end_line();
  }
  return csv.text();
}

std::string runs_csv(const models::EnsembleResult& ensemble, const models::PileDescription& pile) {
  std::vector<std::size_t> drawn;
  CsvText csv;
  for (const char* name : {"run", "start", "failure"}) {
    csv.heading(name, "");
  }
  for (const models::RunValues& number : ensemble.numbers) {
    csv.heading(number.name, number.unit);
  }
  for (std::size_t p = 0; p < models::parameter_count; ++p) {
    if (models::is_drawn(pile, p)) {
      const models::ParameterRow& row = models::parameter_table()[p];
      csv.heading(fmt::format("parameter_{}", row.name), row.unit);
      drawn.push_back(p);
    }
  }
  csv.end_line();
  for (std::size_t run = 0; run < ensemble.runs(); ++run) {
    const models::RunFailure* failure = ensemble.failure(run);
    csv.cell(std::to_string(run));
    csv.cell(ensemble.start[run]);
    csv.cell(failure == nullptr ? "" : failure->reason);
    for (const models::RunValues& number : ensemble.numbers) {
      csv.cell(number.values[run]);
    }
    for (const std::size_t p : drawn) {
      csv.cell(ensemble.parameters[run][static_cast<models::Parameter>(p)]);
    }
    csv.end_line();
  }
  return csv.text();
}

std::string summary_csv(const models::ForecastResult& result) {
  CsvText csv;
  for (const char* name : {"name", "value", "unit", "reason"}) {
    csv.heading(name, "");
  }
  csv.end_line();
  for (const models::Scalar& scalar : result.scalars) {
    csv.cell(scalar.name);
    csv.cell(scalar.value);
    csv.cell(scalar.unit);
    csv.cell(scalar.reason);
    csv.end_line();
  }
  return csv.text();
}

std::string events_csv(const models::ForecastResult& result, const std::string& start) {
  constexpr double hours_per_day = 24.0;
  CsvText csv;
  csv.heading("day", "d");
  csv.heading("date", "");
  csv.heading("kind", "");
  csv.heading("reason", "");
  csv.heading("water", "litre");
  csv.heading("material", "kg");
  csv.end_line();
  for (const models::EventRecord& event : result.events) {
    csv.cell(event.day);
    csv.cell(local_time(start, event.day * hours_per_day));
    csv.cell(event.kind);
    csv.cell(event.reason);
    csv.cell(event.litres);
    csv.cell(event.kg);
    csv.end_line();
  }
  return csv.text();
}

std::string section_csv(const models::ForecastResult& result, const std::string& start) {
  CsvText csv;
  csv.heading("time", "h");
  csv.heading("date", "");
  csv.heading("cell", "");
  csv.heading("x", "m");
  csv.heading("z", "m");
  csv.heading("depth", "m");
  csv.heading("volume_at_build", "m3");
  for (const models::Field& field : result.fields) {
    csv.heading(field.name, field.unit);
  }
  csv.end_line();
  const std::size_t cells = result.cell_x_m.size();
  for (std::size_t i = 0; i < result.field_time_h.size(); ++i) {
    const std::string date = local_time(start, result.field_time_h[i]);
    for (std::size_t cell = 0; cell < cells; ++cell) {
      csv.cell(result.field_time_h[i]);
      csv.cell(date);
      csv.cell(std::to_string(cell));
      csv.cell(result.cell_x_m[cell]);
      csv.cell(result.cell_z_m.at(cell));
      csv.cell(result.cell_depth_m.at(cell));
      csv.cell(result.cell_volume_m3.at(cell));
      for (const models::Field& field : result.fields) {
        csv.cell(field.values.at(i * cells + cell));
      }
      csv.end_line();
    }
  }
  return csv.text();
}

void make_folder(const std::string& folder) {
  namespace fs = std::filesystem;
  std::error_code error;
  fs::create_directories(folder, error);
  if (!error && !fs::is_directory(folder)) {
    error = std::make_error_code(std::errc::not_a_directory);
  }
  if (error) {
    throw FileError(fmt::format(
        "{}: the folder for the CSV files cannot be made: {} - give a folder you may write to",
        folder, error.message()));
  }
}

void write_table(const std::string& folder, const char* name, const std::string& text) {
  engine::write_file_atomically(std::filesystem::path(folder) / name, text);
}

} // namespace

void write_csv(const std::string& folder, const models::ForecastResult& result,
               const std::string& start) {
  make_folder(folder);
  write_table(folder, "series.csv", series_csv(result, start));
  write_table(folder, "tests.csv", tests_csv(result, start));
  write_table(folder, "summary.csv", summary_csv(result));
  write_table(folder, "events.csv", events_csv(result, start));
  write_table(folder, "section.csv", section_csv(result, start));
}

void write_csv(const std::string& folder, const models::EnsembleResult& ensemble,
               const models::PileDescription& pile) {
  make_folder(folder);
  write_table(folder, "series.csv", series_csv(ensemble, pile.start));
  write_table(folder, "tests.csv", tests_csv(ensemble, pile.start));
  write_table(folder, "summary.csv", summary_csv(ensemble));
  write_table(folder, "runs.csv", runs_csv(ensemble, pile));
  write_table(folder, "events.csv", events_csv(ensemble.central, pile.start));
  write_table(folder, "section.csv", section_csv(ensemble.central, pile.start));
}

} // namespace heapcast::cli
