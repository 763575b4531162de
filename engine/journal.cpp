#include "engine/journal.hpp"

#include "engine/atomic_file.hpp"
#include "engine/checksum.hpp"
#include "engine/errors.hpp"

#include <fmt/format.h>

#include <array>
#include <bit>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

namespace heapcast::engine {
namespace {

constexpr std::string_view magic = "heapcast journal 1\n";
constexpr std::size_t head_bytes = 16; // length and check sum, little-endian
constexpr std::int64_t flush_every_s = 5;
static_assert(std::endian::native == std::endian::little, "numbers are written as they lie");

std::string head_of(std::string_view record) {
  const std::array<std::uint64_t, 2> head = {record.size(), fnv1a64(record)};
  std::string bytes(head_bytes, '\0');
  std::memcpy(bytes.data(), head.data(), head_bytes);
  return bytes;
}

std::int64_t now_s() {
  return std::chrono::duration_cast<std::chrono::seconds>(
             std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

/// As many bytes as there are.
std::string read_bytes(int descriptor, const std::string& path, std::uint64_t place,
                       std::size_t count) {
  std::string bytes(count, '\0');
  std::size_t done = 0;
  while (done < count) {
    const ssize_t got =
        pread(descriptor, bytes.data() + done, count - done, static_cast<off_t>(place + done));
    if (got < 0 && errno != EINTR) {
      throw FileError(fmt::format("{}: cannot be read: {} - check the disk", path,
                                  std::generic_category().message(errno)));
    }
    if (got == 0) {
      break;
    }
    done += got > 0 ? static_cast<std::size_t>(got) : 0;
  }
  bytes.resize(done);
  return bytes;
}

} // namespace

Journal::Journal(std::string path) : path_(std::move(path)), flushed_s_(now_s()) {
  descriptor_ = open(path_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (descriptor_ < 0) {
    fail_writing(path_, errno);
  }
  const auto refuse = [this](const std::string& message) {
    ::close(descriptor_);
    throw FileError(message);
  };
  struct stat status {};
  if (fstat(descriptor_, &status) != 0 || !S_ISREG(status.st_mode)) {
    refuse(fmt::format("{}: is not an ordinary file - give another name", path_));
  }
  if (flock(descriptor_, LOCK_EX | LOCK_NB) != 0) {
    refuse(fmt::format("{}: another process is writing it - let it end, or end it", path_));
  }
  const auto size = static_cast<std::uint64_t>(status.st_size);
  const std::string start = read_bytes(descriptor_, path_, 0, magic.size());
  if (!magic.starts_with(start)) {
    refuse(fmt::format("{}: is there and is no journal - move it away", path_));
  }
  header_ = read_if_whole(magic.size(), size);
  end_ = header_.empty() ? 0 : magic.size() + head_bytes + header_.size();
}

Journal::~Journal() {
  ::close(descriptor_);
}

void Journal::begin(std::string_view header) {
  cut(0);
  write_at(0, std::string(magic) + head_of(header) + std::string(header));
  header_ = header;
  end_ = magic.size() + head_bytes + header.size();
  flush();
}

void Journal::recover(
    const std::function<void(std::uint64_t place, std::string_view record)>& found) {
  struct stat status {};
  fstat(descriptor_, &status);
  const auto size = static_cast<std::uint64_t>(status.st_size);
  while (end_ < size) {
    const std::string record = read_if_whole(end_, size);
    if (record.empty()) {
      break;
    }
    const std::uint64_t place = end_;
    end_ += head_bytes + record.size();
    found(place, record);
  }
  cut(end_);
}

std::uint64_t Journal::append(std::string_view record) {
  const std::scoped_lock lock(mutex_);
  const std::uint64_t place = end_;
  try {
    write_at(place, head_of(record) + std::string(record));
  } catch (const FileError&) {
    cut(place); // makes it shorter, which a full disk allows
    throw;
  }
  end_ += head_bytes + record.size();
  if (now_s() - flushed_s_ >= flush_every_s) {
    flush();
  }
  return place;
}

std::string Journal::read(std::uint64_t place) const {
  std::string record = read_if_whole(place, end_);
  if (record.empty()) {
    throw FileError(
        fmt::format("{}: is damaged - check the disk, delete it and begin again", path_));
  }
  return record;
}

void Journal::flush() {
  if (fdatasync(descriptor_) != 0) {
    fail_writing(path_, errno);
  }
  flushed_s_ = now_s();
}

void Journal::remove() {
  unlink(path_.c_str());
}

void Journal::write_at(std::uint64_t place, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t count =
        pwrite(descriptor_, bytes.data(), bytes.size(), static_cast<off_t>(place));
    if (count < 0 && errno != EINTR) {
      fail_writing(path_, errno);
    }
    const std::size_t done = count > 0 ? static_cast<std::size_t>(count) : 0;
    bytes.remove_prefix(done);
    place += done;
  }
}

void Journal::cut(std::uint64_t end) {
  if (ftruncate(descriptor_, static_cast<off_t>(end)) != 0) {
    fail_writing(path_, errno);
  }
}

std::string Journal::read_if_whole(std::uint64_t place, std::uint64_t end) const {
  const std::string head = read_bytes(descriptor_, path_, place, head_bytes);
  if (head.size() < head_bytes) {
    return {};
  }
  std::array<std::uint64_t, 2> expected{};
  std::memcpy(expected.data(), head.data(), head_bytes);
  if (expected[0] == 0 || place + head_bytes > end || expected[0] > end - place - head_bytes) {
    return {};
  }
  std::string record = read_bytes(descriptor_, path_, place + head_bytes, expected[0]);
  return record.size() == expected[0] && fnv1a64(record) == expected[1] ? record : std::string();
}

} // namespace heapcast::engine
