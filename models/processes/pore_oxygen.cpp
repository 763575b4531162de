#include "models/processes/pore_oxygen.hpp"

#include "engine/errors.hpp"
#include "engine/exponential_fitting.hpp"
#include "models/properties/gas_diffusion.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace heapcast::models {

using engine::each_entry;
using engine::each_lane;
using engine::ExponentialFitting;
using engine::FaceKind;

namespace {

constexpr double tolerance = 1e-7; ///< mol/mol; 3e-5 of the uptake at the smallest K
constexpr int patient_iterations = 6;
constexpr int most_iterations = 60;
constexpr double largest_step_ratio = 2.0; ///< BDF2 with steps that keep growing: unstable from 2.4

using Arrays = OxygenArrays;

template <int lanes>
HEAPCAST_INLINE inline void transport_terms(const LaneSite<lanes>& site,
                                            const LaneWorkspace<lanes>& w, Arrays& o) {
  constexpr double d0 = reference_diffusivity_m2_s(Gas::oxygen);
  each_entry<lanes>(site.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    o.conductance[i] =
        d0 * w.relative_diffusivity[i] * w.dry_air_density[i] / molar_mass_dry_air_kg_mol;
    o.loss[i] = 0.0;
    o.gain_outside[i] = 0.0;
  });
  each_inner_face<lanes>(
      site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/) HEAPCAST_INLINE {
        const double ca = o.conductance[a];
        const double cb = o.conductance[b];
        const double diffusion = w.transmissibility_m[f] * 2.0 * ca * cb / (ca + cb + 1e-300);
        const double flow = w.air_flow_kg_s[f] * (1.0 / molar_mass_dry_air_kg_mol);
        const double beside =
            diffusion * ExponentialFitting(std::abs(flow) / (diffusion + 1e-300)).diffusion_share;
        o.into_a[f] = beside + std::max(-flow, 0.0);
        o.into_b[f] = beside + std::max(flow, 0.0);
      });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         o.loss[a] += o.into_a[f];
                                         o.loss[b] += o.into_b[f];
                                       });
  for (const int face : site.boundary) {
    const FaceKind kind = site.kind[static_cast<std::size_t>(face)];
    const auto cell = static_cast<std::size_t>(site.cell_a[static_cast<std::size_t>(face)]);
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const std::size_t f = static_cast<std::size_t>(face) * lanes + l;
      const std::size_t a = cell * lanes + l;
      const Forcing& out = in_lane(w.forcing, l);
      const double film_m_s = out.film_W_m2K * site.coefficients.surface_film_scale[l] /
                              (out.air_density_kg_m3 * heat_capacity_dry_air_J_kgK);
      const double open = kind == FaceKind::surface ? in_lane(w.surface, l).gas_share
                          : kind == FaceKind::wall  ? in_lane(w.wall, l).gas_share
                                                    : 0.0;
      const double inside = w.transmissibility_m[f] * o.conductance[a];
      const double outside =
          film_m_s * w.face_area_m2[f] * w.dry_air_density[a] / molar_mass_dry_air_kg_mol;
      const double into = std::max(-w.air_flow_kg_s[f], 0.0) / molar_mass_dry_air_kg_mol +
                          open * inside * outside / (inside + outside + 1e-300);
      o.loss[a] += into;
      o.gain_outside[a] += into * oxygen_in_dry_air;
    });
  }
}

/// sum_f G_f (x_neighbour - x) [mol/s] of every cell into `net`.
template <int lanes>
HEAPCAST_INLINE inline void transport(const LaneSite<lanes>& site, const double* x, Arrays& o) {
  each_entry<lanes>(site.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    o.net[i] = o.gain_outside[i] - o.loss[i] * x[i];
  });
  inner_faces_in_turn<lanes>(site, [&](std::size_t f, std::size_t a, std::size_t b, int /*l*/)
                                       HEAPCAST_INLINE {
                                         o.net[a] += o.into_a[f] * x[b];
                                         o.net[b] += o.into_b[f] * x[a];
                                       });
}

