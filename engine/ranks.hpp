#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace heapcast::engine {

/// The processes of one computation that were started together, on one machine or many, by
/// `mpirun` or a batch system. A process started by itself is rank 0 of 1, and MPI is left alone.
///
/// Without MPI in the build, throws InputError when several were started together: they would all
/// do the same. One object at a time; its threads may share it.
class Ranks {
public:
  Ranks();
  Ranks(const Ranks&) = delete;
  Ranks& operator=(const Ranks&) = delete;
  Ranks(Ranks&&) = delete;
  Ranks& operator=(Ranks&&) = delete;
  /// Waits for the other ranks.
  ~Ranks();

  [[nodiscard]] int rank() const { return rank_; }
  [[nodiscard]] int size() const { return size_; }

  struct Message {
    int from = 0;
    std::string bytes;
  };
  void send(int to, std::string_view bytes);
  /// A message that has come, from any rank; those of one rank in the order they were sent.
  [[nodiscard]] std::optional<Message> poll();
  /// Waits for one.
  [[nodiscard]] Message receive();

private:
  struct Library;
  std::unique_ptr<Library> library_; ///< nullptr for one process
  int rank_ = 0, size_ = 1;
};

} // namespace heapcast::engine
