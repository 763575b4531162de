#pragma once

#include <string>
#include <string_view>

namespace heapcast::engine {

/// Writes `contents` to `path`, all or nothing: to a temporary name in the same folder, flushed to
/// the disk, then renamed over `path`. A killed run or a full disk leaves the old file or none;
/// after a failure the temporary is gone, after a kill it may stay and is in nobody's way. A
/// symbolic link is followed. Throws FileError, also when `path` is there and is not an ordinary
/// file.
void write_file_atomically(const std::string& path, std::string_view contents);

/// The same for a file that is written bit by bit, or by somebody else: under a temporary name
/// until `finish`. Without it the temporary goes with the object.
class AtomicFile {
public:
  explicit AtomicFile(std::string path);
  AtomicFile(const AtomicFile&) = delete;
  AtomicFile& operator=(const AtomicFile&) = delete;
  AtomicFile(AtomicFile&&) = delete;
  AtomicFile& operator=(AtomicFile&&) = delete;
  ~AtomicFile();

  [[nodiscard]] const std::string& temporary_name() const { return name_; }
  void append(std::string_view contents); ///< at the end, whoever wrote what is before it
  void finish();

private:
  std::string path_; ///< what a message calls it
  std::string target_, name_;
  int descriptor_ = -1;
};

/// Throws the FileError of a file that cannot be written for the system's `error`, with what to do.
[[noreturn]] void fail_writing(const std::string& path, int error);

} // namespace heapcast::engine
