#pragma once

#include <cstddef>
#include <span>
#include <string_view>

namespace heapcast::engine {

/// Where named fields lie in one contiguous state: first the integrated cell fields, then the
/// integrated totals of the whole body, then cell fields that only events change. The integrator
/// sees the first `integrated_size()` entries.
class FieldLayout {
public:
  FieldLayout(std::span<const std::string_view> integrated,
              std::span<const std::string_view> totals, std::span<const std::string_view> held,
              std::size_t cells)
      : integrated_(integrated), totals_(totals), held_(held), cells_(cells) {}

  [[nodiscard]] std::size_t cells() const { return cells_; }
  [[nodiscard]] std::size_t integrated_size() const {
    return integrated_.size() * cells_ + totals_.size();
  }
  [[nodiscard]] std::size_t size() const { return integrated_size() + held_.size() * cells_; }

  /// First entry of cell field i, counted through integrated and held fields.
  [[nodiscard]] std::size_t field(std::size_t i) const {
    return i < integrated_.size() ? i * cells_
                                  : integrated_size() + (i - integrated_.size()) * cells_;
  }
  [[nodiscard]] std::size_t total(std::size_t i) const { return integrated_.size() * cells_ + i; }
  [[nodiscard]] std::size_t fields() const { return integrated_.size() + held_.size(); }
  [[nodiscard]] std::string_view field_name(std::size_t i) const {
    return i < integrated_.size() ? integrated_[i] : held_[i - integrated_.size()];
  }
  [[nodiscard]] std::string_view total_name(std::size_t i) const { return totals_[i]; }

private:
  std::span<const std::string_view> integrated_, totals_, held_;
  std::size_t cells_;
};

} // namespace heapcast::engine
