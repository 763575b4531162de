#pragma once

#include "models/pile_system.hpp"

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

namespace heapcast::benchmarks {

/// The two systems that solvers are given. Both have the same processes, mesh, weather and events.
enum class Equations {
  full,     ///< pore oxygen is one more differential equation a cell
  algebraic ///< pore oxygen is steady, solved for inside each call of the rates
};

/// Process time of this thread, s.
[[nodiscard]] double thread_seconds();

/// What a solver did.
struct Counts {
  long calls = 0;     ///< of the rates, those for Jacobians and preconditioners too
  long steps = 0;     ///< accepted
  long rejected = 0;  ///< by error or by a nonlinear solver that did not converge
  long jacobians = 0; ///< or preconditioner set-ups
  long restarts = 0;
  double seconds = 0.0; ///< process time in the solver and the rates, without reading the clock
};

/// Thrown inside when a run took longer than it may.
struct TooSlow {};

struct RivalOptions {
  Equations equations = Equations::full;
  /// Error tolerance in units of what a forecast allows per step (PileSystem::error_scale at 1).
  double factor = 1.0;
  double most_seconds = 1e9;
  /// Whether steps end on the hour, as a forecast's; else only where rain sets in or stops, and a
  /// solver that can interpolate does.
  bool stop_hourly = false;
  const engine::Mesh* mesh = nullptr; ///< for who wants to know what is coupled
};

/// A solver that takes the hours of a PileRun. It sees the state in cells: all of cell 0, all of
/// cell 1, …, then the totals of the pile, which makes a banded Jacobian possible; each entry in
/// units of its error scale, so that one absolute tolerance fits all. Totals, which feed nothing
/// back, have a scale of 1e30: they are in no one's error control, as in a forecast.
class Rival {
public:
  explicit Rival(const RivalOptions& options) : options_(options) {}
  virtual ~Rival() = default;
  Rival(const Rival&) = delete;
  Rival& operator=(const Rival&) = delete;

  /// The weather, to see when rain sets in: there the rates jump.
  void set_forcing(const models::ForcingSeries& forcing) { forcing_ = &forcing; }

  /// From t to t_end; for PileRun::advance_hour.
  virtual void take(models::PileSystem& system, std::vector<double>& y, double t_s, double t_end_s);

  [[nodiscard]] const Counts& counts() const { return counts_; }

protected:
  /// Starts at `z` anew: the beginning, an event or a jump of the rates.
  virtual void restart(double t_s) = 0;
  /// Takes `z` to t_end. A solver that interpolates may step past it, but not past `stop`.
  virtual void advance(double t_s, double t_end_s, double stop_s) = 0;
  /// Whether the last call of the rates was at what `advance` left.
  [[nodiscard]] virtual bool rates_are_of_the_end() const { return false; }

  [[nodiscard]] std::size_t size() const { return index_.size(); }
  [[nodiscard]] std::size_t per_cell() const { return per_cell_; }
  [[nodiscard]] std::size_t cells() const { return cells_; }
  /// dz/dt; false when the state is impossible. Throws TooSlow.
  bool rates(double t_s, const double* z, double* dzdt);

  std::vector<double> z_;
  Counts counts_;
  RivalOptions options_;

private:
  void set_up(models::PileSystem& system, std::size_t states);
  void take_scale(const std::vector<double>& y);
  [[nodiscard]] double stop_after(double t_end_s) const;

  models::PileSystem* system_ = nullptr;
  const models::ForcingSeries* forcing_ = nullptr;
  std::size_t states_ = 0, cells_ = 0, per_cell_ = 0;
  std::vector<std::size_t> index_;            ///< place in (y, oxygen) of each entry of z
  std::vector<double> scale_, whole_, slope_; ///< scale by z; the others by (y, oxygen)
  std::vector<double> last_;                  ///< (y, oxygen) as the last hour left it
  double started_s_ = 0.0;
};

/// heapcast; cvode-{bdf,adams}-{dense,band,gmres,gmres-block,fixed}; odeint-{dopri5,
/// cash_karp54,fehlberg78,bulirsch_stoer,rosenbrock4}. Throws InputError for another name.
[[nodiscard]] std::unique_ptr<Rival> make_rival(const std::string& name,
                                                const RivalOptions& options);
/// Null for a name that is not theirs.
[[nodiscard]] std::unique_ptr<Rival> make_cvode(const std::string& name,
                                                const RivalOptions& options);
[[nodiscard]] std::unique_ptr<Rival> make_odeint(const std::string& name,
                                                 const RivalOptions& options);

} // namespace heapcast::benchmarks
