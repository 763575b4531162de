#pragma once

#include "models/forecast.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// Name, unit and meaning of something a run gives.
struct Label {
  std::string name, unit, long_name;
  bool operator==(const Label&) const = default;
};

/// What the numbers of a run are; the same for most runs of a study.
struct RunLabels {
  std::vector<Label> scalars, series, fields;
  bool operator==(const RunLabels&) const = default;
};

/// What is kept of a run.
struct RunRecord {
  std::size_t run = 0;
  std::string failure; ///< why it failed; then there is nothing else
  std::string start, decided_by;
  std::shared_ptr<const RunLabels> labels;
  std::vector<double> scalars;
  std::vector<std::string> reasons;       ///< of each scalar, why it is NaN; else empty
  std::vector<std::vector<float>> series; ///< a value a day from day 0 on
  std::vector<double> field_day;
  std::vector<std::vector<float>> fields; ///< [field_day][cell]
  std::vector<float> cell_x_m, cell_z_m, cell_depth_m, cell_volume_m3;
};

/// Which curves are kept.
struct KeptOutputs {
  std::vector<std::string> daily, fields;
};

[[nodiscard]] RunRecord record_of(std::size_t run, const std::string& start,
                                  const models::ForecastResult& result, const KeptOutputs& kept);
[[nodiscard]] RunRecord failed_record(std::size_t run, const std::string& start,
                                      const std::string& reason);

/// Records as bytes (CBOR), in two parts: labels come once for many runs. Numbers come back to the
/// last bit.
[[nodiscard]] std::string bytes_of(const RunLabels& labels);
/// `labels` is the key that the reader finds the labels by.
[[nodiscard]] std::string bytes_of(const RunRecord& record, std::uint64_t labels);

/// Reads both kinds of bytes, in the order they were made. May be shared by threads when all labels
/// are known.
class RecordReader {
public:
  /// Takes labels in, under `key`.
  void add_labels(std::string_view bytes, std::uint64_t key);
  [[nodiscard]] static bool is_labels(std::string_view bytes);
  /// Throws FileError for bytes that are no record, or one of unknown labels.
  [[nodiscard]] RunRecord record(std::string_view bytes) const;
  /// The run's number and whether it failed, without the rest.
  struct Summary {
    std::size_t run = 0;
    bool failed = false;
  };
  [[nodiscard]] static Summary summary(std::string_view bytes);

private:
  std::map<std::uint64_t, std::shared_ptr<const RunLabels>> labels_;
};

} // namespace heapcast::cli
