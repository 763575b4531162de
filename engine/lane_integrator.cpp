#include "engine/lane_integrator.hpp"

#include "engine/lanes.hpp"
#include "engine/rosenbrock_w.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::engine {

using rosenbrock_w::smaller_by;

namespace {

/// Steps of the stiff block within one step.
constexpr int block_steps = 2;
constexpr int error_power = 2; ///< of the error in the step, less 1
constexpr double largest_growth = 2.0;

/// Factor on the next step after one that was good. A step worth keeping is kept: two formulas of
/// different steps add their errors, equal ones cancel through the day.
double larger_by(double error) {
  const double factor = std::clamp(0.9 * std::pow(std::max(error, 1e-6), -1.0 / (error_power + 1)),
                                   0.5, largest_growth);
  return factor > 0.85 && factor < 1.3 ? 1.0 : factor;
}

/// A stretch of entries of one step.
struct StepArrays {
  const double* y;
  const double* rates_here;
  const double* rates_ahead;
  const double* predicted;
  const double* scale;
  double* out;
  [[nodiscard]] StepArrays from(std::size_t entry) const {
    return {y + entry,         rates_here + entry, rates_ahead + entry,
            predicted + entry, scale + entry,      out + entry};
  }
};

/// to = from + f a + g b, with factors by lane.
template <int lanes>
HEAPCAST_INLINE inline void sum(std::size_t cells, const double* from, const double* f,
                                const double* a, const double* g, const double* b, double* to) {
  each_entry<lanes>(cells, [&](std::size_t i, int l)
                               HEAPCAST_INLINE { to[i] = from[i] + f[l] * a[i] + g[l] * b[i]; });
}

/// Entry i of any lane is compared in column i % columns: a loop over as many maxima is a vector
/// loop.
constexpr std::size_t columns = 8;

/// body(i, i % columns) for all entries.
template <class Body>
HEAPCAST_INLINE inline void in_columns(std::size_t entries, const Body& body) {
  const std::size_t whole = entries / columns * columns;
  for (std::size_t i = 0; i < whole; i += columns) {
    HEAPCAST_INDEPENDENT
    for (std::size_t k = 0; k < columns; ++k) {
      body(i + k, k);
    }
  }
  for (std::size_t i = whole; i < entries; ++i) {
    body(i, i - whole);
  }
}

/// Share of what is allowed that lies between the step and its predictor. NaN stays NaN.
HEAPCAST_INLINE inline void see_largest(double out, double predicted, double scale, double& most) {
  const double e = std::abs(out - predicted) / scale;
  most = e > most || e != e ? e : most;
}

/// The trapezoidal rule, out = y + half (rates_here + rates_ahead), and its largest distance from
/// the predictor.
template <int lanes>
HEAPCAST_INLINE inline void advance(std::size_t entries, const StepArrays& s, const double* half,
                                    double* most) {
  in_columns(entries, [&](std::size_t i, std::size_t k) HEAPCAST_INLINE {
    const double out = s.y[i] + half[lanes == 1 ? 0 : k] * (s.rates_here[i] + s.rates_ahead[i]);
    s.out[i] = out;
    see_largest(out, s.predicted[i], s.scale[i], most[k]);
  });
}

/// The largest distance where `out` is there already.
HEAPCAST_INLINE inline void compare(std::size_t entries, const StepArrays& s, double* most) {
  in_columns(entries, [&](std::size_t i, std::size_t k) HEAPCAST_INLINE {
    see_largest(s.out[i], s.predicted[i], s.scale[i], most[k]);
  });
}

/// to = take ? from : to, by lane.
template <int lanes>
HEAPCAST_INLINE inline void choose(std::size_t cells, const double* from, const double* take,
                                   double* to) {
  each_entry<lanes>(cells, [&](std::size_t i, int l)
                               HEAPCAST_INLINE { to[i] = take[l] > 0.0 ? from[i] : to[i]; });
}

/// One of the block's steps, before and after the linear solve; `moved` is what it moves.
template <int lanes>
HEAPCAST_INLINE inline void before_solve(std::size_t cells, const double* rate, const double* slope,
                                         double* moved) {
  each_entry<lanes>(cells, [&](std::size_t i, int /*l*/)
                               HEAPCAST_INLINE { moved[i] = 2.0 * rate[i] + slope[i]; });
}
template <int lanes>
HEAPCAST_INLINE inline void after_solve(std::size_t cells, const double* moved,
                                        const double* two_over_step, double* rate, double* change) {
  each_entry<lanes>(cells, [&](std::size_t i, int l) HEAPCAST_INLINE {
    rate[i] = two_over_step[l] * moved[i] - rate[i];
    change[i] += moved[i];
  });
}

HEAPCAST_VECTORISED void compare_all(std::size_t entries, const StepArrays& s, double* most) {
  compare(entries, s, most);
}

// One function of each, compiled for every instruction set.
#define HEAPCAST_STEP(lanes)                                                                       \
  HEAPCAST_VECTORISED void sum_##lanes(std::size_t cells, const double* from, const double* f,     \
                                       const double* a, const double* g, const double* b,          \
                                       double* to) {                                               \
    sum<lanes>(cells, from, f, a, g, b, to);                                                       \
  }                                                                                                \
  HEAPCAST_VECTORISED void advance_##lanes(std::size_t entries, const StepArrays& s,               \
                                           const double* half, double* most) {                     \
    advance<lanes>(entries, s, half, most);                                                        \
  }                                                                                                \
  HEAPCAST_VECTORISED void choose_##lanes(std::size_t cells, const double* from,                   \
                                          const double* take, double* to) {                        \
    choose<lanes>(cells, from, take, to);                                                          \
  }                                                                                                \
  HEAPCAST_VECTORISED void before_solve_##lanes(std::size_t cells, const double* rate,             \
                                                const double* slope, double* moved) {              \
    before_solve<lanes>(cells, rate, slope, moved);                                                \
  }                                                                                                \
  HEAPCAST_VECTORISED void after_solve_##lanes(std::size_t cells, const double* moved,             \
                                               const double* two_over_step, double* rate,          \
                                               double* change) {                                   \
    after_solve<lanes>(cells, moved, two_over_step, rate, change);                                 \
  }
