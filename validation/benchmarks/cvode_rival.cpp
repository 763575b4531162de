// SUNDIALS CVODE with each of its ways to solve for a step. Vectors, factors and the preconditioner
// are compiled here or LAPACK's: Debian 12 builds SUNDIALS without optimisation.

#include "validation/benchmarks/lapack_solver.hpp"
#include "validation/benchmarks/optimised_vector.hpp"
#include "validation/benchmarks/rival.hpp"

#include <Eigen/LU>
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace heapcast::benchmarks {
namespace {

enum class Way { dense, band, gmres, gmres_block, fixed };

void check(int flag, const char* what) {
  if (flag < 0) {
    throw std::runtime_error(std::string(what) + " gave " + std::to_string(flag));
  }
}

class CvodeRival final : public Rival {
public:
  CvodeRival(int method, Way way, const RivalOptions& options)
      : Rival(options), method_(method), way_(way) {
    check(SUNContext_Create(nullptr, &context_), "SUNContext_Create");
  }
  ~CvodeRival() override {
    CVodeFree(&memory_);
    SUNLinSolFree(linear_);
    SUNNonlinSolFree(nonlinear_);
    SUNMatDestroy(matrix_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  CvodeRival(const CvodeRival&) = delete;
  CvodeRival& operator=(const CvodeRival&) = delete;

private:
  static int right_hand_side(double t_s, N_Vector y, N_Vector dydt, void* self) {
    auto& rival = *static_cast<CvodeRival*>(self);
    try {
      constexpr int smaller_step = 1;
      return rival.rates(t_s, N_VGetArrayPointer(y), N_VGetArrayPointer(dydt)) ? 0 : smaller_step;
    } catch (const TooSlow&) { // no exception may pass through C
      rival.too_slow_ = true;
      return -1;
    }
  }

  /// Cells of one colour are no neighbours: their blocks are found together.
  void color_cells() {
    const engine::Mesh& mesh = *options_.mesh;
    std::vector<std::vector<std::size_t>> beside(cells());
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      if (mesh.cell_b[f] >= 0) {
        const auto a = static_cast<std::size_t>(mesh.cell_a[f]);
        const auto b = static_cast<std::size_t>(mesh.cell_b[f]);
        beside[a].push_back(b);
        beside[b].push_back(a);
      }
    }
    color_.assign(cells(), -1);
    for (std::size_t i = 0; i < cells(); ++i) {
      int color = 0;
      const auto taken = [&](std::size_t j) { return color_[j] == color; };
      while (std::any_of(beside[i].begin(), beside[i].end(), taken)) {
        ++color;
      }
      color_[i] = color;
      colors_ = std::max(colors_, color + 1);
    }
  }

  /// I - gamma J, the block of each cell with itself, by differences; J is kept while it serves.
  static int set_up_blocks(double t_s, N_Vector y, N_Vector dydt, int jacobian_ok, int* is_new,
                           double gamma, void* self) {
    auto& rival = *static_cast<CvodeRival*>(self);
    *is_new = jacobian_ok == 0 ? 1 : 0;
    if (jacobian_ok == 0) {
      const int flag = rival.find_blocks(t_s, N_VGetArrayPointer(y), N_VGetArrayPointer(dydt));
      if (flag != 0) {
        return flag;
      }
    }
    const auto b = static_cast<Eigen::Index>(rival.per_cell());
    for (std::size_t i = 0; i < rival.cells(); ++i) {
      rival.factors_[i].compute(Eigen::MatrixXd::Identity(b, b) - gamma * rival.jacobian_[i]);
    }
    return 0;
  }

  int find_blocks(double t_s, const double* y, const double* dydt) {
    const std::size_t b = per_cell();
    std::vector<double> moved(y, y + size());
    std::vector<double> slope(size());
    const auto step = [&](std::size_t k) { return std::max(1e-7 * std::abs(y[k]), 1e-3); };
    try {
      for (int color = 0; color < colors_; ++color) {
        for (std::size_t f = 0; f < b; ++f) {
          for (std::size_t i = 0; i < cells(); ++i) {
            if (color_[i] == color) {
              moved[i * b + f] += step(i * b + f);
            }
          }
          if (!rates(t_s, moved.data(), slope.data())) {
            return 1;
          }
          for (std::size_t i = 0; i < cells(); ++i) {
            if (color_[i] == color) {
              for (std::size_t row = 0; row < b; ++row) {
                jacobian_[i](static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(f)) =
                    (slope[i * b + row] - dydt[i * b + row]) / step(i * b + f);
              }
              moved[i * b + f] = y[i * b + f];
            }
          }
        }
      }
    } catch (const TooSlow&) {
      too_slow_ = true;
      return -1;
    }
    return 0;
  }

  static int solve_blocks(double /*t_s*/, N_Vector /*y*/, N_Vector /*dydt*/, N_Vector r, N_Vector z,
                          double /*gamma*/, double /*tolerance*/, int /*side*/, void* self) {
    auto& rival = *static_cast<CvodeRival*>(self);
    const auto b = static_cast<Eigen::Index>(rival.per_cell());
    std::copy_n(N_VGetArrayPointer(r), rival.size(), N_VGetArrayPointer(z));
    for (std::size_t i = 0; i < rival.cells(); ++i) {
      Eigen::Map<Eigen::VectorXd> part(N_VGetArrayPointer(z) + i * rival.per_cell(), b);
      part = rival.factors_[i].solve(part);
    }
    return 0;
  }

  void create(double t_s) {
    const auto n = static_cast<sunindextype>(size());
    y_ = new_optimised_vector(n, context_);
    memory_ = CVodeCreate(method_, context_);
    std::copy(z_.begin(), z_.end(), N_VGetArrayPointer(y_));
    check(CVodeInit(memory_, &CvodeRival::right_hand_side, t_s, y_), "CVodeInit");
    check(CVodeSetUserData(memory_, this), "CVodeSetUserData");
    check(CVodeSetMaxNumSteps(memory_, 10'000'000), "CVodeSetMaxNumSteps");
    check(CVodeSetMaxErrTestFails(memory_, 20), "CVodeSetMaxErrTestFails");
    check(CVodeSetMaxConvFails(memory_, 50), "CVodeSetMaxConvFails");
    check(CVodeSStolerances(memory_, 0.0, options_.factor), "CVodeSStolerances");
    const auto block = static_cast<sunindextype>(per_cell());
    const auto reach = std::min(block * static_cast<sunindextype>(reach_cells() + 1), n - 1);
    switch (way_) {
    case Way::dense:
      matrix_ = SUNDenseMatrix(n, n, context_);
      linear_ = new_lapack_solver(matrix_, context_);
      break;
    case Way::band:
      matrix_ = SUNBandMatrixStorage(n, reach, reach, 2 * reach, context_);
      linear_ = new_lapack_solver(matrix_, context_);
      break;
    case Way::gmres:
      linear_ = SUNLinSol_SPGMR(y_, SUN_PREC_NONE, krylov_vectors, context_);
      break;
    case Way::gmres_block:
      linear_ = SUNLinSol_SPGMR(y_, SUN_PREC_LEFT, krylov_vectors, context_);
      break;
    case Way::fixed:
      nonlinear_ = SUNNonlinSol_FixedPoint(y_, accelerated_by, context_);
      check(CVodeSetNonlinearSolver(memory_, nonlinear_), "CVodeSetNonlinearSolver");
      return;
    }
    check(CVodeSetLinearSolver(memory_, linear_, matrix_), "CVodeSetLinearSolver");
    if (way_ == Way::gmres_block) {
      check(CVodeSetPreconditioner(memory_, &CvodeRival::set_up_blocks, &CvodeRival::solve_blocks),
            "CVodeSetPreconditioner");
      color_cells();
      const auto b = static_cast<Eigen::Index>(per_cell());
      jacobian_.assign(cells(), Eigen::MatrixXd::Zero(b, b));
      factors_.resize(cells());
    }
  }

  void restart(double t_s) override {
    if (memory_ == nullptr) {
      create(t_s);
      return;
    }
    collect();
    std::copy(z_.begin(), z_.end(), N_VGetArrayPointer(y_));
    check(CVodeReInit(memory_, t_s, y_), "CVodeReInit");
    seen_ = {};
  }

  void advance(double /*t_s*/, double t_end_s, double stop_s) override {
    check(CVodeSetStopTime(memory_, stop_s), "CVodeSetStopTime");
    double reached_s = 0.0;
    const int flag = CVode(memory_, t_end_s, y_, &reached_s, CV_NORMAL);
    if (too_slow_) {
      throw TooSlow{};
    }
    check(flag, "CVode");
    const double* y = N_VGetArrayPointer(y_);
    std::copy(y, y + size(), z_.begin());
    collect();
  }

  /// CVODE counts from its last start.
  void collect() {
    Counts now;
    long errors = 0;
    long nonlinear = 0;
    CVodeGetNumSteps(memory_, &now.steps);
    CVodeGetNumErrTestFails(memory_, &errors);
    CVodeGetNumStepSolveFails(memory_, &nonlinear);
    now.rejected = errors + nonlinear;
    if (way_ == Way::dense || way_ == Way::band) {
      CVodeGetNumJacEvals(memory_, &now.jacobians);
    } else if (way_ == Way::gmres_block) {
      CVodeGetNumPrecEvals(memory_, &now.jacobians);
    }
    counts_.steps += now.steps - seen_.steps;
    counts_.rejected += now.rejected - seen_.rejected;
    counts_.jacobians += now.jacobians - seen_.jacobians;
    seen_ = now;
  }

  /// Largest difference of two neighbours' numbers.
  [[nodiscard]] std::size_t reach_cells() const {
    const engine::Mesh& mesh = *options_.mesh;
    std::size_t reach = 0;
    for (std::size_t f = 0; f < mesh.faces(); ++f) {
      if (mesh.cell_b[f] >= 0) {
        reach =
            std::max(reach, static_cast<std::size_t>(std::abs(mesh.cell_a[f] - mesh.cell_b[f])));
      }
    }
    return reach;
  }

  static constexpr int krylov_vectors = 20;
  static constexpr int accelerated_by = 2; // Anderson vectors

  int method_;
  Way way_;
  SUNContext context_ = nullptr;
  void* memory_ = nullptr;
  N_Vector y_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver linear_ = nullptr;
  SUNNonlinearSolver nonlinear_ = nullptr;
  Counts seen_;
  bool too_slow_ = false;
  std::vector<int> color_; ///< by cell
  int colors_ = 0;
  std::vector<Eigen::MatrixXd> jacobian_; ///< of each cell with itself
  std::vector<Eigen::PartialPivLU<Eigen::MatrixXd>> factors_;
};

} // namespace

std::unique_ptr<Rival> make_cvode(const std::string& name, const RivalOptions& options) {
  for (const auto& [prefix, method] :
       {std::pair{"cvode-bdf-", CV_BDF}, {"cvode-adams-", CV_ADAMS}}) {
    for (const auto& [suffix, way] : {std::pair{"dense", Way::dense},
                                      {"band", Way::band},
                                      {"gmres", Way::gmres},
                                      {"gmres-block", Way::gmres_block},
                                      {"fixed", Way::fixed}}) {
      if (name == std::string(prefix) + suffix) {
        return std::make_unique<CvodeRival>(method, way, options);
      }
    }
  }
  return nullptr;
}

} // namespace heapcast::benchmarks
