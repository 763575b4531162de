#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace heapcast::tests {

/// A comma-separated file with a header line. Fields may be quoted; a quoted field may hold commas,
/// line ends and doubled quotes. Lines that start with `#` before a record are skipped.
class CsvTable {
public:
  /// Reads `name` from the folder of reference values. Throws std::runtime_error when it is missing
  /// or a record has another number of fields than the header.
  explicit CsvTable(const std::string& name) : name_(name) {
    std::ifstream file(std::string(HEAPCAST_REFERENCE_DIR) + "/" + name, std::ios::binary);
    if (!file) {
      throw std::runtime_error("cannot open reference file " + name);
    }
    parse(std::string(std::istreambuf_iterator<char>(file), {}));
  }
  /// Reads `text` itself.
  CsvTable(std::string name, const std::string& text) : name_(std::move(name)) { parse(text); }

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] std::size_t size() const { return records_.size(); }
  [[nodiscard]] const std::string& field(std::size_t record, const std::string& column) const {
    const auto found = std::find(header_.begin(), header_.end(), column);
    if (found == header_.end()) {
      throw std::runtime_error(name_ + " has no column " + column);
    }
    return records_.at(record)[static_cast<std::size_t>(found - header_.begin())];
  }
  /// The record whose `column` holds `key`; throws when there is none.
  [[nodiscard]] std::size_t find(const std::string& column, const std::string& key) const {
    for (std::size_t i = 0; i < size(); ++i) {
      if (field(i, column) == key) {
        return i;
      }
    }
    throw std::runtime_error(name_ + " has no row with " + column + " = " + key);
  }

private:
  void parse(const std::string& text) {
    std::vector<std::string> record{""};
    bool quoted = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
      const char c = text[i];
      if (quoted) {
        const bool doubled = c == '"' && i + 1 < text.size() && text[i + 1] == '"';
        if (doubled) {
          ++i;
        }
        if (c == '"' && !doubled) {
          quoted = false;
        } else {
          record.back() += c;
        }
      } else if (c == '#' && record.size() == 1 && record.back().empty()) {
        i = std::min(text.find('\n', i), text.size());
      } else if (c == '"') {
        quoted = true;
      } else if (c == ',') {
        record.emplace_back();
      } else if (c == '\n') {
        finish(record);
      } else if (c != '\r') {
        record.back() += c;
      }
    }
    if (quoted) {
      throw std::runtime_error(name_ + " ends inside a quoted field");
    }
    finish(record);
  }
  void finish(std::vector<std::string>& record) {
    const bool blank = record.size() == 1 && record.front().empty();
    if (!blank && header_.empty()) {
      header_ = record;
    } else if (!blank) {
      if (record.size() != header_.size()) {
        throw std::runtime_error(name_ + ": the record of " + record.front() + " has " +
                                 std::to_string(record.size()) + " fields, the header " +
                                 std::to_string(header_.size()));
      }
      records_.push_back(record);
    }
    record.assign(1, "");
  }

  std::string name_;
  std::vector<std::string> header_;
  std::vector<std::vector<std::string>> records_;
};

/// One published number.
struct ReferenceRow {
  std::string id;
  double value;
  std::string unit;
  std::string tolerance;   ///< as written
  std::string file = {};   ///< of validation/reference/
  std::string column = {}; ///< where a row holds several numbers: which of them
};

/// Between what and what a computed value agrees with a row.
struct Allowed {
  double low;
  double high;
};

[[nodiscard]] inline ReferenceRow reference_row(const CsvTable& table, std::size_t record) {
  return {table.field(record, "id"), std::stod(table.field(record, "value")),
          table.field(record, "unit"), table.field(record, "tolerance"), table.name()};
}

/// The row with this id.
[[nodiscard]] inline ReferenceRow reference_row(const CsvTable& table, const std::string& id) {
  return reference_row(table, table.find("id", id));
}

