#pragma once

#include <string>
#include <vector>

namespace heapcast::benchmarks {

/// Runs a Python script inside this process, so that it can call the functions with C linkage in
/// python_bridge.cpp by ctypes.CDLL(None): SciPy then gets compiled rates. The libraries of the
/// program are not built to be loaded from outside. Python is looked for at run time and needs no
/// headers. Returns the interpreter's exit code, or 77 where there is no Python to load.
[[nodiscard]] int run_python(const std::vector<std::string>& arguments);

} // namespace heapcast::benchmarks
