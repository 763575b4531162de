#pragma once

#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace heapcast::tests {

/// One row of a table in validation/reference/.
struct ReferenceRow {
  double value = 0.0;
  std::string unit;
  std::string tolerance_text; ///< a number, or words such as "exact"
  std::string source;
};

/// The row of validation/reference/`csv_file_name` whose id is `id`; columns are found by their
/// header. Throws std::runtime_error when the file, a column or the row is missing.
inline ReferenceRow reference_row(const std::string& csv_file_name, const std::string& id) {
  const std::string path = std::string(HEAPCAST_REFERENCE_DIR) + "/" + csv_file_name;
  std::ifstream file(path);
  const auto split = [](const std::string& line) {
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (const char c : line) {
      if (c == '"') {
        quoted = !quoted;
      } else if (c == ',' && !quoted) {
        fields.emplace_back();
      } else if (c != '\r') {
        fields.back() += c;
      }
    }
    return fields;
  };
  std::string line;
  std::getline(file, line);
  const auto header = split(line);
  const auto column = [&](const std::string& name) {
    for (std::size_t i = 0; i < header.size(); ++i) {
      if (header[i] == name) {
        return i;
      }
    }
    throw std::runtime_error(path + ": no column " + name);
  };
  while (std::getline(file, line)) {
    const auto fields = split(line);
    if (fields.at(column("id")) == id) {
      return {.value = std::stod(fields.at(column("value"))),
              .unit = fields.at(column("unit")),
              .tolerance_text = fields.at(column("tolerance")),
              .source = fields.at(column("source"))};
    }
  }
  throw std::runtime_error(path + ": no row " + id);
}

} // namespace heapcast::tests
