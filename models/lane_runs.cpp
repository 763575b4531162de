#include "models/lane_runs.hpp"

#include "engine/errors.hpp"
#include "engine/lane_integrator.hpp"
#include "models/pile_rates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace heapcast::models {

namespace {

constexpr int lanes = run_lanes;

/// What a PileRun reads of its workspace, by cell.
constexpr std::array read_by_cell = {&LaneWorkspace<1>::carbon_kgC,
                                     &LaneWorkspace<1>::dry_kg,
                                     &LaneWorkspace<1>::volume_m3_cell,
                                     &LaneWorkspace<1>::temperature_K,
                                     &LaneWorkspace<1>::liquid_kg,
                                     &LaneWorkspace<1>::moisture,
                                     &LaneWorkspace<1>::free_air_space,
                                     &LaneWorkspace<1>::ph,
                                     &LaneWorkspace<1>::oxygen,
                                     &LaneWorkspace<1>::oxygen_factor,
                                     &LaneWorkspace<1>::moisture_factor,
                                     &LaneWorkspace<1>::nitrogen_factor,
                                     &LaneWorkspace<1>::temperature_factor};
constexpr std::array kept_by_cell = {&LaneWorkspace<lanes>::carbon_kgC,
                                     &LaneWorkspace<lanes>::dry_kg,
                                     &LaneWorkspace<lanes>::volume_m3_cell,
                                     &LaneWorkspace<lanes>::temperature_K,
                                     &LaneWorkspace<lanes>::liquid_kg,
                                     &LaneWorkspace<lanes>::moisture,
                                     &LaneWorkspace<lanes>::free_air_space,
                                     &LaneWorkspace<lanes>::ph,
                                     &LaneWorkspace<lanes>::oxygen,
                                     &LaneWorkspace<lanes>::oxygen_factor,
                                     &LaneWorkspace<lanes>::moisture_factor,
                                     &LaneWorkspace<lanes>::nitrogen_factor,
                                     &LaneWorkspace<lanes>::temperature_factor};
static_assert(read_by_cell.size() == kept_by_cell.size());

void put(std::span<const double> from, int lane, double* to) {
  for (std::size_t i = 0; i < from.size(); ++i) {
    to[i * lanes + static_cast<std::size_t>(lane)] = from[i];
  }
}

void take(const double* from, int lane, std::span<double> to) {
  for (std::size_t i = 0; i < to.size(); ++i) {
    to[i] = from[i * lanes + static_cast<std::size_t>(lane)];
  }
}

/// Up to eight runs and the rates of their piles, as the integrator sees them.
class Batch final : public engine::LaneOdeSystem<lanes> {
public:
  explicit Batch(const PileRun& first)
      : layout_(first.state().layout), mesh_(first.site().mesh), rates_(first.site(), layout_),
        whole_(whole_of(first)) {}

  [[nodiscard]] std::size_t size() const override { return layout_.integrated_size(); }
  [[nodiscard]] const engine::Mesh* stiff_mesh() const override { return &mesh_; }
  void rates(const Times& t_s, std::span<const double> y, std::span<double> dydt) override {
    rates_.rates(t_s, view(y), dydt);
  }
  [[nodiscard]] std::vector<engine::StiffLayout> stiff_layout() const override {
    return rates_.stiff_layout();
  }
  void stiff_blocks(std::span<engine::StiffBlock> blocks) override { rates_.stiff_blocks(blocks); }
  [[nodiscard]] Times drive(std::span<double> slope, std::span<double> bend) override {
    return rates_.drive(slope, bend);
  }
  void error_scale(std::span<const double> y, std::span<double> scale) override {
    rates_.error_scale(view(y), scale);
  }
  void repair(int lane, std::span<double> y) override { rates_.repair(lane, y); }
  void end_step(int lane, double t_s) override { rates_.end_step(lane, t_s); }
  [[nodiscard]] bool jumps_at(int lane, double t_s) const override {
    return in_lane(rates_.site().site, lane)->forcing.precipitation_jumps_at(t_s);
  }
  bool add_jump(int lane, double t_s, std::span<double> dydt) override {
    return rates_.add_jump(lane, t_s, dydt);
  }

