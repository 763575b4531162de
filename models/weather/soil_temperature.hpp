#pragma once

#include "models/weather/calendar.hpp"

#include <array>
#include <span>

namespace heapcast::models {

/// The year's course of a temperature at one depth: mean + amplitude cos(2 pi (t - t_hottest) / P),
/// P = 365.2425 days.
///
/// Deeper down it is T(z,t) = mean + amplitude exp(-z/d) cos(2 pi (t - t_hottest) / P - z/d) with
/// the damping depth d = sqrt(a P / pi), a the soil's thermal diffusivity: the heat equation's
/// solution below a surface that follows a wave (Hillel 1982, Introduction to Soil Physics, as in
/// http://soilphysics.okstate.edu/toolkit/temperature/model.htm; Kusuda & Achenbach 1965, ASHRAE
/// Trans. 71(1):61-75, from memory). Of one soil, the same at all depths and all year; no frost, no
/// snow, no water that moves.
struct AnnualWave {
  double mean_K = 0.0;
  double amplitude_K = 0.0; ///< not negative
  double hottest_d = 0.0;   ///< days from 2000-01-01T00:00 to a hottest time
};

/// Thermal diffusivity of the soil, m2/s: 1.2 W/m/K over 2.5 MJ/m3/K, those that the pile's own
/// ground is reckoned with (`ground_conductance`); a judgement. Damping depth 2.2 m.
inline constexpr double soil_diffusivity_m2_s = 1.2 / 2.5e6;

/// Depth below a pile whose undisturbed temperature the pile exchanges heat with.
inline constexpr double soil_depth_m = 0.5;

[[nodiscard]] double temperature_K(const AnnualWave& wave, LocalHours time);

/// The wave nearest to hourly temperatures, by least squares; of whole years or longer, as a part
/// of one does not tell mean from amplitude. The mean of its residuals is zero.
[[nodiscard]] AnnualWave fitted_wave(std::span<const double> hourly_K, LocalHours first);

/// The wave whose mean and first harmonic are those of twelve monthly means, January first. Months
/// count as twelfths of the year, which moves the wave by a day at most.
[[nodiscard]] AnnualWave wave_of_months(const std::array<double, 12>& monthly_K);

/// The same wave `metres` deeper, or less deep where it is negative.
[[nodiscard]] AnnualWave deeper(const AnnualWave& wave, double metres);

} // namespace heapcast::models