[[nodiscard]] inline Allowed within(const ReferenceRow& row, double allowance) {
  return {row.value - allowance, row.value + allowance};
}

[[nodiscard]] inline Allowed within_relative(const ReferenceRow& row, double share) {
  return within(row, share * std::abs(row.value));
}

/// A text that begins with a number: the number and what follows it.
struct LeadingNumber {
  double value;
  std::string rest;
};

[[nodiscard]] inline std::optional<LeadingNumber> leading_number(const std::string& text) {
  const std::size_t first = text.starts_with(".") ? 1 : 0;
  if (text.size() <= first || text[first] < '0' || text[first] > '9') {
    return std::nullopt;
  }
  std::size_t used = 0;
  const double value = std::stod(text, &used);
  return LeadingNumber{value, text.substr(used)};
}

/// Whether `text` is `unit` and then nothing, or words.
[[nodiscard]] inline bool is_unit(const std::string& text, const std::string& unit) {
  const bool named = text.starts_with(unit);
  return named &&
         (text.size() == unit.size() || text[unit.size()] == ' ' || text[unit.size()] == ';');
}

/// What the row's own tolerance text allows, or nothing when the text is no number.
///
/// "0.1 %" and "1e-3 rel" are shares of the value; "8 abs" and "+-6" are in its unit; "17.0-17.6"
/// is a range. Words may follow all of these. A bare number could be meant either way, absolute or
/// as a share: the tighter of the two holds.
[[nodiscard]] inline std::optional<Allowed> own_tolerance(const ReferenceRow& row) {
  const bool either_side = row.tolerance.starts_with("+-");
  const auto first = leading_number(either_side ? row.tolerance.substr(2) : row.tolerance);
  if (!first) {
    return std::nullopt;
  }
  if (is_unit(first->rest, "") && either_side) {
    return within(row, first->value);
  }
  if (first->rest.empty()) {
    return within(row, first->value * std::min(1.0, std::abs(row.value)));
  }
  if (first->rest.front() == '-') {
    const auto last = leading_number(first->rest.substr(1));
    return last && is_unit(last->rest, "") ? std::optional(Allowed{first->value, last->value})
                                           : std::nullopt;
  }
  if (is_unit(first->rest, " %")) {
    return within_relative(row, 0.01 * first->value);
  }
  if (is_unit(first->rest, " rel")) {
    return within_relative(row, first->value);
  }
  if (is_unit(first->rest, " abs")) {
    return within(row, first->value);
  }
  return std::nullopt;
}

/// Half a unit of the last digit of a printed number: 0.05 for "2.4", 0.5 for "19".
[[nodiscard]] inline double half_last_digit(const std::string& printed) {
  const std::size_t point = printed.find('.');
  const auto decimals =
      point == std::string::npos ? 0.0 : static_cast<double>(printed.size() - point - 1);
  return 0.5 * std::pow(10.0, -decimals);
}

/// What a comparison with a row says. `reported` is neither for nor against: the row and what is
/// computed are not the same thing.
enum class Verdict { agrees, miss, reported };

/// One computed value, in the row's unit, beside a row.
struct Comparison {
  double computed;
  Allowed allowed;
  Verdict verdict;
  std::string why = {}; ///< of a miss, or what else a reader must know
};

