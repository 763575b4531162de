#include "models/weather/file_faults.hpp"

#include "models/weather/text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace heapcast::models {

namespace {

std::string row_name(SeriesStep step, LocalHours time) {
  return step == SeriesStep::day ? format_date(std::chrono::floor<std::chrono::days>(time))
                                 : format_time(time);
}

} // namespace

void FileFaults::add(std::size_t line, std::string what, std::string remedy) {
  constexpr std::size_t most = 20;
  ++count_;
  if (kept_.size() < most) {
    kept_.push_back({fmt::format("{}:{}", source_, line), std::move(what), std::move(remedy)});
  }
}

void FileFaults::throw_if_any() const {
  if (!any()) {
    return;
  }
  auto faults = kept_;
  if (count_ > kept_.size()) {
    faults.push_back({source_, fmt::format("{} faults in all", count_),
                      fmt::format("the first {} are shown", kept_.size())});
  }
  throw InputError(std::move(faults));
}

std::string_view checked_text(std::string_view text, const std::string& source) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") {
    text.remove_prefix(3);
  }
  const auto junk = std::find_if(text.begin(), text.end(), [](char c) {
    return (c >= 0 && c < ' ' && c != '\t' && c != '\r' && c != '\n') || c == '\x7F';
  });
  if (junk != text.end()) {
    const auto line = 1 + std::count(text.begin(), junk, '\n');
    throw InputError(fmt::format("{}:{}", source, line),
                     fmt::format("is not a text file (byte 0x{:02X})",
                                 static_cast<unsigned>(static_cast<unsigned char>(*junk))),
                     "give weather as CSV or EPW text in UTF-8");
  }
  return text;
}

std::vector<FileLine> table_lines(std::string_view text) {
  std::vector<FileLine> lines;
  std::size_t number = 0;
  while (!text.empty()) {
    ++number;
    const auto end = text.find_first_of("\r\n");
    const auto line = trimmed(text.substr(0, end));
    if (!line.empty() && line.front() != '#') {
      lines.push_back({number, text.substr(0, end)});
    }
    if (end == std::string_view::npos) {
      break;
    }
    text.remove_prefix(end + (text.substr(end, 2) == "\r\n" ? 2 : 1));
  }
  return lines;
}

bool TimeCovered::has(const TimeNeeded& needed) const {
  return !(needed.first && *needed.first < first) && !(needed.last && *needed.last > last);
}

void check_covers(const TimeCovered& covered, const TimeNeeded& needed, std::size_t line,
                  FileFaults& faults) {
  if (!covered.has(needed)) {
    faults.add(line,
               fmt::format("covers {} to {}; needed is {} to {}", format_time(covered.first),
                           format_time(covered.last),
                           format_time(needed.first.value_or(covered.first)),
                           format_time(needed.last.value_or(covered.last))),
               "give weather for the whole time, or choose another start or a shorter run");
  }
}

std::chrono::hours RowOrder::period() const {
  return std::chrono::hours{step_ == SeriesStep::day ? 24 : 1};
}

long RowOrder::next(std::size_t line, LocalHours time) {
  const std::string advice =
      step_ == SeriesStep::hour ? "; times are local standard time, without daylight saving" : "";
  long missing = 0;
  if (!first_) {
    first_ = time;
  } else if (time == *last_) {
    faults_->add(
        line,
        fmt::format("{} is there twice (before in line {})", row_name(step_, time), last_line_),
        "keep one; of a file with several stations choose one" + advice);
  } else if (time < *last_) {
    faults_->add(line,
                 fmt::format("{} comes after {}", row_name(step_, time), row_name(step_, *last_)),
                 "put the rows in order of time; of a file with several stations choose one");
  } else {
    missing = gap(line, time);
  }
  if (!last_ || time > *last_) {
    last_ = time;
    last_line_ = line;
  }
  unread_ = 0;
  return missing;
}

long RowOrder::gap(std::size_t line, LocalHours time) {
  const auto missing = (time - *last_) / period() - 1;
  if (missing <= unread_) {
    return 0;
  }
  const auto length = missing * period();
  if (length <= longest_filled_) {
    return missing;
  }
  const bool daily = step_ == SeriesStep::day;
  const std::string unit = daily ? "day" : "hour";
  const std::string from = row_name(step_, *last_ + period());
  faults_->add(line,
               missing == 1 ? fmt::format("{} is missing before this line", from)
                            : fmt::format("{} to {} are missing before this line ({} {}s)", from,
                                          row_name(step_, time - period()), missing, unit),
               fmt::format("give one row for each {}{}{}", unit,
                           daily ? "" : "; times are local standard time, without daylight saving",
                           length <= longest_gap_filled
                               ? ", or have gaps filled: fill_gaps = \"3 days\" in [site]"
                               : ""));
  return 0;
}

} // namespace heapcast::models
