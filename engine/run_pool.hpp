#pragma once

#include <cstddef>
#include <functional>

namespace heapcast::engine {

/// Does job(0), job(1), … job(jobs - 1), each once, on `threads` threads; returns when all are
/// done.
///
/// Jobs are handed out in order as threads become free. They must not share anything that one of
/// them writes: then each job's result is the same for any number of threads, in any order.
///
/// @param threads 0: as many as the machine has. One thread: the caller's own.
/// Throws what a job threw: no further job is handed out, those under way are finished, and of
/// several exceptions that of the lowest index is thrown. It is the same for any number of threads.
void run_pool(std::size_t jobs, unsigned threads, const std::function<void(std::size_t)>& job);

/// How many threads `threads` stands for: itself, or as many as the machine has for 0.
[[nodiscard]] std::size_t pool_threads(unsigned threads);

} // namespace heapcast::engine
