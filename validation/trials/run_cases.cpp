// Runs one pile file once for every row of a table of drawn inputs and prints the wanted numbers.
//
//   run_cases PILE.toml ROWS.tsv WANTED...  > numbers.tsv
//
// The first line of ROWS.tsv has the columns' names, the others one run each, all split by tabs:
// - `share:NAME`: the model parameter NAME at this share of its prior, 0..1 (prior_quantile);
// - `value:NAME`: the model parameter NAME in its table's unit;
// - any other name: a key of the pile file and its value, as `heapcast forecast --set KEY=VALUE`.
//
// WANTED, over the curves and the daily laboratory tests of a run; A and B are days since the
// build, both optional:
//   scalar:NAME           a number of the run
//   at:NAME:A             the value at day A, linear between samples
//   mean:NAME:A:B         of the samples between A and B
//   max:NAME:A:B          the largest of them
//   min:NAME:A:B          the least of them
//   days_above:NAME:X:A:B days with the value at or above X
//   first_above:NAME:X    first day at or above X; nan: never
//   last_above:NAME:X     last day at or above X; 0: never
//   parameter:NAME        the model parameter itself
//   ready:DAYS            ready_day, DAYS where the run ends before that
//
// A run that fails prints nan for all and its reason on the error stream.

#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"
#include "engine/run_pool.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <algorithm>
#include <cmath>
#include <exception>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include <fmt/format.h>

namespace {

using heapcast::InputError;
using heapcast::models::ForecastResult;
using heapcast::models::Parameter;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::istringstream stream(text);
  for (std::string part; std::getline(stream, part, at);) {
    parts.push_back(part);
  }
  return parts;
}

struct Table {
  std::vector<std::string> columns;
  std::vector<std::vector<std::string>> rows;
};

Table read_table(const std::string& path) {
  std::ifstream file(path);
  if (!file) {
    throw heapcast::FileError(path + ": cannot be read");
  }
  Table table;
  for (std::string line; std::getline(file, line);) {
    if (table.columns.empty()) {
      table.columns = split(line, '\t');
      continue;
    }
    table.rows.push_back(split(line, '\t'));
    if (table.rows.back().size() != table.columns.size()) {
      throw InputError(path,
                       fmt::format("row {} has {} cells, there are {} columns", table.rows.size(),
                                   table.rows.back().size(), table.columns.size()));
    }
  }
  return table;
}

std::size_t parameter_index(const std::string& name) {
  const std::size_t index = heapcast::models::find_parameter(name);
  if (index == heapcast::models::parameter_count) {
    throw InputError(name, "is no parameter");
  }
  return index;
}

/// A curve, or a laboratory test, over days.
struct Curve {
  const std::vector<double>* time_h;
  const std::vector<double>* values;

  [[nodiscard]] double day(std::size_t i) const { return (*time_h)[i] / 24.0; }
  [[nodiscard]] std::size_t size() const { return values->size(); }

  [[nodiscard]] double at(double day_wanted) const {
    for (std::size_t i = 0; i < size(); ++i) {
      if (day(i) >= day_wanted) {
        if (i == 0) {
          return (*values)[0];
        }
        const double weight = (day_wanted - day(i - 1)) / (day(i) - day(i - 1));
        return std::lerp((*values)[i - 1], (*values)[i], weight);
      }
    }
    return missing;
  }
};

Curve find_curve(const ForecastResult& result, const std::string& name) {
  if (const auto* series = result.find_series(name)) {
    return {&result.time_h, &series->values};
  }
  const auto test = std::ranges::find(result.tests, name, &heapcast::models::Series::name);
  if (test == result.tests.end()) {
    throw InputError(name, "is no curve and no test");
  }
  return {&result.test_time_h, &test->values};
}

/// One WANTED of the command line, split at its colons.
class Wanted {
public:
  explicit Wanted(std::string text) : text_(std::move(text)), parts_(split(text_, ':')) {
    if (parts_.size() < 2) {
      throw InputError(text_, "is nothing that can be asked for");
    }
  }
  [[nodiscard]] const std::string& text() const { return text_; }

  [[nodiscard]] double of(const ForecastResult& result,
                          const heapcast::models::PileDescription& pile) const {
    const std::string& kind = parts_[0];
    if (kind == "parameter") {
      return pile.parameters[static_cast<Parameter>(parameter_index(parts_[1]))];
    }
    if (kind == "ready") {
      const double day = scalar(result, "ready_day");
      return std::isnan(day) ? number(1, missing) : day;
    }
    if (kind == "scalar") {
      return scalar(result, parts_[1]);
    }
    const Curve curve = find_curve(result, parts_[1]);
    if (kind == "at") {
      return curve.at(number(2, missing));
    }
    if (kind == "first_above" || kind == "last_above" || kind == "days_above") {
      return crossing(curve);
    }
    return statistic(curve);
  }

private:
  static double scalar(const ForecastResult& result, const std::string& name) {
    const auto* found = result.find_scalar(name);
    if (found == nullptr) {
      throw InputError(name, "is no number of a run");
    }
    return found->value;
  }

