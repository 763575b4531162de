#include "cli/study/run_record.hpp"

#include "engine/errors.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <string_view>
#include <utility>

#include <nlohmann/json.hpp>

namespace heapcast::cli {

namespace {

using nlohmann::json;

/// Bytes of numbers, as they lie.
template <class Number> json packed(const std::vector<Number>& numbers) {
  std::vector<std::uint8_t> bytes(numbers.size() * sizeof(Number));
  if (!bytes.empty()) {
    std::memcpy(bytes.data(), numbers.data(), bytes.size());
  }
  return json::binary(std::move(bytes));
}

template <class Number> std::vector<Number> unpacked(const json& value) {
  const auto& bytes = value.get_binary();
  std::vector<Number> numbers(bytes.size() / sizeof(Number));
  if (!numbers.empty()) {
    std::memcpy(numbers.data(), bytes.data(), numbers.size() * sizeof(Number));
  }
  return numbers;
}

json list_of(const std::vector<Label>& labels) {
  json list = json::array();
  for (const Label& label : labels) {
    list.push_back(json::array({label.name, label.unit, label.long_name}));
  }
  return list;
}

std::vector<Label> labels_of(const json& list) {
  std::vector<Label> labels;
  for (const json& one : list) {
    labels.push_back({one.at(0), one.at(1), one.at(2)});
  }
  return labels;
}

std::string to_bytes(const json& value) {
  std::string bytes;
  json::to_cbor(value, bytes);
  return bytes;
}

/// Calls body; bytes that are not what they must be are a FileError.
template <class Body> auto read_as(const Body& body) {
  try {
    return body();
  } catch (const json::exception&) {
    throw FileError("a record of runs is damaged - delete the journal and begin again");
  }
}

/// Values at 0, 24, 48 … hours.
std::vector<float> daily(const models::Series& series, const std::vector<double>& time_h) {
  std::vector<float> values;
  for (std::size_t i = 0; i < time_h.size(); ++i) {
    if (std::fmod(time_h[i], 24.0) == 0.0) {
      values.push_back(static_cast<float>(series.values[i]));
    }
  }
  return values;
}

/// "still at 21 %, above 15 %" as "still at #, above #": so that a study has few reasons, however
/// many runs. A number that is part of a word, as in O2, stays.
std::string without_numbers(const std::string& reason) {
  constexpr std::string_view digits = "0123456789";
  std::string made;
  for (std::size_t i = 0; i < reason.size();) {
    const bool begins = i == 0 || reason[i - 1] == ' ' || reason[i - 1] == '(';
    const std::size_t first = i + (reason[i] == '-' || reason[i] == '+' ? 1 : 0);
    if (begins && first < reason.size() && digits.find(reason[first]) != std::string_view::npos) {
      made += '#';
      i = std::min(reason.find_first_not_of("0123456789-+.:eE", first), reason.size());
    } else {
      made += reason[i++];
    }
  }
  return made;
}

std::vector<float> single(const std::vector<double>& values) {
  return {values.begin(), values.end()};
}

} // namespace

RunRecord record_of(std::size_t run, const std::string& start, const models::ForecastResult& result,
                    const KeptOutputs& kept) {
  RunRecord record;
  record.run = run;
  record.start = start;
  record.decided_by = result.decided_by;
  auto labels = std::make_shared<RunLabels>();
  for (const models::Scalar& scalar : result.scalars) {
    labels->scalars.push_back({scalar.name, scalar.unit, scalar.long_name});
    record.scalars.push_back(scalar.value);
    record.reasons.push_back(std::isnan(scalar.value) ? without_numbers(scalar.reason) : "");
  }
  for (const std::string& name : kept.daily) {
    if (const models::Series* series = result.find_series(name)) {
      labels->series.push_back({series->name, series->unit, series->long_name});
      record.series.push_back(daily(*series, result.time_h));
    }
  }
  for (const std::string& name : kept.fields) {
    const auto field = std::ranges::find(result.fields, name, &models::Field::name);
    if (field != result.fields.end()) {
      labels->fields.push_back({field->name, field->unit, field->long_name});
      record.fields.push_back(single(field->values));
    }
  }
  if (!kept.fields.empty()) {
    std::ranges::transform(result.field_time_h, std::back_inserter(record.field_day),
                           [](double hours) { return hours / 24.0; });
    record.cell_x_m = single(result.cell_x_m);
    record.cell_z_m = single(result.cell_z_m);
    record.cell_depth_m = single(result.cell_depth_m);
    record.cell_volume_m3 = single(result.cell_volume_m3);
  }
  record.labels = std::move(labels);
  return record;
}

RunRecord failed_record(std::size_t run, const std::string& start, const std::string& reason) {
  RunRecord record;
  record.run = run;
  record.start = start;
  record.failure = reason;
  record.labels = std::make_shared<const RunLabels>();
  return record;
}

std::string bytes_of(const RunLabels& labels) {
  return to_bytes({{"scalars", list_of(labels.scalars)},
                   {"series", list_of(labels.series)},
                   {"fields", list_of(labels.fields)}});
}

std::string bytes_of(const RunRecord& record, std::uint64_t labels) {
  json value = {{"run", record.run}, {"labels", labels}, {"start", record.start}};
  if (!record.failure.empty()) {
    value["failure"] = record.failure;
    return to_bytes(value);
  }
  value["decided_by"] = record.decided_by;
  value["numbers"] = packed(record.scalars);
  json reasons = json::array();
  for (std::size_t i = 0; i < record.reasons.size(); ++i) {
    if (!record.reasons[i].empty()) {
      reasons.push_back(json::array({i, record.reasons[i]}));
    }
  }
  value["reasons"] = std::move(reasons);
  for (const auto& series : record.series) {
    value["curves"].push_back(packed(series));
  }
  if (!record.fields.empty()) {
    value["field_day"] = packed(record.field_day);
    for (const auto& field : record.fields) {
      value["pictures"].push_back(packed(field));
    }
    value["cells"] = json::array({packed(record.cell_x_m), packed(record.cell_z_m),
                                  packed(record.cell_depth_m), packed(record.cell_volume_m3)});
  }
  return to_bytes(value);
}

void RecordReader::add_labels(std::string_view bytes, std::uint64_t key) {
  read_as([&] {
    const json value = json::from_cbor(bytes);
    labels_[key] = std::make_shared<const RunLabels>(RunLabels{labels_of(value.at("scalars")),
                                                               labels_of(value.at("series")),
                                                               labels_of(value.at("fields"))});
    return 0;
  });
}

bool RecordReader::is_labels(std::string_view bytes) {
  return read_as([&] { return json::from_cbor(bytes).contains("scalars"); });
}

RecordReader::Summary RecordReader::summary(std::string_view bytes) {
  return read_as([&] {
    const json value = json::from_cbor(bytes);
    return Summary{value.at("run"), value.contains("failure")};
  });
}

RunRecord RecordReader::record(std::string_view bytes) const {
  return read_as([&] {
    const json value = json::from_cbor(bytes);
    RunRecord record = failed_record(value.at("run"), value.at("start"), "");
    if (value.contains("failure")) {
      record.failure = value.at("failure");
      return record;
    }
    const auto labels = labels_.find(value.at("labels").get<std::uint64_t>());
    if (labels == labels_.end()) {
      throw FileError("a record of runs lacks its labels - delete the journal and begin again");
    }
    record.labels = labels->second;
    record.decided_by = value.at("decided_by");
    record.scalars = unpacked<double>(value.at("numbers"));
    record.reasons.resize(record.scalars.size());
    for (const json& reason : value.at("reasons")) {
      record.reasons.at(reason.at(0).get<std::size_t>()) = reason.at(1);
    }
    for (const json& curve : value.value("curves", json::array())) {
      record.series.push_back(unpacked<float>(curve));
    }
    for (const json& picture : value.value("pictures", json::array())) {
      record.fields.push_back(unpacked<float>(picture));
    }
    if (!record.fields.empty()) {
      record.field_day = unpacked<double>(value.at("field_day"));
      const json& cells = value.at("cells");
      record.cell_x_m = unpacked<float>(cells.at(0));
      record.cell_z_m = unpacked<float>(cells.at(1));
      record.cell_depth_m = unpacked<float>(cells.at(2));
      record.cell_volume_m3 = unpacked<float>(cells.at(3));
    }
    return record;
  });
}

} // namespace heapcast::cli