/// Where the step starts from: BDF2 is a shorter backward Euler step from a point ahead on the
/// slope of the last step. The iteration begins where that slope leads.
template <int lanes>
HEAPCAST_INLINE inline void begin(const LaneSite<lanes>& site,
                                  const PerLane<double, lanes>& since_s, LaneWorkspace<lanes>& w,
                                  PerLane<double, lanes>& step_s, Arrays& o) {
  double weight[lanes];
  double guess_s[lanes];
  for (int l = 0; l < lanes; ++l) {
    weight[l] = 0.0;
    guess_s[l] = 0.0;
    const double last_s = in_lane(w.oxygen_step_s, l);
    if (last_s > 0.0) {
      const double ratio = std::min(in_lane(since_s, l) / last_s, largest_step_ratio);
      weight[l] = ratio / (1.0 + ratio);
      guess_s[l] = ratio * last_s;
    }
    // A lane that does not move gets some step, so that nothing is divided by 0.
    const double since = in_lane(since_s, l) > 0.0 ? in_lane(since_s, l) : 1.0;
    in_lane(step_s, l) = since / (1.0 + weight[l]);
  }
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    const double before = w.oxygen_before[i];
    const double slope = w.oxygen_slope_1_s[i];
    o.start[i] =
        std::clamp(before + weight[l] * in_lane(step_s, l) * slope, 0.0, oxygen_in_dry_air);
    w.oxygen[i] = std::clamp(before + guess_s[l] * slope, 0.0, oxygen_in_dry_air);
    o.storage[i] = w.pore_air_mol[i] / in_lane(step_s, l);
  });
}

template <int lanes>
HEAPCAST_INLINE inline void jacobian(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                                     Arrays& o) {
  each_entry<lanes>(site.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    const double k = w.oxygen_half[i];
    const double sum = k + w.oxygen[i];
    o.diagonal[i] =
        o.loss[i] + o.storage[i] + w.oxygen_demand_mol_s[i] * (k / (sum * sum)) + 1e-300;
  });
  each_entry<lanes>(site.faces(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    o.minus_into_a[i] = -o.into_a[i];
    o.minus_into_b[i] = -o.into_b[i];
  });
}

template <int lanes>
HEAPCAST_INLINE inline void residual(const LaneSite<lanes>& site, const LaneWorkspace<lanes>& w,
                                     Arrays& o) {
  transport<lanes>(site, w.oxygen.data(), o);
  each_entry<lanes>(site.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    const double x = w.oxygen[i];
    o.step[i] = o.net[i] - o.storage[i] * (x - o.start[i]) -
                w.oxygen_demand_mol_s[i] * x / (w.oxygen_half[i] + x);
  });
}

/// Takes the step in the lanes that are not done; the largest change by lane. NaN comes out as NaN.
template <int lanes>
HEAPCAST_INLINE inline void take_step(const LaneSite<lanes>& site, const bool* done,
                                      LaneWorkspace<lanes>& w, Arrays& o, double* largest) {
  each_entry<lanes>(site.cells(), [&](std::size_t i, int l) HEAPCAST_INLINE {
    // Uptake bends: a step below zero would overshoot, half way is safe.
    const double x = std::max(w.oxygen[i] + o.step[i], 0.5 * w.oxygen[i]);
    const double next = done[l] ? w.oxygen[i] : x;
    o.step[i] = std::abs(next - w.oxygen[i]);
    w.oxygen[i] = next;
  });
  each_lane<lanes>([&](int l) HEAPCAST_INLINE { largest[l] = 0.0; });
  for (std::size_t c = 0; c < site.cells(); ++c) {
    each_lane<lanes>([&](int l) HEAPCAST_INLINE {
      const double change = o.step[c * lanes + l];
      largest[l] = change > largest[l] || change != change ? change : largest[l];
    });
  }
}

template <int lanes>
HEAPCAST_INLINE inline void oxygen_share(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w) {
  each_entry<lanes>(site.cells(), [&](std::size_t i, int /*l*/) HEAPCAST_INLINE {
    w.oxygen_factor[i] = w.oxygen[i] / (w.oxygen_half[i] + w.oxygen[i]);
  });
}

} // namespace

// One function of each, compiled for every instruction set.
#define HEAPCAST_OXYGEN(lanes)                                                                     \
  HEAPCAST_VECTORISED static void transport_terms_of(const LaneSite<lanes>& site,                  \
                                                     const LaneWorkspace<lanes>& w, Arrays& o) {   \
    transport_terms<lanes>(site, w, o);                                                            \
  }                                                                                                \
  HEAPCAST_VECTORISED static void transport_of(const LaneSite<lanes>& site, const double* x,       \
                                               Arrays& o) {                                        \
    transport<lanes>(site, x, o);                                                                  \
  }                                                                                                \
  HEAPCAST_VECTORISED static void begin_of(                                                        \
      const LaneSite<lanes>& site, const PerLane<double, lanes>& since_s, LaneWorkspace<lanes>& w, \
      PerLane<double, lanes>& step_s, Arrays& o) {                                                 \
    begin<lanes>(site, since_s, w, step_s, o);                                                     \
  }                                                                                                \
  HEAPCAST_VECTORISED static void jacobian_of(const LaneSite<lanes>& site,                         \
                                              const LaneWorkspace<lanes>& w, Arrays& o) {          \
    jacobian<lanes>(site, w, o);                                                                   \
  }                                                                                                \
  HEAPCAST_VECTORISED static void residual_of(const LaneSite<lanes>& site,                         \
                                              const LaneWorkspace<lanes>& w, Arrays& o) {          \
    residual<lanes>(site, w, o);                                                                   \
  }                                                                                                \
  HEAPCAST_VECTORISED static void take_step_of(const LaneSite<lanes>& site, const bool* done,      \
                                               LaneWorkspace<lanes>& w, Arrays& o,                 \
                                               double* largest) {                                  \
    take_step<lanes>(site, done, w, o, largest);                                                   \
  }                                                                                                \
  HEAPCAST_VECTORISED void oxygen_factors(const LaneSite<lanes>& site, LaneWorkspace<lanes>& w) {  \
    oxygen_share<lanes>(site, w);                                                                  \
  }
