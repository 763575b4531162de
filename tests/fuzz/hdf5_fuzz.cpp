// Bytes of a results file without its check sum, as HDF5 itself meets them. HDF5 1.10 is known to
// write outside its memory with such files, so this target finds faults of the library; it is run
// only when it is named. results_reader is the target of the program's own code.

#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "tests/fuzz/fuzz.hpp"

#include <string>

#include <sys/mman.h>
#include <unistd.h>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const int file = memfd_create("results", 0);
  if (ftruncate(file, 0) != 0 || pwrite(file, data, size, 0) != static_cast<ssize_t>(size)) {
    return 0;
  }
  try {
    (void)heapcast::engine::read_results_file("/proc/self/fd/" + std::to_string(file));
  } catch (const heapcast::FileError& error) {
    heapcast::tests::require(*error.what() != '\0', "a fault says what is wrong");
  }
  return 0;
}
