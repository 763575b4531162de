#pragma once

#include <sundials/sundials_linearsolver.h>

namespace heapcast::benchmarks {

/// Direct solver of SUNDIALS by LAPACK, for a dense or a banded matrix (one made with room for the
/// factors: upper storage = both bandwidths). SUNDIALS has such solvers itself; Debian 12 builds it
/// without, and its own are not optimised.
[[nodiscard]] SUNLinearSolver new_lapack_solver(SUNMatrix matrix, SUNContext context);

} // namespace heapcast::benchmarks