HEAPCAST_OXYGEN(1)
HEAPCAST_OXYGEN(run_lanes)
#undef HEAPCAST_OXYGEN

OxygenArrays::OxygenArrays(std::size_t cells, std::size_t faces) {
  for (auto* v : {&conductance, &loss, &gain_outside, &net, &diagonal, &step, &start, &storage}) {
    v->assign(cells, 0.0);
  }
  for (auto* v : {&into_a, &into_b, &minus_into_a, &minus_into_b}) {
    v->assign(faces, 0.0);
  }
}

template <int lanes>
PoreOxygenBalance<lanes>::PoreOxygenBalance(const LaneSite<lanes>& site, const engine::Mesh& mesh)
    : site_(site), lu_(mesh), arrays_(lanes * site.cells(), lanes * site.faces()) {}

template <int lanes> void PoreOxygenBalance<lanes>::set_transport(const LaneWorkspace<lanes>& w) {
  transport_terms_of(site_, w, arrays_);
}

template <int lanes>
void PoreOxygenBalance<lanes>::solve(const PerLane<double, lanes>& since_s,
                                     LaneWorkspace<lanes>& w) {
  bool done[lanes];
  bool all = true;
  for (int l = 0; l < lanes; ++l) {
    done[l] = !(in_lane(since_s, l) > 0.0);
    all = all && done[l];
    if (done[l]) {
      for (std::size_t c = 0; c < site_.cells(); ++c) {
        w.oxygen[c * lanes + l] = w.oxygen_before[c * lanes + l];
      }
    }
  }
  if (all) {
    return;
  }
  PerLane<double, lanes> step_s;
  begin_of(site_, since_s, w, step_s, arrays_);
  double largest[lanes];
  double last[lanes] = {};
  for (int iteration = 0; iteration < most_iterations; ++iteration) {
    // Newton with the first factors while they serve. Those of the call before would serve as well,
    // but cost more iterations than they save.
    if (iteration == 0 || iteration >= patient_iterations) {
      jacobian_of(site_, w, arrays_);
      lu_.factor(arrays_.diagonal.data(), arrays_.minus_into_a.data(), arrays_.minus_into_b.data());
    }
    residual_of(site_, w, arrays_);
    lu_.solve(arrays_.step.data());
    take_step_of(site_, done, w, arrays_, largest);
    all = true;
    for (int l = 0; l < lanes; ++l) {
      // Steps shrink by about the same share each: what all further ones would add, a tenth of what
      // a last step of the tolerance may leave.
      const double share = last[l] > 0.0 ? largest[l] / last[l] : 1.0;
      const bool near = share < 0.5 && largest[l] * share / (1.0 - share) <= 0.1 * tolerance;
      last[l] = largest[l];
      // NaN is for the step control to reject.
      done[l] = done[l] || near || largest[l] <= tolerance || std::isnan(largest[l]);
      all = all && done[l];
    }
    if (all) {
      return;
    }
  }
  if constexpr (lanes == 1) {
    throw NumericsError("pore oxygen did not converge");
  } else {
    for (int l = 0; l < lanes; ++l) {
      if (!done[l]) {
        w.oxygen[static_cast<std::size_t>(l)] = std::numeric_limits<double>::quiet_NaN();
      }
    }
  }
}

template <int lanes>
void PoreOxygenBalance<lanes>::rates(const LaneWorkspace<lanes>& w, std::span<const double> x,
                                     std::span<double> dxdt) {
  transport_of(site_, x.data(), arrays_);
  for (std::size_t i = 0; i < dxdt.size(); ++i) {
    dxdt[i] = (arrays_.net[i] - w.oxygen_demand_mol_s[i] * x[i] / (w.oxygen_half[i] + x[i])) /
              w.pore_air_mol[i];
  }
}

template class PoreOxygenBalance<1>;
template class PoreOxygenBalance<run_lanes>;

} // namespace heapcast::models
