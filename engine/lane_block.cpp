#include "engine/lane_block.hpp"

#include "engine/lanes.hpp"

#include <algorithm>
#include <numbers>
#include <utility>

namespace heapcast::engine {
namespace {

constexpr double gamma = 1.0 - 1.0 / std::numbers::sqrt2;
constexpr double onward = (1.0 - gamma) / gamma;
/// Of h^3 d3x/dt3 in the error of a step: 3 gamma^2 - 2 gamma^3 - 1/6.
constexpr double error_constant = (3.0 - 2.0 * gamma) * gamma * gamma - 1.0 / 6.0;

/// body(offset of the face, of its cell a, of its cell b) for faces between cells.
template <int lanes, class Body>
HEAPCAST_INLINE inline void each_coupling(const Mesh& mesh, const Body& body) {
  for (std::size_t f = 0; f < mesh.faces(); ++f) {
    if (mesh.cell_b[f] >= 0) {
      body(f * lanes, static_cast<std::size_t>(mesh.cell_a[f]) * lanes,
           static_cast<std::size_t>(mesh.cell_b[f]) * lanes);
    }
  }
}

/// y = matrix x.
template <int lanes>
HEAPCAST_INLINE inline void multiply(const Mesh& mesh, const NeighbourMatrix& matrix,
                                     const double* x, double* y) {
  const double* diagonal = matrix.diagonal.data();
  const double* from_b = matrix.from_b.data();
  const double* from_a = matrix.from_a.data();
  each_entry<lanes>(mesh.cells(),
                    [&](std::size_t i, int /*l*/) HEAPCAST_INLINE { y[i] = diagonal[i] * x[i]; });
  each_coupling<lanes>(mesh, [&](std::size_t f, std::size_t a, std::size_t b) HEAPCAST_INLINE {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE { y[a + l] += from_b[f + l] * x[b + l]; });
    each_lane<lanes>([&](int l) HEAPCAST_INLINE { y[b + l] += from_a[f + l] * x[a + l]; });
  });
}

template <int lanes>
HEAPCAST_INLINE inline void column_sums(const Mesh& mesh, const NeighbourMatrix& matrix,
                                        double* sums) {
  const double* from_b = matrix.from_b.data();
  const double* from_a = matrix.from_a.data();
  std::copy(matrix.diagonal.begin(), matrix.diagonal.end(), sums);
  each_coupling<lanes>(mesh, [&](std::size_t f, std::size_t a, std::size_t b) HEAPCAST_INLINE {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE { sums[b + l] += from_b[f + l]; });
    each_lane<lanes>([&](int l) HEAPCAST_INLINE { sums[a + l] += from_a[f + l]; });
  });
}

} // namespace

