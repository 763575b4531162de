#include "engine/lane_block.hpp"

#include "engine/lanes.hpp"

#include <algorithm>
#include <numbers>
#include <utility>

namespace heapcast::engine {
namespace {

constexpr double gamma = 1.0 - 1.0 / std::numbers::sqrt2;
constexpr double onward = (1.0 - gamma) / gamma;
/// Share of the bend in the first stage: with its weight 1 - gamma the mean of s (s - 1).
constexpr double bend_in_first = -1.0 / (6.0 * (1.0 - gamma));
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
  using Values = typename Block::Values;

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

  HEAPCAST_INLINE static void keep_drive(Block& b, const PerLane& of_lanes, const View& slope,
                                         const View& bend) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const auto take = [&](double from, double& to)
                            HEAPCAST_INLINE { to = of_lanes[l] > 0.0 ? from : to; };
      take(slope.block[i], b.drive_slope_.block[i]);
      take(slope.follower[i], b.drive_slope_.follower[i]);
      take(bend.block[i], b.drive_bend_.block[i]);
      take(bend.follower[i], b.drive_bend_.follower[i]);
    });
  }

  /// Mean slope of the drive over the step.
  HEAPCAST_INLINE static double mean_drive(const Block& b, const Values& slope, const Values& bend,
                                           std::size_t i, int l) {
    return slope[i] + (b.h_s_[l] - b.ahead_s_[l]) * bend[i];
  }

  /// G, of which the share `ratio` of the last step's goes on.
  HEAPCAST_INLINE static void find_slopes(Block& b, const View& here, const View& rates,
                                          const View& rates_before, const PerLane& ratio) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
      b.level_[i] =
          here.block[i] - b.before_[i] + weight[i] * (here.follower[i] - b.follower_before_[i]);
    });
    multiply<lanes>(b.mesh_, b.derivatives_.level, b.level_.data(), b.slope_.data());
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.level_.data(), b.moved_.data());
    }
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double last = ratio[l] > 0.0 ? 1.0 : 0.0;
      const double of_follower = rates.follower[i] - rates_before.follower[i];
      const double drive_block = mean_drive(b, b.drive_slope_.block, b.drive_bend_.block, i, l) -
                                 last * b.drive_before_.block[i];
      const double drive_follower =
          mean_drive(b, b.drive_slope_.follower, b.drive_bend_.follower, i, l) -
          last * b.drive_before_.follower[i];
      b.slope_[i] = ratio[l] * (rates.block[i] - rates_before.block[i] + weight[i] * of_follower -
                                b.slope_[i]) +
                    b.h_s_[l] * (drive_block + weight[i] * drive_follower);
      b.follower_slope_[i] = ratio[l] * (of_follower - b.moved_[i]) + b.h_s_[l] * drive_follower;
    });
  }

  /// B of the level as it stands in the first stage.
  HEAPCAST_INLINE static double first_bend(const Block& b, double weight, std::size_t i, int l) {
    return bend_in_first * b.h_s_[l] * b.h_s_[l] *
           (b.drive_bend_.block[i] + weight * b.drive_bend_.follower[i]);
  }

  HEAPCAST_INLINE static void first_stage(Block& b, const View& rates) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double bend = first_bend(b, weight[i], i, l);
      b.level_rate_[i] = rates.block[i] + weight[i] * rates.follower[i];
      b.first_[i] = b.level_rate_[i] + gamma * b.slope_[i] + bend;
    });
  }

  HEAPCAST_INLINE static void second_stage(Block& b) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double bend = first_bend(b, weight[i], i, l);
      b.second_[i] = gamma * b.slope_[i] + onward * (b.per_stage_[l] * b.first_[i] - bend) -
                     (onward - 1.0) * b.level_rate_[i];
    });
  }

  /// What the follower moves by when its mean rate rises by `more`.
  HEAPCAST_INLINE static double follower_change(const Block& b, const View& rates, double more,
                                                std::size_t i, int l) {
    return b.h_s_[l] *
           (rates.follower[i] + 0.5 * b.follower_slope_[i] -
            b.h_s_[l] * b.h_s_[l] * b.drive_bend_.follower[i] / 6.0 + b.moved_mean_[i] + more);
  }

  HEAPCAST_INLINE static void write_entries(Block& b, const View& here, double level, double change,
                                            std::size_t i, double* block, double* follower) {
    if (b.follows_) {
      block[i] = here.block[i] + (level - b.derivatives_.weight[i] * change);
      follower[i] = here.follower[i] + change;
    } else {
      block[i] = here.block[i] + level;
    }
  }

  HEAPCAST_INLINE static void end_prediction(Block& b, const View& here, const View& rates,
                                             double* block, double* follower) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      b.level_[i] = onward * b.first_[i] + b.second_[i];
      b.mean_[i] = 2.0 * (1.0 - gamma) * b.first_[i] + gamma * b.second_[i];
      b.curvature_[i] = (b.second_[i] - b.first_[i]) / (gamma * (1.0 - gamma));
      b.error_[i] = b.per_stage_[l] * b.curvature_[i];
    });
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.mean_.data(), b.moved_mean_.data());
    }
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double change = follower_change(b, rates, 0.0, i, l);
      write_entries(b, here, b.level_[i], change, i, block, follower);
    });
  }

  HEAPCAST_INLINE static void find_missed(Block& b, const View& rates,
                                          const View& rates_predicted) {
    const double* weight = b.weight();
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.level_.data(), b.moved_.data());
    }
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      b.missed_follower_[i] =
          rates_predicted.follower[i] - rates.follower[i] - b.follower_slope_[i] - b.moved_[i];
      b.missed_[i] = rates_predicted.block[i] + weight[i] * rates_predicted.follower[i] -
                     b.per_stage_[l] * b.second_[i];
      b.correction_[i] = 0.5 * b.missed_[i];
    });
  }

  HEAPCAST_INLINE static void sum_given(Block& b) {
    const double* weight = b.weight();
    PerLane predicted{};
    PerLane mean{};
    PerLane correction{};
    PerLane follower_predicted{};
    PerLane follower_mean{};
    PerLane follower_correction{};
    each_entry_in_turn<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      predicted[l] += b.column_[i] * b.level_[i] - weight[i] * b.moved_[i];
      mean[l] += b.column_[i] * b.mean_[i] - weight[i] * b.moved_mean_[i];
      correction[l] += b.column_[i] * b.correction_[i] - weight[i] * b.moved_correction_[i];
      follower_predicted[l] += b.follower_column_[i] * b.level_[i];
      follower_mean[l] += b.follower_column_[i] * b.mean_[i];
      follower_correction[l] += b.follower_column_[i] * b.correction_[i];
    });
    b.given_ = {predicted, mean, correction};
    b.follower_given_ = {follower_predicted, follower_mean, follower_correction};
  }

  HEAPCAST_INLINE static void end_correction(Block& b, const View& here, const View& rates,
                                             double* block, double* follower) {
    if (b.follows_) {
      multiply<lanes>(b.mesh_, b.derivatives_.follower, b.correction_.data(),
                      b.moved_correction_.data());
    }
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double change =
          follower_change(b, rates, 0.5 * b.missed_follower_[i] + b.moved_correction_[i], i, l);
      write_entries(b, here, b.level_[i] + b.correction_[i] / gamma, change, i, block, follower);
      b.error_[i] = error_constant / gamma * (b.error_[i] - b.curvature_[i]);
    });
    sum_given(b);
  }

  /// From the rates at the predicted state to those at the corrected one.
  HEAPCAST_INLINE static void correct_rates(const Block& b, double* block, double* follower) {
    const double* weight = b.weight();
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const double of_follower = b.moved_correction_[i] / gamma;
      const double of_level = (b.per_stage_[l] * b.correction_[i] - 0.5 * b.missed_[i]) / gamma;
      block[i] += of_level - weight[i] * of_follower;
      if (b.follows_) {
        follower[i] += of_follower;
      }
    });
  }

  /// The last step's begin and drive, in lanes that took the step from `here`.
  HEAPCAST_INLINE static void accept(Block& b, const PerLane& taken, const View& here) {
    each_entry<lanes>(b.mesh_.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
      const auto take = [&](double from, double& to)
                            HEAPCAST_INLINE { to = taken[l] > 0.0 ? from : to; };
      take(here.block[i], b.before_[i]);
      take(here.follower[i], b.follower_before_[i]);
      take(mean_drive(b, b.drive_slope_.block, b.drive_bend_.block, i, l),
           b.drive_before_.block[i]);
      take(mean_drive(b, b.drive_slope_.follower, b.drive_bend_.follower, i, l),
           b.drive_before_.follower[i]);
    });
  }
};

