#pragma once

#include <nvector/nvector_serial.h>

namespace heapcast::benchmarks {

/// A serial vector of SUNDIALS whose arithmetic is compiled here: Debian 12 builds the library's
/// own without optimisation, which would make CVODE pay two to three times for a step.
[[nodiscard]] N_Vector new_optimised_vector(sunindextype size, SUNContext context);

} // namespace heapcast::benchmarks
