// Bytes that HDF5 itself meets, under a check sum that is made for them: what nobody does by
// chance. HDF5 1.10 is known to write outside its memory with such files, so this target finds
// faults of the library; it is run only when it is named. results_reader is the target of the
// program's own code.

#include "engine/checksum.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "tests/fuzz/fuzz.hpp"

#include <string>

#include <fmt/format.h>
#include <sys/mman.h>
#include <unistd.h>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const int file = memfd_create("results", 0);
  std::string bytes(reinterpret_cast<const char*>(data), size); // NOLINT: libFuzzer gives bytes
  bytes += fmt::format("\nfnv1a64 {:016x}\n", heapcast::engine::fnv1a64(bytes));
  if (ftruncate(file, 0) != 0 ||
      pwrite(file, bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) {
    return 0;
  }
  try {
    (void)heapcast::engine::read_results_file("/proc/self/fd/" + std::to_string(file));
  } catch (const heapcast::FileError& error) {
    heapcast::tests::require(*error.what() != '\0', "a fault says what is wrong");
  }
  return 0;
}