  [[nodiscard]] bool fits(const PileSite& site) const { return rates_.site().fits(site); }

  /// A run takes a lane, or something was done to it.
  void load(int lane, PileRun& run, std::vector<double>& y) {
    LaneWorkspace<lanes>& w = rates_.workspace();
    const Workspace& own = run.system().workspace();
    rates_.site().put(lane, run.site());
    put(run.y(), lane, y.data());
    put(run.state().y, lane, whole_.data());
    put(own.flow_size_m, lane, w.flow_size_m.data());
    put(own.particle_factor, lane, w.particle_factor.data());
    put(own.oxygen_before, lane, w.oxygen_before.data());
    in_lane(w.oxygen_step_s, lane) = own.oxygen_step_s;
    in_lane(w.lumps_since_s, lane) = own.lumps_since_s;
    in_lane(w.scale, lane) = own.scale;
    in_lane(w.fan_on, lane) = own.fan_on;
    in_lane(w.surface, lane) = own.surface;
    in_lane(w.wall, lane) = own.wall;
    rates_.start_step(lane, run.time_s());
  }

  /// At the end of an hour: what the run reads.
  void store(int lane, const std::vector<double>& y, PileRun& run) const {
    const LaneWorkspace<lanes>& w = rates_.workspace();
    Workspace& own = run.system().workspace();
    take(y.data(), lane, run.y());
    for (std::size_t k = 0; k < read_by_cell.size(); ++k) {
      take((w.*kept_by_cell.at(k)).data(), lane, own.*read_by_cell.at(k));
    }
    own.oxygen_before = own.oxygen;
    take(w.air_flow_kg_s.data(), lane, own.air_flow_kg_s);
    own.oxygen_step_s = in_lane(w.oxygen_step_s, lane);
    own.t_s = in_lane(w.t_s, lane);
    own.forcing = in_lane(w.forcing, lane);
    own.scale = in_lane(w.scale, lane);
    own.volume_m3 = in_lane(w.volume_m3, lane);
    own.wet_mass_kg = in_lane(w.wet_mass_kg, lane);
    own.load_Pa_m = in_lane(w.load_Pa_m, lane);
    own.snow_kg_m2 = in_lane(w.snow_kg_m2, lane);
  }

private:
  static std::vector<double> whole_of(const PileRun& first) {
    std::vector<double> whole(lanes * first.state().layout.size());
    for (int lane = 0; lane < lanes; ++lane) {
      put(first.state().y, lane, whole.data());
    }
    return whole;
  }
  [[nodiscard]] LaneStateView<lanes> view(std::span<const double> y) const {
    return {layout_, y.data(), whole_.data()};
  }

  engine::FieldLayout layout_;
  engine::Mesh mesh_;
  PileRates<lanes> rates_;
  std::vector<double> whole_; ///< what the held fields are read from
};

/// The runs under way and who comes next.
class SideBySide {
public:
  SideBySide(const std::function<std::optional<LaneRun>()>& next, int most)
      : next_(next), most_(std::clamp(most, 1, lanes)) {}

  void compute() {
    for (int lane = 0; lane < most_; ++lane) {
      next_run(lane);
    }
    while (any_run()) {
      integrator_->attempt();
      for (int lane = 0; lane < most_; ++lane) {
        if (lane_[at(lane)].run && !integrator_->running(lane)) {
          after_steps(lane);
        }
      }
      for (int lane = 0; lane < most_; ++lane) {
        next_run(lane);
      }
    }
  }

private:
  struct Lane {
    LaneRun job;
    std::unique_ptr<PileRun> run;
    long hour = 0, hours = 0;
    long steps_before = 0, rejected_before = 0;
  };

  static std::size_t at(int lane) { return static_cast<std::size_t>(lane); }

  [[nodiscard]] bool any_run() const {
    return std::ranges::any_of(lane_, [](const Lane& lane) { return lane.run != nullptr; });
  }

  /// body(); what it throws of a run's own errors ends the run. False then.
  template <class Body> bool guarded(int lane, const Body& body) {
    std::string reason;
    try {
      body();
      return true;
    } catch (const InputError& error) {
      reason = error.what();
    } catch (const NumericsError& error) {
      reason = error.what();
    }
    retire(lane);
    lane_[at(lane)].job.failed(reason);
    return false;
  }