/// Prints a comparison and, when the environment names a file in HEAPCAST_REFERENCE_RECORD, appends
/// it there as one line of fields between tabs, which validation/published/run.py reads.
inline void record(const ReferenceRow& row, const Comparison& c) {
  static constexpr std::array verdicts = {"agrees", "MISS", "reported"};
  const char* verdict = verdicts.at(static_cast<std::size_t>(c.verdict));
  std::printf("reference %-18s computed %.6g, published %.6g %s, allowed %.6g..%.6g (%s) %s %s\n",
              row.id.c_str(), c.computed, row.value, row.unit.c_str(), c.allowed.low,
              c.allowed.high, row.tolerance.c_str(), verdict, c.why.c_str());
  const char* path = std::getenv("HEAPCAST_REFERENCE_RECORD");
  if (path == nullptr) {
    return;
  }
  const testing::TestInfo* test = testing::UnitTest::GetInstance()->current_test_info();
  std::array<char, 128> numbers{};
  std::snprintf(numbers.data(), numbers.size(), "%.10g\t%.10g\t%.10g\t%.10g", row.value, c.computed,
                c.allowed.low, c.allowed.high);
  std::ofstream file(path, std::ios::app);
  file << row.file << '\t' << row.id << '\t' << row.column << '\t' << numbers.data() << '\t'
       << verdict << '\t' << test->test_suite_name() << '.' << test->name() << '\t' << c.why
       << '\n';
  if (!file.flush()) {
    ADD_FAILURE() << "cannot write " << path;
  }
}

[[nodiscard]] inline bool inside(double value, const Allowed& allowed) {
  return value >= allowed.low && value <= allowed.high;
}

/// Records whether the value agrees. A miss fails no test: for what a whole pile does, where a miss
/// is a result. Returns whether it agrees.
inline bool judge_row(const ReferenceRow& row, double computed, const Allowed& allowed,
                      const std::string& why = "") {
  const bool agrees = inside(computed, allowed);
  record(row, {computed, allowed, agrees ? Verdict::agrees : Verdict::miss, why});
  return agrees;
}

/// Checks a computed value, in the row's unit, against a row, and records both.
inline void expect_row(const ReferenceRow& row, double computed, const Allowed& allowed,
                       const std::string& why = "") {
  EXPECT_TRUE(judge_row(row, computed, allowed, why))
      << row.id << ": computed " << computed << ", published " << row.value << " " << row.unit
      << ", allowed " << allowed.low << " to " << allowed.high;
}

/// The same with the row's own tolerance, which must be a number or a range.
inline void expect_row(const ReferenceRow& row, double computed) {
  const auto allowed = own_tolerance(row);
  ASSERT_TRUE(allowed) << row.id << ": the tolerance \"" << row.tolerance
                       << "\" is no number; choose one in the test";
  expect_row(row, computed, *allowed);
}

/// Records a known miss, with its cause. Fails once the row is met: then the cause is wrong.
inline void expect_miss(const ReferenceRow& row, double computed, const Allowed& allowed,
                        const std::string& why) {
  EXPECT_FALSE(judge_row(row, computed, allowed, why))
      << row.id << " is met: computed " << computed << ", published " << row.value
      << ". Check it with expect_row";
}

/// Records a value that stands beside the row without being the same thing.
inline void report_row(const ReferenceRow& row, double computed, const std::string& why) {
  record(row, {computed, within(row, 0.0), Verdict::reported, why});
}

/// Why a row is not computed, from validation/published/not_computed.csv; nothing when the file
/// does not name it.
[[nodiscard]] inline std::optional<std::string> reason_left_out(const std::string& file,
                                                                const std::string& id) {
  static const CsvTable table("../published/not_computed.csv");
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::string& named = table.field(i, "id");
    const bool group = !named.empty() && named.back() == '*';
    const bool names = group ? id.starts_with(named.substr(0, named.size() - 1)) : id == named;
    if (table.field(i, "file") == file && names) {
      return table.field(i, "reason");
    }
  }
  return std::nullopt;
}

/// Every row's id must begin with one of `computed` (here or in another test) or be named in
/// not_computed.csv.
inline void expect_every_row_named(const CsvTable& table,
                                   const std::vector<std::string>& computed) {
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::string& id = table.field(i, "id");
    const bool here = std::any_of(computed.begin(), computed.end(),
                                  [&](const std::string& start) { return id.starts_with(start); });
    EXPECT_NE(here, reason_left_out(table.name(), id).has_value())
        << table.name() << ": row " << id
        << (here ? " is computed and named in not_computed.csv" : " is neither computed nor named");
  }
}

} // namespace heapcast::tests
