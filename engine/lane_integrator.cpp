#include "engine/lane_integrator.hpp"

#include "engine/lanes.hpp"
#include "engine/rosenbrock_w.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::engine {

using namespace rosenbrock_w;

namespace {

constexpr int lanes = LaneIntegrator::lanes;
using PerLane = std::array<double, lanes>;
using Inputs = std::array<const double*, stages>;

/// sum_j factor_j u_j of one entry, j < count. What later stages hold is not read: it may be NaN.
template <int count>
HEAPCAST_INLINE inline double weighted(const Inputs& u, const std::array<double, stages>& factor,
                                       std::size_t i) {
  double sum = factor[0] * u[0][i];
  if constexpr (count > 1) {
    sum += factor[1] * u[1][i];
  }
  if constexpr (count > 2) {
    sum += factor[2] * u[2][i];
  }
  if constexpr (count > 3) {
    sum += factor[3] * u[3][i];
  }
  return sum;
}

/// to = from + sum_j factor_j u_j, j < count.
template <int count>
HEAPCAST_VECTORISED void combine(std::size_t cells, const double* from, const Inputs& u,
                                 const std::array<double, stages>& factor, double* to) {
  const std::size_t n = cells * lanes;
  HEAPCAST_INDEPENDENT
  for (std::size_t i = 0; i < n; ++i) {
    to[i] = from[i] + weighted<count>(u, factor, i);
  }
}

/// to += sum_j factor_j u_j / h, j < count.
template <int count>
HEAPCAST_VECTORISED void add_over_step(std::size_t cells, const Inputs& u,
                                       const std::array<double, stages>& factor,
                                       const double* inverse_h, double* to) {
  each_entry<lanes>(cells, [&](std::size_t i, int l) HEAPCAST_INLINE {
    to[i] += weighted<count>(u, factor, i) * inverse_h[l];
  });
}

/// Largest error sum_j factor_j u_j over its allowed size by lane; NaN stays NaN.
HEAPCAST_VECTORISED void largest_error(std::size_t cells, const Inputs& u,
                                       const std::array<double, stages>& factor,
                                       const double* scale, double* largest) {
  double worst[lanes] = {};
  for (std::size_t cell = 0; cell < cells; ++cell) {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t i = cell * lanes + static_cast<std::size_t>(l);
      const double e = std::abs(weighted<stages>(u, factor, i)) / scale[i];
      worst[l] = e > worst[l] || e != e ? e : worst[l];
    });
  }
  std::copy(worst, worst + lanes, largest);
}

HEAPCAST_VECTORISED void times(std::size_t cells, const double* factor, double* x) {
  each_entry<lanes>(cells, [&](std::size_t i, int l) HEAPCAST_INLINE { x[i] *= factor[l]; });
}

/// to = take ? from : to, by lane.
HEAPCAST_VECTORISED void keep(std::size_t cells, const double* from, const double* take,
                              double* to) {
  each_entry<lanes>(cells, [&](std::size_t i, int l)
                               HEAPCAST_INLINE { to[i] = take[l] > 0.0 ? from[i] : to[i]; });
}

const Transformed& method() {
  static const Transformed made;
  return made;
}

} // namespace

LaneIntegrator::LaneIntegrator(LaneOdeSystem& system, const StepControl& control)
    : system_(system), control_(control), lu_(system.stiff_mesh()) {
  const std::size_t entries = lanes * system.size();
  const std::size_t cells = lanes * system.stiff_mesh().cells();
  const std::size_t faces = lanes * system.stiff_mesh().faces();
  for (auto* v : {&y_, &first_, &last_, &stage_, &out_, &scale_, &u_[0], &u_[1], &u_[2], &u_[3]}) {
    v->assign(entries, 0.0);
  }
  for (StiffBlock* block : {&block_, &new_block_}) {
    block->diagonal.assign(cells, 0.0);
    block->from_a.assign(faces, 0.0);
    block->from_b.assign(faces, 0.0);
  }
  column_.assign(cells, 0.0);
  diagonal_.assign(cells, 1.0);
  minus_a_.assign(faces, 0.0);
  minus_b_.assign(faces, 0.0);
}

