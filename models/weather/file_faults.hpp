#pragma once

#include "engine/errors.hpp"
#include "models/weather/series.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// The longest gap in a weather file that is filled when the user says so.
inline constexpr std::chrono::hours longest_gap_filled{72};

/// The faults of one weather file, the first 20 of them kept.
class FileFaults {
public:
  explicit FileFaults(std::string source) : source_(std::move(source)) {}
  void add(std::size_t line, std::string what, std::string remedy);
  [[nodiscard]] bool any() const { return count_ > 0; }
  /// Throws InputError with the faults kept and the number of all, if there are any.
  void throw_if_any() const;

private:
  std::string source_;
  std::vector<Fault> kept_;
  std::size_t count_ = 0;
};

struct FileLine {
  std::size_t number = 0; ///< from 1
  std::string_view text;
};

/// Text without its byte-order mark. Throws InputError when it holds a byte that no text has.
[[nodiscard]] std::string_view checked_text(std::string_view text, const std::string& source);

/// Lines that hold something and are no `#` comment; ends are LF, CR LF or CR.
[[nodiscard]] std::vector<FileLine> table_lines(std::string_view text);

/// The time that the weather must cover; nothing: any.
struct TimeNeeded {
  std::optional<LocalHours> first;
  std::optional<LocalHours> last;
};

/// The time that a file covers.
struct TimeCovered {
  LocalHours first;
  LocalHours last;
  [[nodiscard]] bool has(const TimeNeeded& needed) const;
};

/// Adds a fault when the file does not cover the time needed.
void check_covers(const TimeCovered& covered, const TimeNeeded& needed, std::size_t line,
                  FileFaults& faults);

/// Whether the rows of a file follow one another, one day or one hour apart.
class RowOrder {
public:
  RowOrder(SeriesStep step, std::chrono::hours longest_filled, FileFaults& faults)
      : step_(step), longest_filled_(longest_filled), faults_(&faults) {}

  /// Takes the next row, with a fault for one that is there twice, comes too early, or after a gap
  /// that may not be filled. Returns how many rows are missing before it and may be filled.
  long next(std::size_t line, LocalHours time);
  /// Takes a row whose time could not be read, which has been reported and is no gap.
  void next_unread() { ++unread_; }

  [[nodiscard]] const std::optional<LocalHours>& first() const { return first_; }
  [[nodiscard]] const std::optional<LocalHours>& last() const { return last_; } ///< so far
  [[nodiscard]] bool any() const { return first_ || unread_ > 0; }
  [[nodiscard]] std::chrono::hours period() const;

private:
  long gap(std::size_t line, LocalHours time);

  SeriesStep step_;
  std::chrono::hours longest_filled_;
  FileFaults* faults_;
  std::optional<LocalHours> first_;
  std::optional<LocalHours> last_;
  std::size_t last_line_ = 0; ///< of last_
  long unread_ = 0;           ///< rows since then whose time could not be read
};

} // namespace heapcast::models
