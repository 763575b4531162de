#include "engine/ranks.hpp"

#include "engine/errors.hpp"

#include <chrono>
#include <cstdlib>
#include <mutex>
#include <thread>

#ifdef HEAPCAST_MPI
// The C++ binding is long gone from the standard, and its header is full of warnings.
#define OMPI_SKIP_MPICXX 1
#define MPICH_SKIP_MPICXX 1
#include <mpi.h>
#endif

namespace heapcast::engine {
namespace {

int number_in(const char* variable) {
  const char* text = std::getenv(variable);
  return text == nullptr ? 0 : std::atoi(text);
}

/// How many were started together, as the starter's environment says: Open MPI, MPICH and Intel,
/// Slurm with PMIx. 0 when there was no starter.
int started_together() {
  if (std::getenv("OMPI_COMM_WORLD_SIZE") != nullptr) {
    return number_in("OMPI_COMM_WORLD_SIZE");
  }
  if (std::getenv("PMI_SIZE") != nullptr) {
    return number_in("PMI_SIZE");
  }
  return std::getenv("PMIX_RANK") != nullptr ? number_in("SLURM_NTASKS") : 0;
}

} // namespace

#ifdef HEAPCAST_MPI

struct Ranks::Library {
  std::mutex mutex; ///< one call at a time
};

Ranks::Ranks() {
  if (started_together() < 2) {
    return;
  }
  int provided = 0;
  MPI_Init_thread(nullptr, nullptr, MPI_THREAD_SERIALIZED, &provided);
  if (provided < MPI_THREAD_SERIALIZED) {
    MPI_Finalize();
    throw InputError("MPI", "cannot be used by several threads",
                     "use an MPI that provides MPI_THREAD_SERIALIZED, as Open MPI does");
  }
  library_ = std::make_unique<Library>();
  MPI_Comm_rank(MPI_COMM_WORLD, &rank_);
  MPI_Comm_size(MPI_COMM_WORLD, &size_);
}

Ranks::~Ranks() {
  if (library_) {
    MPI_Finalize();
  }
}

void Ranks::send(int to, std::string_view bytes) {
  const std::scoped_lock lock(library_->mutex);
  MPI_Send(bytes.data(), static_cast<int>(bytes.size()), MPI_BYTE, to, 0, MPI_COMM_WORLD);
}

std::optional<Ranks::Message> Ranks::poll() {
  const std::scoped_lock lock(library_->mutex);
  int there = 0;
  MPI_Status status;
  MPI_Iprobe(MPI_ANY_SOURCE, 0, MPI_COMM_WORLD, &there, &status);
  if (there == 0) {
    return std::nullopt;
  }
  int count = 0;
  MPI_Get_count(&status, MPI_BYTE, &count);
  Message message{status.MPI_SOURCE, std::string(static_cast<std::size_t>(count), '\0')};
  MPI_Recv(message.bytes.data(), count, MPI_BYTE, message.from, 0, MPI_COMM_WORLD,
           MPI_STATUS_IGNORE);
  return message;
}

#else

struct Ranks::Library {};

Ranks::Ranks() {
  if (started_together() > 1) {
    throw InputError("this program", "is built without MPI and cannot share work between ranks",
                     "build it with cmake -D HEAPCAST_MPI=ON, or use --shard");
  }
}

Ranks::~Ranks() = default;

void Ranks::send(int /*to*/, std::string_view /*bytes*/) {}

std::optional<Ranks::Message> Ranks::poll() {
  return std::nullopt;
}

#endif

Ranks::Message Ranks::receive() {
  // MPI's own waiting takes a whole core, which runs are better for.
  for (;;) {
    if (auto message = poll()) {
      return *std::move(message);
    }
    std::this_thread::sleep_for(std::chrono::microseconds(200));
  }
}

} // namespace heapcast::engine