void LaneIntegrator::restart(int lane, double t_s) {
  Lane& own = lane_[static_cast<std::size_t>(lane)];
  own.t_s = t_s;
  own.restarted_s = t_s;
  own.next_step_s = control_.first_step_s;
  own.fresh = true;
  own.needs_rates = true;
  own.failed = false;
}

void LaneIntegrator::run_until(int lane, double t_end_s) {
  Lane& own = lane_[static_cast<std::size_t>(lane)];
  own.t_end_s = t_end_s;
  own.running = true;
}

void LaneIntegrator::choose_steps() {
  for (std::size_t l = 0; l < lanes; ++l) {
    Lane& own = lane_[l];
    own.h_s = 1.0; // of a lane that stands still: any
    if (own.running) {
      if (own.fresh) {
        double limit = control_.largest_step_s;
        if (control_.growth_after_event > 0.0) {
          limit = std::min(limit, control_.first_step_s +
                                      control_.growth_after_event * (own.t_s - own.restarted_s));
        }
        own.wanted_s = std::min(own.next_step_s, limit);
      }
      const double left = own.t_end_s - own.t_s;
      // Two even steps beat a long one and a sliver.
      own.h_s = own.wanted_s >= left ? left : own.wanted_s > 0.5 * left ? 0.5 * left : own.wanted_s;
    }
    h_[l] = own.h_s;
    hg_[l] = own.h_s * gamma_diagonal;
    inverse_hg_[l] = 1.0 / hg_[l];
  }
}

void LaneIntegrator::prepare_stiff() {
  const Mesh& mesh = system_.stiff_mesh();
  new_block_.first = block_.first;
  system_.stiff_block(new_block_);
  block_.first = new_block_.first;
  block_.sink = new_block_.sink;
  PerLane fresh{};
  for (std::size_t l = 0; l < lanes; ++l) {
    fresh[l] = lane_[l].fresh ? 1.0 : 0.0;
  }
  keep(mesh.cells(), new_block_.diagonal.data(), fresh.data(), block_.diagonal.data());
  keep(mesh.faces(), new_block_.from_a.data(), fresh.data(), block_.from_a.data());
  keep(mesh.faces(), new_block_.from_b.data(), fresh.data(), block_.from_b.data());
  column_ = block_.diagonal;
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      const auto a = static_cast<std::size_t>(mesh.cell_a[f]) * lanes;
      const auto b = static_cast<std::size_t>(mesh.cell_b[f]) * lanes;
      for (std::size_t l = 0; l < lanes; ++l) {
        const std::size_t i = f * lanes + l;
        column_[b + l] += block_.from_b[i];
        column_[a + l] += block_.from_a[i];
        minus_b_[i] = -block_.from_b[i];
        minus_a_[i] = -block_.from_a[i];
      }
    }
  }
  for (std::size_t i = 0; i < diagonal_.size(); ++i) {
    diagonal_[i] = inverse_hg_[i % lanes] - block_.diagonal[i];
  }
  lu_.factor(diagonal_.data(), minus_b_.data(), minus_a_.data());
}

void LaneIntegrator::solve_stiff(std::vector<double>& r) {
  const std::size_t cells = diagonal_.size() / lanes;
  const std::size_t before = block_.first / lanes;
  const std::size_t after = system_.size() - before - cells;
  times(before, hg_.data(), r.data());
  times(after, hg_.data(), r.data() + block_.first + diagonal_.size());
  double* inside = r.data() + block_.first;
  lu_.solve(inside);
  PerLane given{};
  for (std::size_t i = 0; i < diagonal_.size(); ++i) {
    given[i % lanes] += column_[i] * inside[i];
  }
  for (std::size_t l = 0; l < lanes; ++l) {
    r[block_.sink + l] -= hg_[l] * given[l];
  }
}