HEAPCAST_STEP(1)
HEAPCAST_STEP(8)
#undef HEAPCAST_STEP

template <int lanes> struct Loops;
#define HEAPCAST_LOOPS(lanes)                                                                      \
  template <> struct Loops<lanes> {                                                                \
    static constexpr auto sum = &sum_##lanes;                                                      \
    static constexpr auto advance = &advance_##lanes;                                              \
    static constexpr auto choose = &choose_##lanes;                                                \
    static constexpr auto before_solve = &before_solve_##lanes;                                    \
    static constexpr auto after_solve = &after_solve_##lanes;                                      \
  };
HEAPCAST_LOOPS(1)
HEAPCAST_LOOPS(8)
#undef HEAPCAST_LOOPS

} // namespace

template <int lanes>
LaneIntegrator<lanes>::LaneIntegrator(LaneOdeSystem<lanes>& system, const StepControl& control)
    : system_(system), control_(control) {
  const std::size_t entries = lanes * system.size();
  for (auto* v : {&y_, &rates_, &rates_before_, &predicted_, &rates_predicted_, &out_, &scale_}) {
    v->assign(entries, 0.0);
  }
  if (system.stiff_mesh() == nullptr) {
    return;
  }
  const Mesh& mesh = *system.stiff_mesh();
  lu_.emplace(mesh);
  const std::size_t cells = lanes * mesh.cells();
  const std::size_t faces = lanes * mesh.faces();
  for (StiffBlock* block : {&block_, &new_block_}) {
    block->diagonal.assign(cells, 0.0);
    block->from_a.assign(faces, 0.0);
    block->from_b.assign(faces, 0.0);
  }
  for (auto* v : {&column_, &slope_, &block_rate_, &change_, &moved_}) {
    v->assign(cells, 0.0);
  }
  diagonal_.assign(cells, 1.0);
  minus_a_.assign(faces, 0.0);
  minus_b_.assign(faces, 0.0);
}

