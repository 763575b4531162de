#include "models/weather/soil_temperature.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <cmath>
#include <numbers>

namespace heapcast::models {

namespace {

constexpr double days_per_year = 365.2425;
constexpr double turns_per_day = 2.0 * std::numbers::pi / days_per_year;

double days_since_2000(LocalHours time) {
  const LocalHours start{LocalDays{std::chrono::year{2000} / 1 / 1}};
  return static_cast<double>((time - start).count()) / 24.0;
}

/// mean + cosine cos(x) + sine sin(x), x the angle of the time.
AnnualWave wave_of(double mean_K, double cosine_K, double sine_K) {
  return {.mean_K = mean_K,
          .amplitude_K = std::hypot(cosine_K, sine_K),
          .hottest_d = std::atan2(sine_K, cosine_K) / turns_per_day};
}

} // namespace

double temperature_K(const AnnualWave& wave, LocalHours time) {
  return wave.mean_K +
         wave.amplitude_K * std::cos(turns_per_day * (days_since_2000(time) - wave.hottest_d));
}

AnnualWave fitted_wave(std::span<const double> hourly_K, LocalHours first) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  const double start_d = days_since_2000(first);
  for (std::size_t i = 0; i < hourly_K.size(); ++i) {
    const double angle = turns_per_day * (start_d + static_cast<double>(i) / 24.0);
    const Eigen::Vector3d row(1.0, std::cos(angle), std::sin(angle));
    normal += row * row.transpose();
    right += hourly_K[i] * row;
  }
  const Eigen::Vector3d fitted = normal.ldlt().solve(right);
  return wave_of(fitted[0], fitted[1], fitted[2]);
}

AnnualWave wave_of_months(const std::array<double, 12>& monthly_K) {
  // A month's mean of a wave is less than its value at mid-month by sin(pi/12) / (pi/12).
  constexpr double half_month = std::numbers::pi / 12.0;
  const double of_months = std::sin(half_month) / half_month;
  double mean_K = 0.0;
  double cosine_K = 0.0;
  double sine_K = 0.0;
  for (std::size_t m = 0; m < 12; ++m) {
    const double angle = half_month * (2.0 * static_cast<double>(m) + 1.0);
    mean_K += monthly_K[m] / 12.0;
    cosine_K += monthly_K[m] * std::cos(angle) / (6.0 * of_months);
    sine_K += monthly_K[m] * std::sin(angle) / (6.0 * of_months);
  }
  return wave_of(mean_K, cosine_K, sine_K);
}

AnnualWave deeper(const AnnualWave& wave, double metres) {
  constexpr double seconds_per_year = 86400.0 * days_per_year;
  const double damping_depth_m =
      std::sqrt(soil_diffusivity_m2_s * seconds_per_year / std::numbers::pi);
  const double angle = metres / damping_depth_m;
  return {.mean_K = wave.mean_K,
          .amplitude_K = wave.amplitude_K * std::exp(-angle),
          .hottest_d = wave.hottest_d + angle / turns_per_day};
}

} // namespace heapcast::models
