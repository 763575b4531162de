#include "models/processes/pore_oxygen.hpp"

#include "engine/errors.hpp"
#include "engine/exponential_fitting.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

using engine::ExponentialFitting;
using engine::FaceKind;

namespace {
constexpr double tolerance = 1e-7; ///< mol/mol; 3e-5 of the uptake at the smallest K
constexpr int patient_iterations = 6;
constexpr int most_iterations = 60;
constexpr double largest_step_ratio = 2.0; ///< BDF2 with steps that keep growing: unstable from 2.4
} // namespace

PoreOxygenBalance::PoreOxygenBalance(const PileSite& site)
    : site_(site), lu_(site.mesh), into_a_(site.mesh.faces()), into_b_(site.mesh.faces()),
      loss_(site.mesh.cells()), gain_outside_(site.mesh.cells()), net_(site.mesh.cells()),
      diagonal_(site.mesh.cells()), minus_into_a_(site.mesh.faces()),
      minus_into_b_(site.mesh.faces()), step_(site.mesh.cells()), start_(site.mesh.cells()) {}

void PoreOxygenBalance::set_transport(const Workspace& w) {
  const engine::Mesh& mesh = site_.mesh;
  const double d0 = reference_diffusivity_m2_s(Gas::oxygen);
  const auto conductance = [&](std::size_t i) {
    return d0 * w.relative_diffusivity[i] * w.dry_air_density[i] / molar_mass_dry_air_kg_mol;
  };
  std::fill(loss_.begin(), loss_.end(), 0.0);
  std::fill(gain_outside_.begin(), gain_outside_.end(), 0.0);
  for (const std::size_t f : site_.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    const double ca = conductance(a);
    const double cb = conductance(b);
    const double diffusion = w.transmissibility_m[f] * 2.0 * ca * cb / (ca + cb + 1e-300);
    const double flow = w.air_flow_kg_s[f] / molar_mass_dry_air_kg_mol;
    const double beside =
        diffusion * ExponentialFitting(std::abs(flow) / (diffusion + 1e-300)).diffusion_share;
    into_a_[f] = beside + std::max(-flow, 0.0);
    into_b_[f] = beside + std::max(flow, 0.0);
    loss_[a] += into_a_[f];
    loss_[b] += into_b_[f];
  }
  const double film_m_s = w.forcing.film_W_m2K * site_.coefficients.surface_film_scale /
                          (w.forcing.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
  for (const std::size_t f : site_.boundary) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const double open = mesh.kind[f] == FaceKind::surface ? w.surface.gas_share
                        : mesh.kind[f] == FaceKind::wall  ? w.wall.gas_share
                                                          : 0.0;
    double into = std::max(-w.air_flow_kg_s[f], 0.0) / molar_mass_dry_air_kg_mol;
    if (open > 0.0) {
      const double inside = w.transmissibility_m[f] * conductance(a);
      const double outside =
          film_m_s * mesh.area_m2(f, w.scale) * w.dry_air_density[a] / molar_mass_dry_air_kg_mol;
      into += open * inside * outside / (inside + outside);
    }
    loss_[a] += into;
    gain_outside_[a] += into * oxygen_in_dry_air;
  }
}

void PoreOxygenBalance::transport(std::span<const double> x) const {
  const engine::Mesh& mesh = site_.mesh;
  for (std::size_t i = 0; i < net_.size(); ++i) {
    net_[i] = gain_outside_[i] - loss_[i] * x[i];
  }
  for (const std::size_t f : site_.inner) {
    const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
    const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
    net_[a] += into_a_[f] * x[b];
    net_[b] += into_b_[f] * x[a];
  }
}

void PoreOxygenBalance::solve(double since_s, Workspace& w) {
  if (!(since_s > 0.0)) {
    w.oxygen = w.oxygen_before;
    return;
  }
  const std::size_t n = w.oxygen.size();
  // BDF2 is a shorter backward Euler step from a point ahead on the slope of the last step.
  double slope_weight = 0.0;
  if (w.oxygen_step_s > 0.0) {
    const double ratio = std::min(since_s / w.oxygen_step_s, largest_step_ratio);
    slope_weight = ratio / (1.0 + ratio);
  }
  const double step_s = since_s / (1.0 + slope_weight);
  for (std::size_t i = 0; i < n; ++i) {
    const double ahead = w.oxygen_before[i] + slope_weight * step_s * w.oxygen_slope_1_s[i];
    start_[i] = std::clamp(ahead, 0.0, oxygen_in_dry_air);
    const double x = w.oxygen[i];
    w.oxygen[i] = std::clamp(std::isfinite(x) ? x : 0.0, 0.0, oxygen_in_dry_air);
  }
  for (int iteration = 0; iteration < most_iterations; ++iteration) {
    transport(w.oxygen);
    // Newton with old factors while they serve, fresh ones at once when they do not.
    if (!factored_ || iteration >= patient_iterations) {
      for (std::size_t i = 0; i < n; ++i) {
        const double k = w.oxygen_half[i];
        const double slope = k / ((k + w.oxygen[i]) * (k + w.oxygen[i]));
        diagonal_[i] =
            loss_[i] + w.pore_air_mol[i] / step_s + w.oxygen_demand_mol_s[i] * slope + 1e-300;
      }
      for (const std::size_t f : site_.inner) {
        minus_into_a_[f] = -into_a_[f];
        minus_into_b_[f] = -into_b_[f];
      }
      factored_ = lu_.factor(diagonal_, minus_into_a_, minus_into_b_);
      if (!factored_) {
        return; // a bad trial state; the step control will reject it
      }
    }
    for (std::size_t i = 0; i < n; ++i) {
      const double x = w.oxygen[i];
      step_[i] = net_[i] - w.pore_air_mol[i] / step_s * (x - start_[i]) -
                 w.oxygen_demand_mol_s[i] * x / (w.oxygen_half[i] + x);
    }
    lu_.solve(step_);
    double largest = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      // Uptake bends: a step below zero would overshoot, half way is safe.
      const double x = std::max(w.oxygen[i] + step_[i], 0.5 * w.oxygen[i]);
      const double change = std::abs(x - w.oxygen[i]);
      largest = change > largest || std::isnan(change) ? change : largest;
      w.oxygen[i] = x;
    }
    if (largest <= tolerance) {
      return;
    }
    if (std::isnan(largest)) {
      factored_ = false;
      return;
    }
  }
  throw NumericsError("pore oxygen did not converge");
}

void PoreOxygenBalance::rates(const Workspace& w, std::span<const double> x,
                              std::span<double> dxdt) const {
  transport(x);
  for (std::size_t i = 0; i < net_.size(); ++i) {
    dxdt[i] =
        (net_[i] - w.oxygen_demand_mol_s[i] * x[i] / (w.oxygen_half[i] + x[i])) / w.pore_air_mol[i];
  }
}

void oxygen_factors(Workspace& w) {
  for (std::size_t i = 0; i < w.oxygen.size(); ++i) {
    w.oxygen_factor[i] = w.oxygen[i] / (w.oxygen_half[i] + w.oxygen[i]);
  }
}

} // namespace heapcast::models
