#include "engine/atomic_file.hpp"

#include "engine/errors.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <unistd.h>

namespace heapcast::engine {
namespace {

namespace fs = std::filesystem;

const char* remedy(int error) {
  switch (error) {
  case ENOSPC:
  case EDQUOT:
    return "free some space or write to another disk";
  case EFBIG:
    return "raise the limit on the size of files (ulimit -f) or write to another disk";
  case EACCES:
  case EPERM:
  case EROFS:
    return "choose a folder you may write to";
  case ENOENT:
  case ENOTDIR:
    return "make the folder first or choose another";
  case ENAMETOOLONG:
    return "choose a shorter name";
  default:
    return "check the disk or write to another place";
  }
}

/// Makes the renaming last through a power cut, where the file system can.
void flush_folder(const fs::path& folder) {
  const int descriptor = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) {
    return; // a folder may be writable and not readable
  }
  const int error = fsync(descriptor) == 0 ? 0 : errno;
  ::close(descriptor);
  if (error == EIO) {
    fail_writing(folder.string(), error);
  }
}

} // namespace

void fail_writing(const std::string& path, int error) {
  throw FileError(fmt::format("{}: cannot be written: {} - {}", path,
                              std::generic_category().message(error), remedy(error)));
}

AtomicFile::AtomicFile(std::string path) : path_(std::move(path)) {
  std::error_code error;
  fs::path target = fs::absolute(path_, error);
  if (fs::is_symlink(target, error)) {
    target = fs::weakly_canonical(target, error);
  }
  const fs::file_status status = fs::status(target, error);
  if (path_.empty() || (fs::exists(status) && !fs::is_regular_file(status))) {
    throw FileError(fmt::format("{}: cannot be written: {} - give the name of a file",
                                path_.empty() ? "output file" : path_,
                                path_.empty()              ? "the name is empty"
                                : fs::is_directory(status) ? "it is a folder"
                                                           : "it is not an ordinary file"));
  }
  target_ = target.string();
  // Short enough for any file system's limit, whatever the length of the target's name.
  constexpr std::size_t stem_length = 200;
  const std::string stem = target.filename().string().substr(0, stem_length);
  for (int attempt = 0; descriptor_ < 0; ++attempt) {
    name_ = target.parent_path() / fmt::format("{}.tmp-{}-{}", stem, getpid(), attempt);
    descriptor_ = open(name_.c_str(), O_WRONLY | O_APPEND | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (descriptor_ < 0 && errno != EEXIST && errno != EINTR) {
      fail_writing(path_, errno);
    }
  }
}

AtomicFile::~AtomicFile() {
  if (descriptor_ >= 0) {
    ::close(descriptor_);
  }
  if (!name_.empty()) {
    unlink(name_.c_str());
  }
}

void AtomicFile::append(std::string_view contents) {
  while (!contents.empty()) {
    // Linux moves at most 2 GiB at a time.
    constexpr std::size_t most = std::size_t{1} << 30;
    const ssize_t count = write(descriptor_, contents.data(), std::min(contents.size(), most));
    if (count < 0 && errno != EINTR) {
      fail_writing(path_, errno);
    }
    contents.remove_prefix(count > 0 ? static_cast<std::size_t>(count) : 0);
  }
}

void AtomicFile::finish() {
  if (fsync(descriptor_) != 0) {
    fail_writing(path_, errno);
  }
  // Some file systems report a full disk only here.
  const int closed = ::close(std::exchange(descriptor_, -1));
  if (closed != 0) {
    fail_writing(path_, errno);
  }
  if (std::rename(name_.c_str(), target_.c_str()) != 0) {
    fail_writing(path_, errno);
  }
  name_.clear();
  flush_folder(fs::path(target_).parent_path());
}

void write_file_atomically(const std::string& path, std::string_view contents) {
  AtomicFile file(path);
  file.append(contents);
  file.finish();
}

} // namespace heapcast::engine