template <int lanes> void LaneIntegrator<lanes>::restart(int lane, double t_s) {
  Lane& own = lane_[static_cast<std::size_t>(lane)];
  own.t_s = t_s;
  own.restarted_s = t_s;
  own.next_step_s = control_.first_step_s;
  own.last_h_s = 0.0;
  own.fresh = true;
  own.needs_rates = true;
  own.failed = false;
}

template <int lanes> void LaneIntegrator<lanes>::run_until(int lane, double t_end_s) {
  Lane& own = lane_[static_cast<std::size_t>(lane)];
  own.t_end_s = t_end_s;
  own.running = true;
}

/// Rates at the states of the lanes where they are not known: after a restart or a jump.
template <int lanes> void LaneIntegrator<lanes>::find_rates() {
  std::array<double, lanes> unknown{};
  typename LaneOdeSystem<lanes>::Times t{};
  bool any = false;
  for (std::size_t l = 0; l < lanes; ++l) {
    unknown[l] = lane_[l].running && lane_[l].needs_rates ? 1.0 : 0.0;
    any = any || unknown[l] > 0.0;
    t[l] = lane_[l].t_s;
  }
  if (!any) {
    return;
  }
  system_.rates(t, y_, rates_predicted_);
  ++calls_;
  keep_stiff(unknown);
  for (std::size_t i = 0; i < rates_.size(); ++i) {
    const std::size_t l = i % lanes;
    if (unknown[l] > 0.0) {
      rates_before_[i] += rates_predicted_[i] - rates_[i];
      rates_[i] = rates_predicted_[i];
    }
  }
  for (std::size_t l = 0; l < lanes; ++l) {
    lane_[l].needs_rates = lane_[l].needs_rates && !lane_[l].running;
  }
}

template <int lanes> void LaneIntegrator<lanes>::choose_steps() {
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
      if (control_.fixed_step_s > 0.0) {
        own.wanted_s = left / std::ceil(left / control_.fixed_step_s - 1e-9);
        own.h_s = own.wanted_s;
      } else {
        // Two even steps beat a long one and a sliver.
        own.h_s = own.wanted_s >= left        ? left
                  : own.wanted_s > 0.5 * left ? 0.5 * left
                                              : own.wanted_s;
      }
    }
    h_[l] = own.h_s;
  }
}

/// Takes the stiff block at what the last call of `rates` saw, in these lanes.
template <int lanes>
void LaneIntegrator<lanes>::keep_stiff(const std::array<double, lanes>& of_lanes) {
  if (!lu_) {
    return;
  }
  const Mesh& mesh = *system_.stiff_mesh();
  system_.stiff_block(new_block_);
  if (std::ranges::all_of(of_lanes, [](double l) { return l > 0.0; })) {
    std::swap(block_, new_block_);
    return;
  }
  block_.first = new_block_.first;
  block_.sink = new_block_.sink;
  const auto& choose = *Loops<lanes>::choose;
  choose(mesh.cells(), new_block_.diagonal.data(), of_lanes.data(), block_.diagonal.data());
  choose(mesh.faces(), new_block_.from_a.data(), of_lanes.data(), block_.from_a.data());
  choose(mesh.faces(), new_block_.from_b.data(), of_lanes.data(), block_.from_b.data());
}

template <int lanes> void LaneIntegrator<lanes>::prepare_stiff() {
  const Mesh& mesh = *system_.stiff_mesh();
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
    diagonal_[i] = 2.0 * block_steps / h_[i % lanes] - block_.diagonal[i];
  }
  // Singular at this step: not finite; the step control takes a smaller one.
  lu_->factor(diagonal_.data(), minus_b_.data(), minus_a_.data());
}