/// The loops of a block, compiled for every instruction set.
template <int lanes> struct BlockLoops {
  using Block = LaneBlock<lanes>;
  using View = typename Block::View;
  using PerLane = typename Block::PerLane;

  HEAPCAST_INLINE static void prepare(Block& b) {
    const NeighbourMatrix& matrix = b.derivatives_.level;
    column_sums<lanes>(b.mesh_, matrix, b.column_.data());
    if (b.follows_) {
      column_sums<lanes>(b.mesh_, b.derivatives_.follower, b.follower_column_.data());
    }
    each_entry<lanes>(b.mesh_.faces(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.minus_b_[i] = -matrix.from_b[i];
      b.minus_a_[i] = -matrix.from_a[i];
    });
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      b.diagonal_[i] = b.per_stage_[l] - matrix.diagonal[i];
    });
  }

  /// level = ahead - here, and share times the slopes rates_ahead - rates_here - J level of level
  /// and follower; `moved_` is the follower's J level.
  HEAPCAST_INLINE static void find_slopes(Block& b, const View& here, const View& ahead,
                                          const View& rates_here, const View& rates_ahead,
                                          const PerLane& share) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.level_[i] =
          ahead.block[i] - here.block[i] + weight[i] * (ahead.follower[i] - here.follower[i]);
    });
    multiply<lanes>(b.mesh_, b.derivatives_.level, b.level_.data(), b.slope_.data());
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.level_.data(), b.moved_.data());
    }
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double of_follower = rates_ahead.follower[i] - rates_here.follower[i];
      b.slope_[i] = share[l] * (rates_ahead.block[i] - rates_here.block[i] +
                                weight[i] * of_follower - b.slope_[i]);
      b.follower_slope_[i] = share[l] * (of_follower - b.moved_[i]);
    });
  }

  HEAPCAST_INLINE static void first_stage(Block& b, const View& rates) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.level_rate_[i] = rates.block[i] + weight[i] * rates.follower[i];
      b.first_[i] = b.level_rate_[i] + gamma * b.slope_[i];
    });
  }

  HEAPCAST_INLINE static void second_stage(Block& b) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      b.second_[i] = gamma * b.slope_[i] + onward * b.per_stage_[l] * b.first_[i] -
                     (onward - 1.0) * b.level_rate_[i];
    });
  }

  /// The level at the end and in the mean, and in `moved_` the follower's J mean.
  HEAPCAST_INLINE static void after_stages(Block& b) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.level_[i] = onward * b.first_[i] + b.second_[i];
      b.mean_[i] = 2.0 * (1.0 - gamma) * b.first_[i] + gamma * b.second_[i];
    });
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.mean_.data(), b.moved_.data());
    }
  }

  HEAPCAST_INLINE static void write_predicted(Block& b, const View& here, const View& rates,
                                              double* block, double* follower) {
    if (!b.follows_) {
      each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
        block[i] = here.block[i] + b.level_[i];
      });
      return;
    }
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double change =
          b.h_s_[l] * (rates.follower[i] + 0.5 * b.follower_slope_[i] + b.moved_[i]);
      block[i] = here.block[i] + (b.level_[i] - weight[i] * change);
      follower[i] = here.follower[i] + change;
    });
  }

  /// What J says of the rates of the sinks at the level of now.
  HEAPCAST_INLINE static void sum_given(const Block& b, const std::vector<double>& level,
                                        const std::vector<double>& moved, PerLane& given,
                                        PerLane& follower_given) {
    const double* weight = b.weight();
    given = {};
    follower_given = {};
    each_entry_in_turn<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      given[l] += b.column_[i] * level[i] - weight[i] * moved[i];
      follower_given[l] += b.follower_column_[i] * level[i];
    });
  }

  /// Rates and entries at the end; `error_` is prepared for its solve, `first_` is the follower's
  /// J level from here on.
  HEAPCAST_INLINE static void write_end(Block& b, const View& here, const View& rates,
                                        double* block, double* follower) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      b.curvature_[i] = (b.second_[i] - b.first_[i]) / (gamma * (1.0 - gamma));
      b.error_[i] = b.per_stage_[l] * b.curvature_[i];
    });
    write_predicted(b, here, rates, block, follower);
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.level_.data(), b.first_.data());
      const double* weight = b.weight();
      each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
        const double rate = rates.follower[i] + b.follower_slope_[i] + b.first_[i];
        b.follower_end_rate_[i] = rate;
        b.end_rate_[i] = b.per_stage_[l] * b.second_[i] - weight[i] * rate;
      });
    } else {
      each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
        b.first_[i] = 0.0;
        b.end_rate_[i] = b.per_stage_[l] * b.second_[i];
      });
    }
  }

  HEAPCAST_INLINE static void finish_error(Block& b) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.error_[i] = error_constant / gamma * (b.error_[i] - b.curvature_[i]);
    });
  }
};

