#include "validation/benchmarks/rival.hpp"

#include "engine/errors.hpp"
#include "engine/integrator.hpp"
#include "models/pile_run.hpp"

#include <algorithm>
#include <cmath>
#include <ctime>
#include <exception>
#include <span>

namespace heapcast::benchmarks {

using models::PileSystem;

double thread_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

namespace {

/// What reading the clock costs: a call into the kernel, a fifth of the time of an hour of one
/// cell.
double clock_seconds() {
  static const double each = [] {
    constexpr int readings = 2000;
    const double began_s = thread_seconds();
    double now_s = began_s;
    for (int i = 0; i < readings; ++i) {
      now_s = thread_seconds();
    }
    return (now_s - began_s) / readings;
  }();
  return each;
}

} // namespace

void Rival::set_up(PileSystem& system, std::size_t states) {
  system_ = &system;
  states_ = states;
  cells_ = system.workspace().oxygen.size();
  const auto layout = models::pile_layout(cells_);
  for (std::size_t i = 0; i < cells_; ++i) {
    for (std::size_t f = 0; f < models::integrated_fields; ++f) {
      index_.push_back(layout.field(f) + i);
    }
    if (options_.equations == Equations::full) {
      index_.push_back(states + i);
    }
  }
  per_cell_ = models::integrated_fields + (options_.equations == Equations::full ? 1 : 0);
  for (std::size_t t = 0; t < models::total_count; ++t) {
    index_.push_back(layout.total(t));
  }
  z_.resize(index_.size());
  scale_.resize(index_.size());
  whole_.resize(states + cells_);
  slope_.resize(states + cells_);
}

void Rival::take_scale(const std::vector<double>& y) {
  constexpr double in_no_error_control = 1e30;
  constexpr double oxygen = 1e-4; // mol/mol, of 0.21
  const std::span<const double> allowed = system_->error_scale({y.data(), states_});
  for (std::size_t k = 0; k < index_.size(); ++k) {
    const double s = index_[k] < states_ ? allowed[index_[k]] : oxygen;
    scale_[k] = std::isinf(s) ? in_no_error_control : s;
  }
}

double Rival::stop_after(double t_end_s) const {
  constexpr double hour_s = models::seconds_per_hour;
  constexpr int most_hours = 48;
  double stop_s = t_end_s;
  for (int hour = 0; hour < most_hours && !forcing_->precipitation_jumps_at(stop_s); ++hour) {
    stop_s += hour_s;
  }
  return stop_s;
}

bool Rival::rates(double t_s, const double* z, double* dzdt) {
  ++counts_.calls;
  constexpr long look_every = 64;
  if (counts_.calls % look_every == 0 &&
      counts_.seconds + thread_seconds() - started_s_ > options_.most_seconds) {
    throw TooSlow{};
  }
  for (std::size_t k = 0; k < index_.size(); ++k) {
    whole_[index_[k]] = z[k] * scale_[k];
  }
  try {
    if (options_.equations == Equations::full) {
      system_->rates_with_oxygen(t_s, {whole_.data(), states_}, {whole_.data() + states_, cells_},
                                 {slope_.data(), states_}, {slope_.data() + states_, cells_});
    } else {
      system_->rates(t_s, {whole_.data(), states_}, {slope_.data(), states_});
    }
  } catch (const NumericsError&) {
    return false;
  }
  double sum = 0.0;
  for (std::size_t k = 0; k < index_.size(); ++k) {
    dzdt[k] = slope_[index_[k]] / scale_[k];
    sum += dzdt[k];
  }
  return std::isfinite(sum);
}

void Rival::take(PileSystem& system, std::vector<double>& y, double t_s, double t_end_s) {
  started_s_ = thread_seconds();
  if (system_ == nullptr) {
    set_up(system, y.size());
  }
  const std::vector<double>& oxygen = system.workspace().oxygen_before;
  const bool full = options_.equations == Equations::full;
  std::vector<double> now = y;
  if (full) {
    now.insert(now.end(), oxygen.begin(), oxygen.end());
  }
  if (now != last_ || system.jumps_at(t_s)) {
    take_scale(y);
    for (std::size_t k = 0; k < index_.size(); ++k) {
      z_[k] = now[index_[k]] / scale_[k];
    }
    ++counts_.restarts;
    restart(t_s);
  }
  advance(t_s, t_end_s, options_.stop_hourly ? t_end_s : stop_after(t_end_s));
  if (!rates_are_of_the_end() && !rates(t_end_s, z_.data(), std::vector<double>(size()).data())) {
    throw NumericsError("the rates at the end of an hour are no numbers");
  }
  for (std::size_t k = 0; k < index_.size(); ++k) {
    now[index_[k]] = z_[k] * scale_[k];
  }
  std::copy(now.begin(), now.begin() + static_cast<std::ptrdiff_t>(states_), y.begin());
  system.end_step(t_end_s, y);
  last_ = y;
  if (full) {
    last_.insert(last_.end(), oxygen.begin(), oxygen.end());
  }
  counts_.seconds += thread_seconds() - started_s_ - clock_seconds();
}

namespace {

/// The program's own integrator, with the step control of a forecast.
class HeapcastRival final : public Rival {
public:
  explicit HeapcastRival(const RivalOptions& options) : Rival(options) {}

  void take(PileSystem& system, std::vector<double>& y, double t_s, double t_end_s) override {
    const double began_s = thread_seconds();
    if (!integrator_) {
      system.set_tolerance(options_.factor);
      integrator_ = std::make_unique<engine::Integrator>(system, models::PileRun::step_control());
    }
    if (y != last_) {
      integrator_->restart(t_s);
      ++counts_.restarts;
    }
    integrator_->advance(y, t_s, t_end_s);
    last_ = y;
    counts_.calls = integrator_->rate_calls();
    counts_.steps = integrator_->steps();
    counts_.rejected = integrator_->rejected();
    counts_.seconds += thread_seconds() - began_s - clock_seconds();
  }

private:
  void restart(double /*t_s*/) override {}
  void advance(double /*t_s*/, double /*t_end_s*/, double /*stop_s*/) override {}

  std::unique_ptr<engine::Integrator> integrator_;
  std::vector<double> last_;
};

} // namespace

std::unique_ptr<Rival> make_rival(const std::string& name, const RivalOptions& options) {
  if (name == "heapcast") {
    return std::make_unique<HeapcastRival>(options);
  }
  std::unique_ptr<Rival> rival = make_cvode(name, options);
  if (!rival) {
    rival = make_odeint(name, options);
  }
  if (!rival) {
    throw InputError("--solver", "there is no solver " + name);
  }
  return rival;
}

} // namespace heapcast::benchmarks