/// The block's part of the step: u' = J u + F_n + t/h G from u = 0, with
/// G = f(y_p) - F_n - J (y_p - y_n), in trapezoidal steps of h / block_steps; and what it leaves to
/// the sink.
template <int lanes> void LaneIntegrator<lanes>::correct_block() {
  const Mesh& mesh = *system_.stiff_mesh();
  const std::size_t cells = mesh.cells();
  const double* ahead = predicted_.data() + block_.first;
  const double* here = y_.data() + block_.first;
  std::array<double, lanes> sink_slope{};
  for (std::size_t l = 0; l < lanes; ++l) {
    sink_slope[l] = rates_predicted_[block_.sink + l] - rates_[block_.sink + l];
    sink_rate_[l] = rates_[block_.sink + l];
  }
  for (std::size_t i = 0; i < slope_.size(); ++i) {
    const double ahead_by = ahead[i] - here[i];
    moved_[i] = ahead_by;
    slope_[i] = rates_predicted_[block_.first + i] - rates_[block_.first + i] -
                block_.diagonal[i] * ahead_by;
    sink_slope[i % lanes] += column_[i] * ahead_by;
  }
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      const auto a = static_cast<std::size_t>(mesh.cell_a[f]) * lanes;
      const auto b = static_cast<std::size_t>(mesh.cell_b[f]) * lanes;
      for (std::size_t l = 0; l < lanes; ++l) {
        slope_[a + l] -= block_.from_b[f * lanes + l] * moved_[b + l];
        slope_[b + l] -= block_.from_a[f * lanes + l] * moved_[a + l];
      }
    }
  }
  for (double& s : slope_) {
    s /= block_steps;
  }
  std::copy_n(rates_.begin() + static_cast<std::ptrdiff_t>(block_.first), block_rate_.size(),
              block_rate_.begin());
  std::fill(change_.begin(), change_.end(), 0.0);
  std::array<double, lanes> two_over_step{};
  std::array<double, lanes> into_sink{};
  for (std::size_t l = 0; l < lanes; ++l) {
    two_over_step[l] = 2.0 * block_steps / h_[l];
  }
  for (int step = 0; step < block_steps; ++step) {
    Loops<lanes>::before_solve(cells, block_rate_.data(), slope_.data(), moved_.data());
    lu_->solve(moved_.data());
    Loops<lanes>::after_solve(cells, moved_.data(), two_over_step.data(), block_rate_.data(),
                              change_.data());
    std::array<double, lanes> given{};
    for (std::size_t i = 0; i < moved_.size(); ++i) {
      given[i % lanes] += column_[i] * moved_[i];
    }
    for (std::size_t l = 0; l < lanes; ++l) {
      const double next = sink_rate_[l] + sink_slope[l] / block_steps - given[l];
      into_sink[l] += (sink_rate_[l] + next) / two_over_step[l];
      sink_rate_[l] = next;
    }
  }
  for (std::size_t i = 0; i < change_.size(); ++i) {
    out_[block_.first + i] = here[i] + change_[i];
  }
  for (std::size_t l = 0; l < lanes; ++l) {
    out_[block_.sink + l] = y_[block_.sink + l] + into_sink[l];
  }
}

