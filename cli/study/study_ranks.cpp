#include "cli/study/study_ranks.hpp"

#include "engine/checksum.hpp"
#include "engine/errors.hpp"

#include <atomic>
#include <deque>
#include <exception>
#include <limits>
#include <mutex>
#include <utility>

#include <nlohmann/json.hpp>

namespace heapcast::cli {

namespace {

using nlohmann::json;

// Messages to rank 0: what is wanted or said; to the others: a list of runs.
constexpr std::string_view wants_runs = "next";
constexpr std::string_view has_made = "made";
constexpr std::string_view is_broken = "broken";
constexpr std::string_view is_gone = "gone";

std::string to_bytes(const json& value) {
  std::string bytes;
  json::to_cbor(value, bytes);
  return bytes;
}

json binary(std::string_view bytes) {
  return json::binary({bytes.begin(), bytes.end()});
}

std::string text_of(const json& value) {
  const auto& bytes = value.get_binary();
  return {bytes.begin(), bytes.end()};
}

} // namespace

RunServer::~RunServer() {
  try {
    while (!all_gone()) {
      const engine::Ranks::Message message = ranks_.receive();
      const std::string what = json::from_cbor(message.bytes).value("what", "");
      if (what == wants_runs) {
        ranks_.send(message.from, to_bytes(json::array()));
      }
      gone_ += what == is_gone ? 1 : 0;
    }
  } catch (...) { // NOLINT(bugprone-empty-catch): what was wrong is being told already
  }
}

bool RunServer::serve(const Next& next, const Take& take) {
  const std::optional<engine::Ranks::Message> message = ranks_.poll();
  if (!message) {
    return false;
  }
  const json value = json::from_cbor(message->bytes);
  const std::string what = value.at("what");
  if (what == wants_runs) {
    ranks_.send(message->from, to_bytes(json(next())));
  } else if (what == has_made) {
    take(text_of(value.at("labels")), text_of(value.at("record")), value.at("failed"));
  } else if (what == is_gone) {
    ++gone_;
  } else if (what == is_broken) {
    throw FileError(value.at("message").get<std::string>());
  }
  return true;
}

void make_runs_for(engine::Ranks& ranks, const StudyPlan& plan, unsigned threads,
                   const std::function<bool()>& stop) {
  std::mutex mutex;
  std::deque<std::size_t> waiting;
  bool all_handed_out = false;
  RunMaking making;
  making.threads = threads;
  making.runs = std::numeric_limits<std::uint32_t>::max();
  making.next = [&]() -> std::optional<std::size_t> {
    const std::scoped_lock lock(mutex);
    if (waiting.empty() && !all_handed_out) {
      ranks.send(0, to_bytes({{"what", wants_runs}}));
      for (const json& run : json::from_cbor(ranks.receive().bytes)) {
        waiting.push_back(run);
      }
      all_handed_out = waiting.empty();
    }
    if (waiting.empty()) {
      return std::nullopt;
    }
    const std::size_t run = waiting.front();
    waiting.pop_front();
    return run;
  };
  making.done = [&](RunRecord&& record) {
    const std::string labels = bytes_of(*record.labels);
    ranks.send(0, to_bytes({{"what", has_made},
                            {"failed", !record.failure.empty()},
                            {"labels", binary(labels)},
                            {"record", binary(bytes_of(record, engine::fnv1a64(labels)))}}));
  };
  making.advanced = [](double) {};
  std::atomic<bool> broken{false};
  making.stop = [&] { return broken || stop(); };
  try {
    make_runs(plan, making);
  } catch (const std::exception& error) {
    broken = true;
    ranks.send(0, to_bytes({{"what", is_broken}, {"message", error.what()}}));
  }
  leave(ranks);
}

void leave(engine::Ranks& ranks) {
  ranks.send(0, to_bytes({{"what", is_gone}}));
}

} // namespace heapcast::cli
