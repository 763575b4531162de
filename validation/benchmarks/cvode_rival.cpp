// SUNDIALS CVODE with each of its ways to solve for a step.

#include "validation/benchmarks/rival.hpp"

#include <cvode/cvode.h>
#include <cvode/cvode_bandpre.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <stdexcept>

namespace heapcast::benchmarks {
namespace {

enum class Way { dense, band, gmres, gmres_block, gmres_band, fixed };

void check(int flag, const char* what) {
  if (flag < 0) {
    throw std::runtime_error(std::string(what) + " gave " + std::to_string(flag));
  }
}

class CvodeRival final : public Rival {
public:
  CvodeRival(int method, Way way, std::size_t reach_cells, const RivalOptions& options)
      : Rival(options), method_(method), way_(way), reach_cells_(reach_cells) {
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

  void create(double t_s) {
    const auto n = static_cast<sunindextype>(size());
    y_ = N_VNew_Serial(n, context_);
    memory_ = CVodeCreate(method_, context_);
    std::copy(z_.begin(), z_.end(), N_VGetArrayPointer(y_));
    check(CVodeInit(memory_, &CvodeRival::right_hand_side, t_s, y_), "CVodeInit");
    check(CVodeSetUserData(memory_, this), "CVodeSetUserData");
    check(CVodeSetMaxNumSteps(memory_, 10'000'000), "CVodeSetMaxNumSteps");
    check(CVodeSetMaxErrTestFails(memory_, 20), "CVodeSetMaxErrTestFails");
    check(CVodeSetMaxConvFails(memory_, 50), "CVodeSetMaxConvFails");
    check(CVodeSStolerances(memory_, 0.0, options_.factor), "CVodeSStolerances");
    const auto block = static_cast<sunindextype>(per_cell());
    const auto reach = std::min(block * static_cast<sunindextype>(reach_cells_ + 1), n - 1);
    switch (way_) {
    case Way::dense:
      matrix_ = SUNDenseMatrix(n, n, context_);
      linear_ = SUNLinSol_Dense(y_, matrix_, context_);
      break;
    case Way::band:
      matrix_ = SUNBandMatrix(n, reach, reach, context_);
      linear_ = SUNLinSol_Band(y_, matrix_, context_);
      break;
    case Way::gmres:
      linear_ = SUNLinSol_SPGMR(y_, SUN_PREC_NONE, krylov_vectors, context_);
      break;
    case Way::gmres_block:
    case Way::gmres_band:
      linear_ = SUNLinSol_SPGMR(y_, SUN_PREC_LEFT, krylov_vectors, context_);
      break;
    case Way::fixed:
      nonlinear_ = SUNNonlinSol_FixedPoint(y_, accelerated_by, context_);
      check(CVodeSetNonlinearSolver(memory_, nonlinear_), "CVodeSetNonlinearSolver");
      return;
    }
    check(CVodeSetLinearSolver(memory_, linear_, matrix_), "CVodeSetLinearSolver");
    if (way_ == Way::gmres_block || way_ == Way::gmres_band) {
      const sunindextype half = way_ == Way::gmres_block ? std::min(block, n - 1) : reach;
      check(CVBandPrecInit(memory_, n, half, half), "CVBandPrecInit");
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
    } else if (way_ == Way::gmres_block || way_ == Way::gmres_band) {
      CVodeGetNumPrecEvals(memory_, &now.jacobians);
    }
    counts_.steps += now.steps - seen_.steps;
    counts_.rejected += now.rejected - seen_.rejected;
    counts_.jacobians += now.jacobians - seen_.jacobians;
    seen_ = now;
  }

  static constexpr int krylov_vectors = 20;
  static constexpr int accelerated_by = 2; // Anderson vectors

  int method_;
  Way way_;
  std::size_t reach_cells_; ///< cells between the farthest neighbours
  SUNContext context_ = nullptr;
  void* memory_ = nullptr;
  N_Vector y_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver linear_ = nullptr;
  SUNNonlinearSolver nonlinear_ = nullptr;
  Counts seen_;
  bool too_slow_ = false;
};

} // namespace

std::unique_ptr<Rival> make_cvode(const std::string& name, const RivalOptions& options) {
  for (const auto& [prefix, method] :
       {std::pair{"cvode-bdf-", CV_BDF}, {"cvode-adams-", CV_ADAMS}}) {
    for (const auto& [suffix, way] : {std::pair{"dense", Way::dense},
                                      {"band", Way::band},
                                      {"gmres", Way::gmres},
                                      {"gmres-block", Way::gmres_block},
                                      {"gmres-band", Way::gmres_band},
                                      {"fixed", Way::fixed}}) {
      if (name == std::string(prefix) + suffix) {
        return std::make_unique<CvodeRival>(method, way, options.reach_cells, options);
      }
    }
  }
  return nullptr;
}

} // namespace heapcast::benchmarks