  /// Gives the lane the next run that can be begun. One of another topology waits, and all after
  /// it, until the others are done.
  void next_run(int lane) {
    Lane& own = lane_[at(lane)];
    while (!own.run) {
      if (!waiting_) {
        waiting_ = next_();
      }
      if (!waiting_) {
        return;
      }
      own.job = *waiting_;
      bool waits = false;
      guarded(lane, [&] {
        auto run = std::make_unique<PileRun>(*own.job.pile);
        waits = batch_ && !batch_->fits(run->site()) && any_run();
        if (!waits) {
          begin(lane, std::move(run));
        }
      });
      if (waits) {
        return;
      }
      waiting_.reset();
    }
  }

  void begin(int lane, std::unique_ptr<PileRun> run) {
    Lane& own = lane_[at(lane)];
    if (!batch_ || !batch_->fits(run->site())) {
      idle_pile_ = own.job.pile;
      idle_ = std::make_unique<PileRun>(*idle_pile_);
      batch_ = std::make_unique<Batch>(*idle_);
      integrator_ =
          std::make_unique<engine::LaneIntegrator<lanes>>(*batch_, PileRun::step_control());
      for (int idle = 0; idle < lanes; ++idle) {
        batch_->load(idle, *idle_, integrator_->y());
      }
    }
    own.run = std::move(run);
    own.hour = 0;
    own.hours = std::lround(std::ceil(own.job.pile->horizon_days * 24.0 - 1e-9));
    own.steps_before = integrator_->steps(lane);
    own.rejected_before = integrator_->rejected(lane);
    begin_hour(lane);
  }

  /// The lane's run is over: what the lane reads of it is replaced.
  void retire(int lane) {
    if (batch_) {
      batch_->load(lane, *idle_, integrator_->y());
      integrator_->stop(lane);
    }
    lane_[at(lane)].run.reset();
  }

  void begin_hour(int lane) {
    constexpr long progress_every_hours = 24;
    Lane& own = lane_[at(lane)];
    const double share = static_cast<double>(own.hour) / static_cast<double>(own.hours);
    if (own.hour == own.hours ||
        (own.hour % progress_every_hours == 0 && own.job.progress && !own.job.progress(share))) {
      own.run->count_steps(integrator_->steps(lane) - own.steps_before,
                           integrator_->rejected(lane) - own.rejected_before);
      ForecastResult result = own.run->finish();
      retire(lane);
      own.job.done(std::move(result));
      return;
    }
    own.run->do_events();
    if (own.run->take_jump()) {
      batch_->load(lane, *own.run, integrator_->y());
      integrator_->restart(lane, own.run->time_s());
    }
    own.run->begin_hour();
    integrator_->run_until(lane, own.run->time_s() + seconds_per_hour);
  }

  /// The lane's hour is over, or its step became too small.
  void after_steps(int lane) {
    Lane& own = lane_[at(lane)];
    guarded(lane, [&] {
      if (integrator_->failed(lane)) {
        throw NumericsError(fmt::format(
            "the time step fell below {} s at hour {:.3f}; the state changes too fast "
            "to follow",
            PileRun::step_control().smallest_step_s, integrator_->time_s(lane) / seconds_per_hour));
      }
      batch_->store(lane, integrator_->y(), *own.run);
      own.run->end_hour();
      ++own.hour;
      begin_hour(lane);
    });
  }

  const std::function<std::optional<LaneRun>()>& next_;
  int most_;
  std::array<Lane, lanes> lane_;
  std::optional<LaneRun> waiting_; ///< taken from `next_`, not begun yet
  /// A lane without a run still goes through the motions, with the numbers of this one.
  std::shared_ptr<const PileDescription> idle_pile_;
  std::unique_ptr<PileRun> idle_;
  std::unique_ptr<Batch> batch_;
  std::unique_ptr<engine::LaneIntegrator<lanes>> integrator_;
};

} // namespace

void run_side_by_side(const std::function<std::optional<LaneRun>()>& next, int most) {
  SideBySide(next, most).compute();
}

} // namespace heapcast::models