// One function of each, compiled for every instruction set.
#define HEAPCAST_BLOCK(lanes)                                                                      \
  HEAPCAST_VECTORISED static void prepare_loops(LaneBlock<lanes>& b) {                             \
    BlockLoops<lanes>::prepare(b);                                                                 \
  }                                                                                                \
  HEAPCAST_VECTORISED static void keep_drive_loops(                                                \
      LaneBlock<lanes>& b, const std::array<double, lanes>& of_lanes,                              \
      const BlockLoops<lanes>::View& slope, const BlockLoops<lanes>::View& bend) {                 \
    BlockLoops<lanes>::keep_drive(b, of_lanes, slope, bend);                                       \
  }                                                                                                \
  HEAPCAST_VECTORISED static void slope_loops(                                                     \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& rates, const BlockLoops<lanes>::View& rates_before,           \
      const std::array<double, lanes>& ratio) {                                                    \
    BlockLoops<lanes>::find_slopes(b, here, rates, rates_before, ratio);                           \
  }                                                                                                \
  HEAPCAST_VECTORISED static void first_stage_loops(LaneBlock<lanes>& b,                           \
                                                    const BlockLoops<lanes>::View& rates) {        \
    BlockLoops<lanes>::first_stage(b, rates);                                                      \
  }                                                                                                \
  HEAPCAST_VECTORISED static void second_stage_loops(LaneBlock<lanes>& b) {                        \
    BlockLoops<lanes>::second_stage(b);                                                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void prediction_loops(                                                \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& rates, double* block, double* follower) {                     \
    BlockLoops<lanes>::end_prediction(b, here, rates, block, follower);                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void missed_loops(LaneBlock<lanes>& b,                                \
                                               const BlockLoops<lanes>::View& rates,               \
                                               const BlockLoops<lanes>::View& rates_predicted) {   \
    BlockLoops<lanes>::find_missed(b, rates, rates_predicted);                                     \
  }                                                                                                \
  HEAPCAST_VECTORISED static void correction_loops(                                                \
      LaneBlock<lanes>& b, const BlockLoops<lanes>::View& here,                                    \
      const BlockLoops<lanes>::View& rates, double* block, double* follower) {                     \
    BlockLoops<lanes>::end_correction(b, here, rates, block, follower);                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void rate_loops(const LaneBlock<lanes>& b, double* block,             \
                                             double* follower) {                                   \
    BlockLoops<lanes>::correct_rates(b, block, follower);                                          \
  }                                                                                                \
  HEAPCAST_VECTORISED static void accept_loops(LaneBlock<lanes>& b,                                \
                                               const std::array<double, lanes>& taken,             \
                                               const BlockLoops<lanes>::View& here) {              \
    BlockLoops<lanes>::accept(b, taken, here);                                                     \
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
LaneBlock<lanes>::LaneBlock(const Mesh& mesh, const StiffLayout& layout)
    : mesh_(mesh), block_(in_lanes(layout.block, lanes)),
      follower_(in_lanes(layout.follower.value_or(StiffEntries{}), lanes)),
      follows_(layout.follower.has_value()), stretches_{block_.first}, lu_(mesh) {
  if (follows_) {
    stretches_.push_back(follower_.first);
  }
  const std::size_t cells = lanes * mesh.cells();
  const std::size_t faces = lanes * mesh.faces();
  derivatives_.resize(cells, faces, follows_);
  for (auto* v : {&column_,
                  &follower_column_,
                  &diagonal_,
                  &drive_slope_.block,
                  &drive_slope_.follower,
                  &drive_bend_.block,
                  &drive_bend_.follower,
                  &drive_before_.block,
                  &drive_before_.follower,
                  &level_,
                  &mean_,
                  &moved_,
                  &moved_mean_,
                  &slope_,
                  &follower_slope_,
                  &level_rate_,
                  &first_,
                  &second_,
                  &correction_,
                  &moved_correction_,
                  &missed_,
                  &missed_follower_,
                  &curvature_,
                  &error_,
                  &before_,
                  &follower_before_,
                  &none_}) {
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

template <int lanes>
void LaneBlock<lanes>::keep_drive(const PerLane& of_lanes, const PerLane& ahead_s,
                                  const Values& slope, const Values& bend) {
  keep_drive_loops(*this, of_lanes, view(slope), view(bend));
  for (std::size_t l = 0; l < lanes; ++l) {
    if (of_lanes[l] > 0.0) {
      ahead_s_[l] = ahead_s[l];
      drive_sink_bend_[l] = bend[block_.sink + l];
      drive_follower_sink_bend_[l] = follows_ ? bend[follower_.sink + l] : 0.0;
    }
  }
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

template <int lanes>
void LaneBlock<lanes>::predict(const PerLane& last_h_s, const Values& y, const Values& rates,
                               const Values& rates_before, Values& predicted) {
  PerLane ratio{};
  for (std::size_t l = 0; l < lanes; ++l) {
    ratio[l] = last_h_s[l] > 0.0 ? h_s_[l] / last_h_s[l] : 0.0;
  }
  const View here = view(y);
  slope_loops(*this, here, view(rates), view(rates_before), ratio);
  first_stage_loops(*this, view(rates));
  lu_.solve(first_.data());
  second_stage_loops(*this);
  lu_.solve(second_.data());
  prediction_loops(*this, here, view(rates), predicted.data() + block_.first,
                   predicted.data() + follower_.first);
}

template <int lanes>
void LaneBlock<lanes>::correct(const Values& y, const Values& rates, const Values& rates_predicted,
                               Values& out) {
  missed_loops(*this, view(rates), view(rates_predicted));
  lu_.solve(correction_.data(), error_.data());
  correction_loops(*this, view(y), view(rates), out.data() + block_.first,
                   out.data() + follower_.first);
  const auto into_sink = [&](std::size_t sink, const Given& given, const PerLane& bend) {
    for (std::size_t l = 0; l < lanes; ++l) {
      const double first = rates[sink + l];
      const double slope = rates_predicted[sink + l] - first + given.predicted[l];
      out[sink + l] =
          y[sink + l] + h_s_[l] * (first + 0.5 * slope - h_s_[l] * h_s_[l] * bend[l] / 6.0 -
                                   given.mean[l] - given.correction[l]);
    }
  };
  into_sink(block_.sink, given_, drive_sink_bend_);
  if (follows_) {
    into_sink(follower_.sink, follower_given_, drive_follower_sink_bend_);
  }
}

template <int lanes>
void LaneBlock<lanes>::accept(const PerLane& taken, const Values& y, Values& rates_predicted) {
  accept_loops(*this, taken, view(y));
  rate_loops(*this, rates_predicted.data() + block_.first,
             rates_predicted.data() + follower_.first);
  for (std::size_t l = 0; l < lanes; ++l) {
    rates_predicted[block_.sink + l] -= given_.correction[l] / gamma;
    if (follows_) {
      rates_predicted[follower_.sink + l] -= follower_given_.correction[l] / gamma;
    }
  }
}

template class LaneBlock<1>;
template class LaneBlock<8>;

} // namespace heapcast::engine
