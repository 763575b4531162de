#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdio>
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
  std::string tolerance; ///< as written
};

/// Between what and what a computed value agrees with a row.
struct Allowed {
  double low;
  double high;
};

[[nodiscard]] inline ReferenceRow reference_row(const CsvTable& table, std::size_t record) {
  return {table.field(record, "id"), std::stod(table.field(record, "value")),
          table.field(record, "unit"), table.field(record, "tolerance")};
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
  if (text.empty() || text.front() < '0' || text.front() > '9') {
    return std::nullopt;
  }
  std::size_t used = 0;
  const double value = std::stod(text, &used);
  return LeadingNumber{value, text.substr(used)};
}

/// What the row's own tolerance text allows, or nothing when the text is no number.
///
/// "0.1 %" and "1e-3 rel" are shares of the value; "17.0-17.6" is a range. A bare number could be
/// meant either way, absolute or as a share: the tighter of the two holds. Words may follow the
/// first two.
[[nodiscard]] inline std::optional<Allowed> own_tolerance(const ReferenceRow& row) {
  const auto first = leading_number(row.tolerance);
  if (!first) {
    return std::nullopt;
  }
  if (first->rest.empty()) {
    return within(row, first->value * std::min(1.0, std::abs(row.value)));
  }
  if (first->rest.front() == '-') {
    const auto last = leading_number(first->rest.substr(1));
    return last && last->rest.empty() ? std::optional(Allowed{first->value, last->value})
                                      : std::nullopt;
  }
  for (const auto& [unit, size] : {std::pair<std::string, double>{" %", 0.01}, {" rel", 1.0}}) {
    const bool named = first->rest.compare(0, unit.size(), unit) == 0;
    const std::string words = named ? first->rest.substr(unit.size()) : "";
    if (named && (words.empty() || words.front() == ' ' || words.front() == ';')) {
      return within_relative(row, first->value * size);
    }
  }
  return std::nullopt;
}

/// Checks a computed value, in the row's unit, against a row, and prints and records both.
inline void expect_row(const ReferenceRow& row, double computed, const Allowed& allowed) {
  std::printf("reference %-18s computed %.6g, published %.6g %s, allowed %.6g..%.6g (%s)\n",
              row.id.c_str(), computed, row.value, row.unit.c_str(), allowed.low, allowed.high,
              row.tolerance.c_str());
  testing::Test::RecordProperty("reference_" + row.id, std::to_string(computed));
  EXPECT_TRUE(computed >= allowed.low && computed <= allowed.high)
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

} // namespace heapcast::tests
