#include "engine/run_pool.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace heapcast::engine {

std::size_t pool_threads(unsigned threads) {
  return threads > 0 ? threads : std::max(1U, std::thread::hardware_concurrency());
}

void run_pool(std::size_t jobs, unsigned threads, const std::function<void(std::size_t)>& job) {
  std::atomic<std::size_t> next{0};
  std::atomic<bool> stop{false};
  std::mutex failure;
  std::size_t failed = jobs; // the lowest index that threw
  std::exception_ptr error;

  // Indices are handed out in order, so all below one that throws have been taken and will show
  // their own exception.
  const auto work = [&] {
    while (!stop.load()) {
      const std::size_t i = next.fetch_add(1);
      if (i >= jobs) {
        return;
      }
      try {
        job(i);
      } catch (...) {
        stop.store(true);
        const std::scoped_lock lock(failure);
        if (i < failed) {
          failed = i;
          error = std::current_exception();
        }
      }
    }
  };

  const std::size_t count = std::min(pool_threads(threads), jobs);
  if (count <= 1) {
    work();
  } else {
    std::vector<std::jthread> pool;
    pool.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
      pool.emplace_back(work);
    }
  } // joined
  if (error) {
    std::rethrow_exception(error);
  }
}

} // namespace heapcast::engine