template <int lanes> void LaneIntegrator<lanes>::attempt() {
  const std::size_t n = system_.size();
  find_rates();
  choose_steps();
  std::array<double, lanes> here{};
  std::array<double, lanes> before{};
  std::array<double, lanes> half{};
  typename LaneOdeSystem<lanes>::Times t{};
  for (std::size_t l = 0; l < lanes; ++l) {
    const Lane& own = lane_[l];
    const bool known = own.last_h_s > 0.0;
    const double ratio = known ? h_[l] / own.last_h_s : 0.0;
    here[l] = h_[l] * (1.0 + 0.5 * ratio);
    before[l] = -0.5 * h_[l] * ratio;
    half[l] = 0.5 * h_[l];
    // Error of the trapezoidal rule over its distance from the predictor.
    error_share_[l] = known ? 1.0 / (1.0 + 2.0 + 3.0 / ratio) : 1.0 / 6.0;
    t[l] = own.running ? own.t_s + h_[l] : own.t_s;
  }
  if (lu_) {
    prepare_stiff();
  }
  const auto& sum = *Loops<lanes>::sum;
  sum(n, y_.data(), here.data(), rates_.data(), before.data(), rates_before_.data(),
      predicted_.data());
  system_.rates(t, predicted_, rates_predicted_);
  ++calls_;
  system_.error_scale(y_, scale_);
  const StepArrays all{y_.data(),         rates_.data(), rates_predicted_.data(),
                       predicted_.data(), scale_.data(), out_.data()};
  std::array<double, columns> most{};
  const auto& advance = *Loops<lanes>::advance;
  if (lu_) {
    const std::size_t after = block_.first + block_rate_.size();
    advance(block_.first, all, half.data(), most.data());
    advance(n * lanes - after, all.from(after), half.data(), most.data());
    correct_block();
    compare_all(block_rate_.size(), all.from(block_.first), most.data());
  } else {
    advance(n * lanes, all, half.data(), most.data());
  }
  if constexpr (lanes == 1) {
    largest_[0] = 0.0;
    for (const double e : most) {
      see_largest(e, 0.0, 1.0, largest_[0]);
    }
  } else {
    static_assert(lanes == columns);
    largest_ = most;
  }
  finish_try();
}

template <int lanes> void LaneIntegrator<lanes>::finish_try() {
  std::array<double, lanes> taken{};
  for (std::size_t l = 0; l < lanes; ++l) {
    Lane& own = lane_[l];
    if (!own.running) {
      continue;
    }
    const double error = std::isnan(largest_[l]) ? 1e6 : largest_[l] * error_share_[l];
    own.fresh = error <= 1.0 || control_.fixed_step_s > 0.0;
    if (!own.fresh) {
      ++own.rejected;
      own.wanted_s = std::min(own.h_s * smaller_by(error, error_power), 0.9 * own.h_s);
      if (!(own.wanted_s >= control_.smallest_step_s)) {
        own.failed = true;
        own.running = false;
      }
      continue;
    }
    taken[l] = 1.0;
    ++own.steps;
    const double grown = std::min(own.h_s * larger_by(error), control_.largest_step_s);
    own.next_step_s = own.h_s < own.wanted_s ? std::max(grown, own.wanted_s) : grown;
    own.last_h_s = own.h_s;
    own.t_s += own.h_s;
    if (own.t_end_s - own.t_s <= 1e-9 * std::max(1.0, std::abs(own.t_end_s))) {
      own.t_s = own.t_end_s;
      own.running = false;
    }
  }
  if (std::ranges::all_of(taken, [](double t) { return t > 0.0; })) {
    std::swap(y_, out_);
    std::swap(rates_before_, rates_);
    std::swap(rates_, rates_predicted_);
  } else {
    const auto& choose = *Loops<lanes>::choose;
    choose(system_.size(), out_.data(), taken.data(), y_.data());
    choose(system_.size(), rates_.data(), taken.data(), rates_before_.data());
    choose(system_.size(), rates_predicted_.data(), taken.data(), rates_.data());
  }
  if (lu_) {
    const auto& choose = *Loops<lanes>::choose;
    choose(system_.stiff_mesh()->cells(), block_rate_.data(), taken.data(),
           rates_.data() + block_.first);
    choose(1, sink_rate_.data(), taken.data(), rates_.data() + block_.sink);
  }
  keep_stiff(taken);
  for (std::size_t l = 0; l < lanes; ++l) {
    if (taken[l] > 0.0) {
      const int lane = static_cast<int>(l);
      system_.repair(lane, y_);
      system_.end_step(lane, lane_[l].t_s);
      lane_[l].needs_rates = system_.jumps_at(lane, lane_[l].t_s);
    }
  }
}

template class LaneIntegrator<1>;
template class LaneIntegrator<8>;

} // namespace heapcast::engine
