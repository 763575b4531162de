#include "cli/console.hpp"

#include <algorithm>
#include <atomic>
#include <cctype>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <string>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

namespace heapcast::cli {

namespace {

/// Written by the handler, read by any thread.
std::atomic<int> noted_signal = 0;
static_assert(std::atomic<int>::is_always_lock_free); // else no handler may write it

extern "C" void note_signal(int signal) {
  noted_signal = signal;
}

/// 0, or the error that stopped the writing.
int write_all(int descriptor, std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = ::write(descriptor, text.data(), text.size());
    if (written < 0) {
      if (errno == EINTR) {
        continue;
      }
      return errno;
    }
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  return 0;
}

} // namespace

void prepare_streams() {
  for (const int descriptor : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(descriptor, F_GETFD) == -1) {
      // Takes the lowest free number, this one. Read-only: writing to it fails and is noticed.
      [[maybe_unused]] const int opened = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
    }
  }
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN); // a file-size limit is told like a full disk
}

void write_stdout(std::string_view text) {
  const int error = write_all(STDOUT_FILENO, text);
  if (error == EPIPE) {
    throw ReaderGone{};
  }
  if (error != 0) {
    throw FileError(fmt::format("standard output cannot be written: {}",
                                error == EBADF ? "it is closed" : std::strerror(error)));
  }
}

void write_stderr(std::string_view text) {
  write_all(STDERR_FILENO, text);
}

void write_notes(const std::vector<Fault>& notes, DisplayUnits units) {
  for (const Fault& note : notes) {
    write_stderr(fmt::format("note: {}: {} - {}\n", note.where, in_display_units(note.what, units),
                             in_display_units(note.remedy, units)));
  }
}

bool locale_is_utf8() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const char* value = std::getenv(name);
    if (value == nullptr || *value == '\0') {
      continue;
    }
    std::string locale(value);
    std::erase(locale, '-');
    std::ranges::transform(locale, locale.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return locale.find("utf8") != std::string::npos;
  }
  return false;
}

void note_interrupts() {
  struct sigaction action = {};
  action.sa_handler = note_signal;
  sigemptyset(&action.sa_mask);
  // Back to the default after the first, so that a second one ends a program that does not listen.
  action.sa_flags = SA_RESETHAND;
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
}

int interrupt() {
  return noted_signal;
}

ProgressLine::ProgressLine(bool wanted) : wanted_(wanted && ::isatty(STDERR_FILENO) == 1) {}

ProgressLine::~ProgressLine() {
  if (shown_) {
    write_stderr("\r\033[K");
  }
}

std::string time_left(double left_s) {
  return left_s < 90               ? fmt::format("{:.0f} s", left_s)
         : left_s < 90.0 * 60      ? fmt::format("{:.0f} min", left_s / 60)
         : left_s < 72.0 * 60 * 60 ? fmt::format("{:.0f} h", left_s / 3600)
                                   : fmt::format("{:.0f} days", left_s / 86400);
}

void ProgressLine::show(double share) {
  if (!(share > 0 && share <= 1)) {
    return;
  }
  const double elapsed_s = std::chrono::duration<double>(Clock::now() - start_).count();
  show(fmt::format("{:3.0f} %, {} left", 100 * share, time_left(elapsed_s * (1 - share) / share)));
}

void ProgressLine::show(const std::string& text) {
  constexpr std::chrono::milliseconds first_after(500);
  constexpr std::chrono::milliseconds again_after(200);
  const Clock::time_point now = Clock::now();
  if (!wanted_ || now - start_ < first_after || (shown_ && now - last_ < again_after)) {
    return;
  }
  write_stderr(fmt::format("\r{}\033[K", text));
  shown_ = true;
  last_ = now;
}

} // namespace heapcast::cli
