#include "validation/benchmarks/lapack_solver.hpp"

#include <nvector/nvector_serial.h>
#include <sunmatrix/sunmatrix_band.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <algorithm>
#include <vector>

// LAPACK's Fortran routines; it brings no header of its own.
extern "C" {
void dgetrf_(const int* m, const int* n, double* a, const int* lda, int* pivots, int* info);
void dgetrs_(const char* trans, const int* n, const int* columns, const double* a, const int* lda,
             const int* pivots, double* b, const int* ldb, int* info, std::size_t trans_length);
void dgbtrf_(const int* m, const int* n, const int* lower, const int* upper, double* a,
             const int* lda, int* pivots, int* info);
void dgbtrs_(const char* trans, const int* n, const int* lower, const int* upper,
             const int* columns, const double* a, const int* lda, const int* pivots, double* b,
             const int* ldb, int* info, std::size_t trans_length);
}

namespace heapcast::benchmarks {
namespace {

struct Content {
  std::vector<int> pivots;
};

Content& content(SUNLinearSolver s) {
  return *static_cast<Content*>(s->content);
}

SUNLinearSolver_Type type(SUNLinearSolver /*s*/) {
  return SUNLINEARSOLVER_DIRECT;
}

int setup(SUNLinearSolver s, SUNMatrix a) {
  int* pivots = content(s).pivots.data();
  int info = 0;
  if (SUNMatGetID(a) == SUNMATRIX_DENSE) {
    const int n = static_cast<int>(SUNDenseMatrix_Rows(a));
    dgetrf_(&n, &n, SUNDenseMatrix_Data(a), &n, pivots, &info);
  } else {
    const int n = static_cast<int>(SUNBandMatrix_Columns(a));
    const int lower = static_cast<int>(SUNBandMatrix_LowerBandwidth(a));
    const int upper = static_cast<int>(SUNBandMatrix_UpperBandwidth(a));
    const int lda = static_cast<int>(SUNBandMatrix_LDim(a));
    dgbtrf_(&n, &n, &lower, &upper, SUNBandMatrix_Data(a), &lda, pivots, &info);
  }
  return info; // > 0: singular, and CVODE takes a smaller step
}

int solve(SUNLinearSolver s, SUNMatrix a, N_Vector x, N_Vector b, double /*tolerance*/) {
  const int* pivots = content(s).pivots.data();
  const int one = 1;
  int info = 0;
  std::copy_n(NV_DATA_S(b), NV_LENGTH_S(b), NV_DATA_S(x));
  if (SUNMatGetID(a) == SUNMATRIX_DENSE) {
    const int n = static_cast<int>(SUNDenseMatrix_Rows(a));
    dgetrs_("N", &n, &one, SUNDenseMatrix_Data(a), &n, pivots, NV_DATA_S(x), &n, &info, 1);
  } else {
    const int n = static_cast<int>(SUNBandMatrix_Columns(a));
    const int lower = static_cast<int>(SUNBandMatrix_LowerBandwidth(a));
    const int upper = static_cast<int>(SUNBandMatrix_UpperBandwidth(a));
    const int lda = static_cast<int>(SUNBandMatrix_LDim(a));
    dgbtrs_("N", &n, &lower, &upper, &one, SUNBandMatrix_Data(a), &lda, pivots, NV_DATA_S(x), &n,
            &info, 1);
  }
  return info;
}

int release(SUNLinearSolver s) {
  delete static_cast<Content*>(s->content);
  s->content = nullptr;
  SUNLinSolFreeEmpty(s);
  return 0;
}

} // namespace

SUNLinearSolver new_lapack_solver(SUNMatrix matrix, SUNContext context) {
  const sunindextype n = SUNMatGetID(matrix) == SUNMATRIX_DENSE ? SUNDenseMatrix_Rows(matrix)
                                                                : SUNBandMatrix_Columns(matrix);
  SUNLinearSolver s = SUNLinSolNewEmpty(context);
  s->content = new Content{std::vector<int>(static_cast<std::size_t>(n))};
  s->ops->gettype = &type;
  s->ops->setup = &setup;
  s->ops->solve = &solve;
  s->ops->free = &release;
  return s;
}

} // namespace heapcast::benchmarks
