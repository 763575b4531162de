#include "engine/atomic_file.hpp"

#include "engine/errors.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <system_error>

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

[[noreturn]] void fail(const std::string& path, int error) {
  throw FileError(fmt::format("{}: cannot be written: {} - {}", path,
                              std::generic_category().message(error), remedy(error)));
}

/// An open file descriptor and, until `keep`, the name to remove again.
class TemporaryFile {
public:
  /// Beside `target`, under a name nobody has. `path` is what a message calls it.
  TemporaryFile(const fs::path& target, const std::string& path) {
    // Short enough for any file system's limit, whatever the length of the target's name.
    constexpr std::size_t stem_length = 200;
    const std::string stem = target.filename().string().substr(0, stem_length);
    for (int attempt = 0; descriptor_ < 0; ++attempt) {
      name_ = target.parent_path() / fmt::format("{}.tmp-{}-{}", stem, getpid(), attempt);
      descriptor_ = open(name_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
      if (descriptor_ < 0 && errno != EEXIST && errno != EINTR) {
        fail(path, errno);
      }
    }
  }
  TemporaryFile(const TemporaryFile&) = delete;
  TemporaryFile& operator=(const TemporaryFile&) = delete;
  ~TemporaryFile() {
    if (descriptor_ >= 0) {
      ::close(descriptor_);
    }
    if (!name_.empty()) {
      unlink(name_.c_str());
    }
  }

  [[nodiscard]] const fs::path& name() const { return name_; }
  [[nodiscard]] int descriptor() const { return descriptor_; }
  /// 0 or the error number: some file systems report a full disk only here.
  int close() {
    const int result = ::close(descriptor_);
    descriptor_ = -1;
    return result == 0 ? 0 : errno;
  }
  void keep() { name_.clear(); }

private:
  fs::path name_;
  int descriptor_ = -1;
};

/// Makes the renaming last through a power cut, where the file system can.
void flush_folder(const fs::path& folder) {
  const int descriptor = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) {
    return; // a folder may be writable and not readable
  }
  const int error = fsync(descriptor) == 0 ? 0 : errno;
  ::close(descriptor);
  if (error == EIO) {
    fail(folder.string(), error);
  }
}

} // namespace

void write_file_atomically(const std::string& path, std::string_view contents) {
  std::error_code error;
  fs::path target = fs::absolute(path, error);
  if (fs::is_symlink(target, error)) {
    target = fs::weakly_canonical(target, error);
  }
  const fs::file_status status = fs::status(target, error);
  if (path.empty() || (fs::exists(status) && !fs::is_regular_file(status))) {
    throw FileError(fmt::format("{}: cannot be written: {} - give the name of a file",
                                path.empty() ? "output file" : path,
                                path.empty()               ? "the name is empty"
                                : fs::is_directory(status) ? "it is a folder"
                                                           : "it is not an ordinary file"));
  }

  TemporaryFile file(target, path);
  while (!contents.empty()) {
    // Linux moves at most 2 GiB at a time.
    constexpr std::size_t most = std::size_t{1} << 30;
    const ssize_t count =
        write(file.descriptor(), contents.data(), std::min(contents.size(), most));
    if (count < 0 && errno != EINTR) {
      fail(path, errno);
    }
    contents.remove_prefix(count > 0 ? static_cast<std::size_t>(count) : 0);
  }
  if (fsync(file.descriptor()) != 0) {
    fail(path, errno);
  }
  if (const int close_error = file.close(); close_error != 0) {
    fail(path, close_error);
  }
  if (std::rename(file.name().c_str(), target.c_str()) != 0) {
    fail(path, errno);
  }
  file.keep();
  flush_folder(target.parent_path());
}

} // namespace heapcast::engine
