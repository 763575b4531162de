#include "engine/lane_integrator.hpp"

#include "engine/lanes.hpp"
#include "engine/rosenbrock_w.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::engine {

using rosenbrock_w::smaller_by;

namespace {

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

/// The largest of errors, in the same measure.
template <int lanes>
void see_errors(std::size_t entries, const double* error, const double* scale,
                const double* error_share, double* most) {
  in_columns(entries, [&](std::size_t i, std::size_t k) HEAPCAST_INLINE {
    see_largest(error[i] / error_share[lanes == 1 ? 0 : k], 0.0, scale[i], most[k]);
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
  }
HEAPCAST_STEP(1)
HEAPCAST_STEP(8)
#undef HEAPCAST_STEP

template <int lanes> struct Loops;
#define HEAPCAST_LOOPS(lanes)                                                                      \
  template <> struct Loops<lanes> {                                                                \
    static constexpr auto sum = &sum_##lanes;                                                      \
    static constexpr auto advance = &advance_##lanes;                                              \
  };
HEAPCAST_LOOPS(1)
HEAPCAST_LOOPS(8)
#undef HEAPCAST_LOOPS

} // namespace

template <int lanes>
LaneIntegrator<lanes>::LaneIntegrator(LaneOdeSystem<lanes>& system, const StepControl& control)
    : system_(system), control_(control) {
  const std::size_t entries = lanes * system.size();
  for (auto* v : {&y_, &rates_, &rates_before_, &predicted_, &rates_predicted_, &out_, &scale_,
                  &drive_slope_, &drive_bend_}) {
    v->assign(entries, 0.0);
  }
  if (system.stiff_mesh() == nullptr) {
    return;
  }
  const Mesh& mesh = *system.stiff_mesh();
  for (const StiffLayout& layout : system.stiff_layout()) {
    blocks_.emplace_back(mesh, layout);
    seen_.emplace_back().resize(lanes * mesh.cells(), lanes * mesh.faces(),
                                layout.follower.has_value());
    for (const std::size_t stretch : blocks_.back().stretches()) {
      stiff_stretches_.push_back(stretch);
    }
  }
  std::ranges::sort(stiff_stretches_);
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

/// Takes the stiff blocks and what drives them at what the last call of `rates` saw, in these
/// lanes.
template <int lanes>
void LaneIntegrator<lanes>::keep_stiff(const std::array<double, lanes>& of_lanes) {
  if (blocks_.empty()) {
    return;
  }
  system_.stiff_blocks(seen_);
  const auto ahead_s = system_.drive(drive_slope_, drive_bend_);
  for (std::size_t k = 0; k < blocks_.size(); ++k) {
    blocks_[k].keep(seen_[k], of_lanes);
    blocks_[k].keep_drive(of_lanes, ahead_s, drive_slope_, drive_bend_);
  }
}

template <int lanes> void LaneIntegrator<lanes>::attempt() {
  const std::size_t n = system_.size();
  find_rates();
  choose_steps();
  std::array<double, lanes> here{};
  std::array<double, lanes> before{};
  std::array<double, lanes> half{};
  std::array<double, lanes> last_h{};
  typename LaneOdeSystem<lanes>::Times t{};
  for (std::size_t l = 0; l < lanes; ++l) {
    const Lane& own = lane_[l];
    const bool known = own.last_h_s > 0.0;
    const double ratio = known ? h_[l] / own.last_h_s : 0.0;
    here[l] = h_[l] * (1.0 + 0.5 * ratio);
    before[l] = -0.5 * h_[l] * ratio;
    half[l] = 0.5 * h_[l];
    last_h[l] = own.last_h_s;
    // Error of the trapezoidal rule over its distance from the predictor.
    error_share_[l] = known ? 1.0 / (1.0 + 2.0 + 3.0 / ratio) : 1.0 / 6.0;
    t[l] = own.running ? own.t_s + h_[l] : own.t_s;
  }
  const auto& sum = *Loops<lanes>::sum;
  sum(n, y_.data(), here.data(), rates_.data(), before.data(), rates_before_.data(),
      predicted_.data());
  for (LaneBlock<lanes>& block : blocks_) {
    block.prepare(h_);
    block.predict(last_h, y_, rates_, rates_before_, predicted_);
  }
  system_.rates(t, predicted_, rates_predicted_);
  ++calls_;
  system_.error_scale(y_, scale_);
  const StepArrays all{y_.data(),         rates_.data(), rates_predicted_.data(),
                       predicted_.data(), scale_.data(), out_.data()};
  std::array<double, columns> most{};
  std::size_t from = 0;
  const auto advance_until = [&](std::size_t end) {
    Loops<lanes>::advance(end - from, all.from(from), half.data(), most.data());
    from = end;
  };
  const std::size_t stretch_size = blocks_.empty() ? 0 : lanes * system_.stiff_mesh()->cells();
  for (const std::size_t stretch : stiff_stretches_) {
    advance_until(stretch);
    from += stretch_size;
  }
  advance_until(n * lanes);
  for (LaneBlock<lanes>& block : blocks_) {
    block.correct(y_, rates_, rates_predicted_, out_);
  }
  for (const std::size_t stretch : stiff_stretches_) {
    compare_all(stretch_size, all.from(stretch), most.data());
  }
  for (const LaneBlock<lanes>& block : blocks_) {
    see_errors<lanes>(stretch_size, block.error().data(), scale_.data() + block.stretches().front(),
                      error_share_.data(), most.data());
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
  for (LaneBlock<lanes>& block : blocks_) {
    block.accept(taken, y_, rates_predicted_);
  }
  if (std::ranges::all_of(taken, [](double t) { return t > 0.0; })) {
    std::swap(y_, out_);
    std::swap(rates_before_, rates_);
    std::swap(rates_, rates_predicted_);
  } else {
    const std::size_t entries = system_.size();
    choose_lanes<lanes>(entries, out_.data(), taken.data(), y_.data());
    choose_lanes<lanes>(entries, rates_.data(), taken.data(), rates_before_.data());
    choose_lanes<lanes>(entries, rates_predicted_.data(), taken.data(), rates_.data());
  }
  keep_stiff(taken);
  for (std::size_t l = 0; l < lanes; ++l) {
    if (taken[l] > 0.0) {
      const int lane = static_cast<int>(l);
      system_.repair(lane, y_);
      system_.end_step(lane, lane_[l].t_s);
      const double t_s = lane_[l].t_s;
      lane_[l].needs_rates =
          system_.jumps_at(lane, t_s) &&
          !(system_.add_jump(lane, t_s, rates_) && system_.add_jump(lane, t_s, rates_before_));
    }
  }
}

template class LaneIntegrator<1>;
template class LaneIntegrator<8>;

} // namespace heapcast::engine
