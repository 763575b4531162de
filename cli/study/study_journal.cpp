#include "cli/study/study_journal.hpp"

#include "engine/checksum.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <fstream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace heapcast::cli {

namespace {

/// Of the program that runs: another build may compute other bits.
std::string program_checksum() {
  std::ifstream program("/proc/self/exe", std::ios::binary);
  std::uint64_t checksum = engine::fnv1a64({});
  std::vector<char> block(std::size_t{1} << 20U);
  while (program) {
    program.read(block.data(), static_cast<std::streamsize>(block.size()));
    checksum =
        engine::fnv1a64({block.data(), static_cast<std::size_t>(program.gcount())}, checksum);
  }
  return fmt::format("{:016x}", checksum);
}

std::string header_of(const StudyIdentity& identity) {
  nlohmann::json header = nlohmann::json::object();
  for (const auto& [name, text] : identity) {
    header[name] = text;
  }
  return header.dump();
}

StudyIdentity identity_in(const std::string& header) {
  StudyIdentity identity;
  const nlohmann::json read = nlohmann::json::parse(header, nullptr, false);
  if (read.is_object()) {
    for (const auto& [name, text] : read.items()) {
      identity.emplace_back(name, text.is_string() ? text.get<std::string>() : "");
    }
  }
  return identity;
}

} // namespace

StudyJournal::StudyJournal(const std::string& path, const StudyIdentity& identity, RunRange range)
    : journal_(path), range_(range), places_(range.count, 0) {
  StudyIdentity own = identity;
  own.emplace_back("program_checksum", program_checksum());
  own.emplace_back("runs", fmt::format("{} from {}", range.count, range.first));
  if (journal_.header().empty()) {
    journal_.begin(header_of(own));
  } else if (const std::string changed = difference(identity_in(journal_.header()), own);
             !changed.empty()) {
    throw InputError(path,
                     fmt::format("was begun with another study; these differ:\n  {}\n ", changed),
                     "put the study back as it was, or delete this file to begin again, or write "
                     "to another name with -o");
  }
  journal_.recover([this](std::uint64_t place, std::string_view record) {
    if (RecordReader::is_labels(record)) {
      known_labels_.push_back(engine::fnv1a64(record));
      reader_.add_labels(record, known_labels_.back());
    } else {
      note(record, place);
    }
  });
}

void StudyJournal::note(std::string_view record, std::uint64_t place) {
  const RecordReader::Summary summary = RecordReader::summary(record);
  const std::size_t row = summary.run - range_.first;
  if (row >= places_.size() || places_[row] != 0) {
    return;
  }
  places_[row] = place;
  ++done_;
  failed_ += summary.failed ? 1 : 0;
}

std::vector<std::size_t> StudyJournal::missing() const {
  std::vector<std::size_t> runs;
  for (std::size_t row = 0; row < places_.size(); ++row) {
    if (places_[row] == 0) {
      runs.push_back(range_.first + row);
    }
  }
  return runs;
}

void StudyJournal::add(const RunRecord& record) {
  const std::string labels = bytes_of(*record.labels);
  add(labels, bytes_of(record, engine::fnv1a64(labels)));
}

void StudyJournal::add(std::string_view labels, std::string_view record) {
  const std::scoped_lock lock(mutex_);
  const std::uint64_t key = engine::fnv1a64(labels);
  if (std::ranges::find(known_labels_, key) == known_labels_.end()) {
    journal_.append(labels);
    known_labels_.push_back(key);
    reader_.add_labels(labels, key);
  }
  note(record, journal_.append(record));
}

RunRecord StudyJournal::record(std::size_t run) const {
  return reader_.record(journal_.read(places_.at(run - range_.first)));
}

} // namespace heapcast::cli
