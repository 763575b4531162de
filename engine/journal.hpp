#pragma once

#include <cstdint>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>

namespace heapcast::engine {

/// A file of records that are appended and never changed, fit to be killed at any moment: each
/// record has its length and check sum, and one that is cut off or damaged ends the file for its
/// reader, with all behind it. The first record, the header, says what the others belong to.
///
/// One process at a time; its threads may share it. Throws FileError for whatever the disk refuses
/// and when another process has the file.
class Journal {
public:
  /// Opens the file or makes it. A file that is there and no journal is left as it is: FileError.
  explicit Journal(std::string path);
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;
  Journal(Journal&&) = delete;
  Journal& operator=(Journal&&) = delete;
  ~Journal();

  /// Empty for a new file: then `begin` is to be called.
  [[nodiscard]] const std::string& header() const { return header_; }
  void begin(std::string_view header);

  /// found(place, record) for each whole record behind the header, then cuts off what is not whole.
  void recover(const std::function<void(std::uint64_t place, std::string_view record)>& found);

  /// Returns where the record is. What it takes back after a failure is as if never written; what
  /// it returns from outlasts the process at once, and a power cut after some seconds or `flush`.
  std::uint64_t append(std::string_view record);
  [[nodiscard]] std::string read(std::uint64_t place) const;
  void flush();

  /// Deletes the file.
  void remove();

private:
  void write_at(std::uint64_t place, std::string_view bytes);
  void cut(std::uint64_t end);
  /// Empty when there is no whole record there.
  [[nodiscard]] std::string read_if_whole(std::uint64_t place, std::uint64_t end) const;

  std::string path_;
  int descriptor_ = -1;
  std::string header_;
  std::uint64_t end_ = 0; ///< behind the last whole record
  std::int64_t flushed_s_ = 0;
  std::mutex mutex_;
};

} // namespace heapcast::engine
