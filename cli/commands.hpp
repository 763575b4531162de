#pragma once

namespace heapcast::cli {

/// The program: reads the arguments, does the command and returns the exit code.
///
/// 0 done; 2 the user can fix it; 3 the computation failed; 4 a file could not be read or written;
/// 128 plus the signal's number when ended by Ctrl-C (130) or SIGTERM (143), with what was computed
/// so far written. Results go to standard output, everything else to standard error.
[[nodiscard]] int run_program(int argc, const char* const* argv);

} // namespace heapcast::cli
