#pragma once

#include "cli/study/study_file.hpp"
#include "engine/sampling.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace heapcast::cli {

/// The runs of a study, each known from its number alone: which point, in which year of weather.
/// Points that a constraint rules out have no number. May be shared by threads.
class StudyPlan {
public:
  /// Throws InputError when the study has no run, or more than 2^31.
  explicit StudyPlan(const Study& study);

  [[nodiscard]] const Study& study() const { return study_; }
  [[nodiscard]] std::size_t runs() const { return accepted_.size() * study_.weather_years; }
  [[nodiscard]] std::size_t points_left_out() const { return left_out_; }
  /// Place of the run's point in the design, constraints or not.
  [[nodiscard]] std::size_t point(std::size_t run) const {
    return accepted_[run / study_.weather_years];
  }
  [[nodiscard]] std::size_t weather_year(std::size_t run) const {
    return run % study_.weather_years;
  }
  /// One value of every factor.
  [[nodiscard]] std::vector<FactorValue> values(std::size_t run) const;
  [[nodiscard]] const engine::Design& design() const { return design_; }

  /// The pile of a run. Throws InputError when there is none with these values.
  [[nodiscard]] std::shared_ptr<const models::PileDescription> pile(std::size_t run) const;

  /// Runs in the order to make them in: those whose sections are cut up in the same way together.
  [[nodiscard]] std::vector<std::size_t> in_order_of_shape(std::vector<std::size_t> runs) const;

private:
  [[nodiscard]] std::vector<FactorValue> values_at(std::size_t point) const;
  [[nodiscard]] bool allowed(const std::vector<FactorValue>& values,
                             const std::vector<std::vector<std::size_t>>& places) const;
  [[nodiscard]] PileFile file_of(const std::vector<FactorValue>& values) const;

  const Study& study_;
  engine::Design design_;
  std::vector<std::uint32_t> accepted_;
  std::size_t left_out_ = 0;
  mutable std::mutex mutex_;
  mutable std::map<std::string, PileFile> files_; ///< by what is changed in the pile file
};

} // namespace heapcast::cli