void LaneIntegrator::attempt() {
  const Transformed& m = method();
  const std::size_t n = system_.size();
  system_.begin_try();
  PerLane known{};
  bool any_unknown = false;
  for (std::size_t l = 0; l < lanes; ++l) {
    known[l] = lane_[l].running && lane_[l].needs_rates ? 1.0 : 0.0;
    any_unknown = any_unknown || known[l] > 0.0;
  }
  LaneOdeSystem::Times t{};
  if (any_unknown) {
    for (std::size_t l = 0; l < lanes; ++l) {
      t[l] = lane_[l].t_s;
    }
    system_.rates(t, y_, last_);
    keep(n, last_.data(), known.data(), first_.data());
    system_.begin_try();
    for (Lane& own : lane_) {
      own.needs_rates = own.needs_rates && !own.running;
    }
  }
  choose_steps();
  prepare_stiff();
  PerLane inverse_h;
  for (std::size_t l = 0; l < lanes; ++l) {
    inverse_h[l] = 1.0 / h_[l];
  }
  const Inputs u{u_[0].data(), u_[1].data(), u_[2].data(), u_[3].data()};
  const auto rates_after = [&](double share, const std::vector<double>& state,
                               std::vector<double>& dydt) {
    for (std::size_t l = 0; l < lanes; ++l) {
      t[l] = lane_[l].running ? lane_[l].t_s + share * h_[l] : lane_[l].t_s;
    }
    system_.rates(t, state, dydt);
  };
  u_[0] = first_;
  solve_stiff(u_[0]);
  const auto stage = [&]<int s>() {
    combine<s>(n, y_.data(), u, m.a[s], stage_.data());
    rates_after(m.time[s], stage_, u_[s]);
    add_over_step<s>(n, u, m.c[s], inverse_h.data(), u_[s].data());
    solve_stiff(u_[s]);
  };
  stage.operator()<1>();
  stage.operator()<2>();
  stage.operator()<3>();
  combine<stages>(n, y_.data(), u, m.m, out_.data());
  rates_after(1.0, out_, last_);
  system_.error_scale(y_, scale_);
  largest_error(n, u, m.error, scale_.data(), largest_.data());
  finish_try();
}

void LaneIntegrator::finish_try() {
  PerLane taken{};
  for (std::size_t l = 0; l < lanes; ++l) {
    Lane& own = lane_[l];
    if (!own.running) {
      continue;
    }
    const double error = std::isnan(largest_[l]) ? 1e6 : largest_[l];
    own.fresh = error <= 1.0;
    if (!own.fresh) {
      ++own.rejected;
      own.wanted_s = std::min(own.h_s * smaller_by(error, error_order), 0.9 * own.h_s);
      if (!(own.wanted_s >= control_.smallest_step_s)) {
        own.failed = true;
        own.running = false;
      }
      continue;
    }
    taken[l] = 1.0;
    ++own.steps;
    const double grown = std::min(own.h_s * larger_by(error, step_order), control_.largest_step_s);
    own.next_step_s = own.h_s < own.wanted_s ? std::max(grown, own.wanted_s) : grown;
    own.t_s += own.h_s;
    if (own.t_end_s - own.t_s <= 1e-9 * std::max(1.0, std::abs(own.t_end_s))) {
      own.t_s = own.t_end_s;
      own.running = false;
    }
  }
  keep(system_.size(), out_.data(), taken.data(), y_.data());
  keep(system_.size(), last_.data(), taken.data(), first_.data());
  for (std::size_t l = 0; l < lanes; ++l) {
    if (taken[l] > 0.0) {
      const int lane = static_cast<int>(l);
      system_.end_step(lane, lane_[l].t_s);
      lane_[l].needs_rates = system_.jumps_at(lane, lane_[l].t_s);
    }
  }
}

} // namespace heapcast::engine