// One function of each, compiled for every instruction set.
#define HEAPCAST_BLOCK(lanes)                                                                      \
  HEAPCAST_VECTORISED static void prepare_loops(LaneBlock<lanes>& b) {                             \
    BlockLoops<lanes>::prepare(b);                                                                 \
  }                                                                                                \
  HEAPCAST_VECTORISED static void slope_loops(                                                     \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& ahead, const BlockLoops<lanes>::View& rates_here,             \
      const BlockLoops<lanes>::View& rates_ahead, const std::array<double, lanes>& share) {        \
    BlockLoops<lanes>::find_slopes(b, here, ahead, rates_here, rates_ahead, share);                \
  }                                                                                                \
  HEAPCAST_VECTORISED static void first_stage_loops(LaneBlock<lanes>& b,                           \
                                                    const BlockLoops<lanes>::View& rates) {        \
    BlockLoops<lanes>::first_stage(b, rates);                                                      \
  }                                                                                                \
  HEAPCAST_VECTORISED static void second_stage_loops(LaneBlock<lanes>& b) {                        \
    BlockLoops<lanes>::second_stage(b);                                                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void after_stages_loops(LaneBlock<lanes>& b) {                        \
    BlockLoops<lanes>::after_stages(b);                                                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void predicted_loops(                                                 \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& rates, double* block, double* follower) {                     \
    BlockLoops<lanes>::write_predicted(b, here, rates, block, follower);                           \
  }                                                                                                \
  HEAPCAST_VECTORISED static void given_loops(                                                     \
      const LaneBlock<lanes>& b, const std::vector<double>& level,                                 \
      const std::vector<double>& moved, std::array<double, lanes>& given,                          \
      std::array<double, lanes>& follower_given) {                                                 \
    BlockLoops<lanes>::sum_given(b, level, moved, given, follower_given);                          \
  }                                                                                                \
  HEAPCAST_VECTORISED static void end_loops(                                                       \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& rates, double* block, double* follower) {                     \
    BlockLoops<lanes>::write_end(b, here, rates, block, follower);                                 \
  }                                                                                                \
  HEAPCAST_VECTORISED static void error_loops(LaneBlock<lanes>& b) {                               \
    BlockLoops<lanes>::finish_error(b);                                                            \
  }
HEAPCAST_BLOCK(1)
HEAPCAST_BLOCK(8)
#undef HEAPCAST_BLOCK

namespace {

StiffEntries in_lanes(const StiffEntries& entries, std::size_t lanes) {
  return {entries.first * lanes, entries.sink * lanes};
}

} // namespace

template <int lanes>
LaneBlock<lanes>::LaneBlock(const Mesh& mesh, const StiffLayout& layout,
                            std::shared_ptr<const EliminationPlan> plan)
    : mesh_(mesh), block_(in_lanes(layout.block, lanes)),
      follower_(in_lanes(layout.follower.value_or(StiffEntries{}), lanes)),
      follows_(layout.follower.has_value()), stretches_{block_.first}, lu_(std::move(plan)) {
  if (follows_) {
    stretches_.push_back(follower_.first);
  }
  const std::size_t cells = lanes * mesh.cells();
  const std::size_t faces = lanes * mesh.faces();
  derivatives_.resize(cells, faces, follows_);
  for (auto* v : {&column_, &follower_column_, &diagonal_, &level_, &mean_, &slope_,
                  &follower_slope_, &level_rate_, &first_, &second_, &moved_, &curvature_, &error_,
                  &before_, &follower_before_, &end_rate_, &follower_end_rate_, &none_}) {
    v->assign(cells, 0.0);
  }
  minus_a_.assign(faces, 0.0);
  minus_b_.assign(faces, 0.0);
}

template <int lanes> void LaneBlock<lanes>::keep(StiffBlock& seen, const PerLane& of_lanes) {
  if (std::ranges::all_of(of_lanes, [](double l) { return l > 0.0; })) {
    std::swap(derivatives_, seen);
    return;
  }
  const auto take = [&](const std::vector<double>& from, std::vector<double>& to) {
    choose_lanes<lanes>(from.size() / lanes, from.data(), of_lanes.data(), to.data());
  };
  const auto take_matrix = [&](const NeighbourMatrix& from, NeighbourMatrix& to) {
    take(from.diagonal, to.diagonal);
    take(from.from_b, to.from_b);
    take(from.from_a, to.from_a);
  };
  take_matrix(seen.level, derivatives_.level);
  take_matrix(seen.follower, derivatives_.follower);
  take(seen.weight, derivatives_.weight);
}

template <int lanes> void LaneBlock<lanes>::prepare(const PerLane& h_s) {
  h_s_ = h_s;
  for (std::size_t l = 0; l < lanes; ++l) {
    per_stage_[l] = 1.0 / (gamma * h_s[l]);
  }
  prepare_loops(*this);
  // Singular at this step: not finite; the step control takes a smaller one.
  lu_.factor(diagonal_.data(), minus_b_.data(), minus_a_.data());
}

template <int lanes> typename LaneBlock<lanes>::View LaneBlock<lanes>::view(const Values& v) const {
  return {v.data() + block_.first, follows_ ? v.data() + follower_.first : none_.data()};
}

template <int lanes> const double* LaneBlock<lanes>::weight() const {
  return follows_ ? derivatives_.weight.data() : none_.data();
}

template <int lanes> void LaneBlock<lanes>::take_stages(const View& rates) {
  first_stage_loops(*this, rates);
  lu_.solve(first_.data());
  second_stage_loops(*this);
  lu_.solve(second_.data());
  after_stages_loops(*this);
}

template <int lanes>
void LaneBlock<lanes>::predict(const PerLane& last_h_s, const Values& y, const Values& rates,
                               const Values& rates_before, Values& predicted) {
  PerLane ratio{};
  for (std::size_t l = 0; l < lanes; ++l) {
    ratio[l] = last_h_s[l] > 0.0 ? h_s_[l] / last_h_s[l] : 0.0;
  }
  const View here = view(y);
  slope_loops(*this, {before_.data(), follower_before_.data()}, here, view(rates_before),
              view(rates), ratio);
  take_stages(view(rates));
  predicted_loops(*this, here, view(rates), predicted.data() + block_.first,
                  predicted.data() + follower_.first);
}

template <int lanes>
void LaneBlock<lanes>::correct(const Values& y, const Values& rates, const Values& predicted,
                               const Values& rates_predicted, Values& out) {
  PerLane all{};
  all.fill(1.0);
  const View here = view(y);
  slope_loops(*this, here, view(predicted), view(rates), view(rates_predicted), all);
  // What J says of the rates of the sinks: at the predicted level, in the mean, at the end.
  struct Given {
    PerLane predicted, mean, end;
  };
  Given given;
  Given follower_given;
  given_loops(*this, level_, moved_, given.predicted, follower_given.predicted);
  take_stages(view(rates));
  given_loops(*this, mean_, moved_, given.mean, follower_given.mean);
  end_loops(*this, here, view(rates), out.data() + block_.first, out.data() + follower_.first);
  given_loops(*this, level_, first_, given.end, follower_given.end);
  lu_.solve(error_.data());
  error_loops(*this);
  const auto into_sink = [&](std::size_t sink, const Given& of, PerLane& end_rate) {
    for (std::size_t l = 0; l < lanes; ++l) {
      const double first = rates[sink + l];
      const double slope = rates_predicted[sink + l] - first + of.predicted[l];
      end_rate[l] = first + slope - of.end[l];
      out[sink + l] = y[sink + l] + h_s_[l] * (first + 0.5 * slope - of.mean[l]);
    }
  };
  into_sink(block_.sink, given, sink_end_rate_);
  if (follows_) {
    into_sink(follower_.sink, follower_given, follower_sink_end_rate_);
  }
}

template <int lanes>
void LaneBlock<lanes>::accept(const PerLane& taken, const Values& y, Values& rates_predicted) {
  const auto accept_one = [&](const StiffEntries& entries, Values& before, const Values& end_rate,
                              const PerLane& sink_end_rate) {
    choose_lanes<lanes>(mesh_.cells(), y.data() + entries.first, taken.data(), before.data());
    std::copy(end_rate.begin(), end_rate.end(), rates_predicted.data() + entries.first);
    std::copy(sink_end_rate.begin(), sink_end_rate.end(), rates_predicted.data() + entries.sink);
  };
  accept_one(block_, before_, end_rate_, sink_end_rate_);
  if (follows_) {
    accept_one(follower_, follower_before_, follower_end_rate_, follower_sink_end_rate_);
  }
}

template class LaneBlock<1>;
template class LaneBlock<8>;

} // namespace heapcast::engine
