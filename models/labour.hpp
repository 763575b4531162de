#pragma once

#include "models/pile.hpp"

namespace heapcast::models {

/// Hours of work that a pile took so far, at stated rates.
class Labour {
public:
  explicit Labour(const LabourRates& rates) : rates_(rates) {}

  void build(double volume_m3) { building_h_ += volume_m3 / rates_.build_m3_h; }
  void add(double volume_m3) { adding_h_ += volume_m3 / rates_.build_m3_h; }
  void turn(TurnMethod method, double volume_m3);
  /// `on_its_own`: not while the pile is built or turned anyway.
  void water(double litres, bool on_its_own);

  [[nodiscard]] double building_h() const { return building_h_; }
  [[nodiscard]] double turning_h() const { return turning_h_; }
  [[nodiscard]] double watering_h() const { return watering_h_; }
  [[nodiscard]] double adding_h() const { return adding_h_; }
  [[nodiscard]] double total_h() const {
    return building_h_ + turning_h_ + watering_h_ + adding_h_;
  }

private:
  LabourRates rates_;
  double building_h_ = 0.0, turning_h_ = 0.0, watering_h_ = 0.0, adding_h_ = 0.0;
};

} // namespace heapcast::models
