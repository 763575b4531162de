#include "models/pile_system.hpp"

#include "models/processes/structure.hpp"
#include "models/properties/moist_air.hpp"

#include <cmath>

namespace heapcast::models {

PileSystem::PileSystem(const PileSite& site, const PileState& state)
    : site_(site), state_(state), rates_(site, state.layout), scale_(size()) {
  prepare_structure(site_, state_, workspace());
}

void PileSystem::rates(double t_s, std::span<const double> y, std::span<double> dydt) {
  rates_.rates(t_s, view(y), dydt);
}

void PileSystem::rates_with_oxygen(double t_s, std::span<const double> y, std::span<const double> x,
                                   std::span<double> dydt, std::span<double> dxdt) {
  rates_.rates_with_oxygen(t_s, view(y), x, dydt, dxdt);
}

void PileSystem::evaluate(double t_s, std::span<const double> y) {
  rates_.evaluate(t_s, view(y));
}

void PileSystem::read(double t_s, std::span<const double> y) {
  rates_.read(t_s, t_s - 0.5 * seconds_per_hour, view(y));
}

void PileSystem::end_step(double t_s, std::span<const double> /*y*/) {
  rates_.end_step(0, t_s);
}

bool PileSystem::jumps_at(double t_s) const {
  return site_.forcing.precipitation_jumps_at(t_s);
}

void PileSystem::after_event(double t_s, double aired_share, bool reformed) {
  Workspace& w = workspace();
  rates_.start_step(0, t_s);
  prepare_structure(site_, state_, w);
  if (reformed && !site_.container) {
    evaluate_matter(rates_.site(), view(state_.y), w);
    const double shrunk = w.volume_m3 / site_.mesh.total_volume_m3();
    w.scale.plan = site_.mesh.round ? std::cbrt(shrunk) : std::sqrt(shrunk);
  }
  w.oxygen_step_s = 0.0;
  for (double& x : w.oxygen_before) {
    x += aired_share * (oxygen_in_dry_air - x);
  }
  w.oxygen = w.oxygen_before;
}

std::span<const double> PileSystem::error_scale(std::span<const double> y) {
  rates_.error_scale(view(y), scale_);
  return scale_;
}

} // namespace heapcast::models