  [[nodiscard]] double number(std::size_t part, double otherwise) const {
    return part < parts_.size() ? std::stod(parts_[part]) : otherwise;
  }

  [[nodiscard]] double crossing(const Curve& curve) const {
    const double level = number(2, missing);
    const double from = number(3, 0.0);
    const double until = number(4, std::numeric_limits<double>::infinity());
    double first = missing;
    double last = 0.0;
    double days = 0.0;
    for (std::size_t i = 0; i < curve.size(); ++i) {
      const double day = curve.day(i);
      if (day < from || day > until || !((*curve.values)[i] >= level)) {
        continue;
      }
      first = std::isnan(first) ? day : first;
      last = day;
      days += i == 0 ? 0.0 : day - curve.day(i - 1);
    }
    return parts_[0] == "first_above" ? first : parts_[0] == "last_above" ? last : days;
  }

  [[nodiscard]] double statistic(const Curve& curve) const {
    const double from = number(2, 0.0);
    const double until = number(3, std::numeric_limits<double>::infinity());
    double sum = 0.0;
    double count = 0.0;
    double largest = -std::numeric_limits<double>::infinity();
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < curve.size(); ++i) {
      const double value = (*curve.values)[i];
      if (curve.day(i) >= from - 1e-9 && curve.day(i) <= until + 1e-9) {
        sum += value;
        count += 1.0;
        largest = std::max(largest, value);
        least = std::min(least, value);
      }
    }
    if (count == 0.0) {
      return missing;
    }
    if (parts_[0] == "mean") {
      return sum / count;
    }
    if (parts_[0] == "max") {
      return largest;
    }
    if (parts_[0] == "min") {
      return least;
    }
    throw InputError(text_, "is nothing that can be asked for");
  }

  std::string text_;
  std::vector<std::string> parts_;
};

std::vector<double> run_row(const std::string& pile_path, const Table& table, std::size_t row,
                            const std::vector<Wanted>& wanted) {
  std::vector<std::string> overrides;
  for (std::size_t c = 0; c < table.columns.size(); ++c) {
    const std::string& column = table.columns[c];
    if (!column.starts_with("share:") && !column.starts_with("value:")) {
      overrides.push_back(column + "=" + table.rows[row][c]);
    }
  }
  const heapcast::cli::PileFile file = heapcast::cli::read_pile_file(pile_path, overrides);
  heapcast::models::PileDescription pile = *file.pile;
  for (std::size_t c = 0; c < table.columns.size(); ++c) {
    const std::string& column = table.columns[c];
    if (!column.starts_with("share:") && !column.starts_with("value:")) {
      continue;
    }
    const std::size_t index = parameter_index(column.substr(6));
    const double cell = std::stod(table.rows[row][c]);
    pile.parameters.set(index, column.starts_with("value:")
                                   ? cell
                                   : heapcast::models::prior_quantile(
                                         heapcast::models::parameter_table()[index],
                                         pile.parameters[static_cast<Parameter>(index)], cell));
  }
  const ForecastResult result = heapcast::models::run_forecast(pile);
  std::vector<double> numbers;
  numbers.reserve(wanted.size());
  for (const Wanted& what : wanted) {
    numbers.push_back(what.of(result, pile));
  }
  return numbers;
}

void run_all(const std::string& pile_path, const Table& table, const std::vector<Wanted>& wanted) {
  std::vector<std::vector<double>> numbers(table.rows.size());
  std::vector<std::string> failures(table.rows.size());
  heapcast::engine::run_pool(table.rows.size(), 0, [&](std::size_t row) {
    try {
      numbers[row] = run_row(pile_path, table, row, wanted);
    } catch (const std::exception& error) {
      failures[row] = error.what();
      numbers[row].assign(wanted.size(), missing);
    }
  });
  std::string header;
  for (const Wanted& what : wanted) {
    header += (header.empty() ? "" : "\t") + what.text();
  }
  fmt::print("{}\n", header);
  for (std::size_t row = 0; row < numbers.size(); ++row) {
    if (!failures[row].empty()) {
      fmt::print(stderr, "row {}: {}\n", row, failures[row]);
    }
    std::string line;
    for (const double value : numbers[row]) {
      line += fmt::format("{}{:.9g}", line.empty() ? "" : "\t", value);
    }
    fmt::print("{}\n", line);
  }
}

} // namespace

int main(int argc, char** argv) {
  try {
    const std::vector<std::string> arguments(argv + 1, argv + argc);
    if (arguments.size() < 3) {
      fmt::print(stderr, "usage: run_cases PILE.toml ROWS.tsv WANTED...\n");
      return 2;
    }
    std::vector<Wanted> wanted;
    for (std::size_t i = 2; i < arguments.size(); ++i) {
      wanted.emplace_back(arguments[i]);
    }
    run_all(arguments[0], read_table(arguments[1]), wanted);
    return 0;
  } catch (const std::exception& error) {
    fmt::print(stderr, "{}\n", error.what());
    return 2;
  }
}
