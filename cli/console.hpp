#pragma once

#include "cli/display_units.hpp"
#include "engine/errors.hpp"

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

/// The reader of standard output has gone, as `head` does. Not an error.
struct ReaderGone {};

/// To be called first: opens what is closed of standard input, output and error, so that no file
/// that is written later takes their place; lets writing to a pipe without reader fail instead of
/// ending the program, and a file-size limit like a full disk.
void prepare_streams();

/// Writes all of `text`. Throws FileError when it cannot be written (full disk, closed), ReaderGone
/// when nobody reads it.
void write_stdout(std::string_view text);

/// Writes what can be written; there is nowhere to report to.
void write_stderr(std::string_view text);

/// Notes on an input, one line each, to standard error.
void write_notes(const std::vector<Fault>& notes, DisplayUnits units = DisplayUnits::metric);

/// Whether the user's locale (LC_ALL, LC_CTYPE, LANG) is one of UTF-8.
[[nodiscard]] bool locale_is_utf8();

/// From now on the first Ctrl-C (SIGINT) or SIGTERM is only noted; a second one ends the program.
void note_interrupts();

/// The signal that was noted, or 0.
[[nodiscard]] int interrupt();

/// "48 s", "12 min", "30 h".
[[nodiscard]] std::string time_left(double left_s);

/// A line with the share done and the time left, on a terminal's standard error and nowhere else.
/// It appears after half a second and goes away with the object.
class ProgressLine {
public:
  explicit ProgressLine(bool wanted);
  ~ProgressLine();
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  ProgressLine(ProgressLine&&) = delete;
  ProgressLine& operator=(ProgressLine&&) = delete;

  void show(double share); ///< 0..1
  void show(const std::string& text);

private:
  using Clock = std::chrono::steady_clock;
  bool wanted_;
  bool shown_ = false;
  Clock::time_point start_ = Clock::now();
  Clock::time_point last_ = start_;
};

} // namespace heapcast::cli
