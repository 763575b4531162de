#include "cli/comparison.hpp"

#include "cli/joined.hpp"
#include "cli/report/readiness.hpp"
#include "cli/text_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <span>
#include <string_view>

namespace heapcast::cli {

namespace {

using models::PairedDifference;
using models::Spread;

constexpr std::size_t screen_columns = 80;
constexpr std::size_t label_columns = 19;
constexpr std::size_t most_side_by_side = 4;

/// A number as it stands in the table.
struct Row {
  std::string_view label;
  std::string_view name; ///< of the run's number
  std::string_view unit; ///< behind the label, as models have it; of "%" they have shares
  int digits = 0;        ///< behind the point
  bool is_day = false;   ///< NaN means: not within the horizon
};

constexpr Row rows[] = {
    {"ready", "ready_day", "day", 0, true},
    {"hot days, 55 degC", "days_above_55", "", 1},
    {"peak", "peak_temperature", "degC", 0},
    {"nitrogen kept", "nitrogen_kept", "kg", 2},
    {"nitrogen lost", "nitrogen_lost_fraction", "%", 1},
    {"carbon lost", "carbon_lost_fraction", "%", 0},
    {"water given", "water_added", "L", 0},
    {"rain caught", "rain_caught", "L", 0},
    {"drained out", "leachate", "L", 0},
    {"turns", "turns", "", 0},
    {"work", "labour_hours", "h", 1},
    {"compost", "compost_volume", "m3", 2},
    {"compost", "compost_mass", "kg", 0},
    {"C:N", "compost_carbon_nitrogen_ratio", "", 0},
};

DisplayUnit unit_of(const Row& row, DisplayUnits units) {
  return row.unit == "%" ? DisplayUnit{"%", 100.0} : display_unit(row.unit, units);
}

/// With so many digits behind the point; no minus before a zero.
std::string fixed(double value, int digits) {
  std::string text = fmt::format("{:.{}f}", value, digits);
  const bool zero = text.find_first_not_of("-0.") == std::string::npos;
  return zero && text.starts_with('-') ? text.substr(1) : text;
}

/// "34 (31-40)"; a day beyond the horizon is "later".
std::string cell(const Row& row, const ComparedPile& pile, const DisplayUnit& unit) {
  const std::vector<double> values = pile.counted(std::string(row.name));
  if (values.empty()) {
    return "-";
  }
  const Spread s = models::spread(values);
  const auto shown = [&](double value) {
    return std::isfinite(value) ? fixed(unit(value), row.digits)
                                : std::string(row.is_day ? "later" : "-");
  };
  std::string text = shown(s.mid);
  const bool one = pile.runs() < 2 || shown(s.low) == shown(s.high);
  return one ? text : fmt::format("{} ({}-{})", text, shown(s.low), shown(s.high));
}

/// "met 92 of 100" for the rule that the use asks for.
std::string hygiene_cell(const ComparedPile& pile) {
  const std::string& rule = pile.pile->use.hygiene_rule;
  const std::vector<double> days =
      rule.empty() ? std::vector<double>{} : pile.counted("hygiene_met_day_" + rule);
  if (days.empty()) {
    return "not asked";
  }
  const auto met = std::ranges::count_if(days, [](double day) { return std::isfinite(day); });
  if (days.size() == 1) {
    return met == 1 ? fmt::format("day {:.0f}", days.front()) : "not met";
  }
  return fmt::format("met {} of {}", met, days.size());
}

/// The most frequent answer.
std::string decided_cell(const ComparedPile& pile) {
  std::map<std::string, std::size_t> counts;
  for (const std::string& key : pile.decided_by()) {
    if (!key.empty()) {
      ++counts[key];
    }
  }
  const auto most = std::ranges::max_element(
      counts, [](const auto& a, const auto& b) { return a.second < b.second; });
  return most == counts.end() ? "-" : deciders_in_words(most->first);
}

class Table {
public:
  Table(std::span<const ComparedPile> piles, bool utf8, DisplayUnits units)
      : piles_(piles), utf8_(utf8), units_(units),
        columns_((screen_columns - label_columns) / std::max<std::size_t>(piles.size(), 1)) {}

  std::string text() {
    line("", [&](const ComparedPile& pile) { return clean(pile.name, utf8_); });
    for (const Row& row : rows) {
      const bool known = std::ranges::any_of(piles_, [&](const ComparedPile& pile) {
        return !pile.counted(std::string(row.name)).empty();
      });
      if (known) {
        const DisplayUnit unit = unit_of(row, units_);
        line(label(row, unit), [&](const ComparedPile& pile) { return cell(row, pile, unit); });
      }
      if (row.is_day) {
        line("decided by", decided_cell);
        line("hygiene rule", hygiene_cell);
      }
    }
    return text_;
  }

private:
  [[nodiscard]] std::string label(const Row& row, const DisplayUnit& unit) const {
    const std::string name =
        row.unit.empty()
            ? in_display_units(row.label, units_)
            : fmt::format("{}, {}", row.label,
                          row.unit == "degC" ? unit_sign(unit.name, utf8_) : unit.name);
    return utf8_ ? with_signs(name) : name;
  }

  template <class Cell> void line(std::string_view label, const Cell& cell) {
    // A cell too wide for its column goes on below, broken at a space.
    std::vector<std::vector<std::string>> cells;
    std::size_t lines = 1;
    for (const ComparedPile& pile : piles_) {
      cells.push_back(broken(cell(pile)));
      lines = std::max(lines, cells.back().size());
    }
    for (std::size_t i = 0; i < lines; ++i) {
      std::string all = padded(i == 0 ? label : "", label_columns);
      for (const std::vector<std::string>& one : cells) {
        all += padded(i < one.size() ? one[i] : "", columns_);
      }
      all.erase(all.find_last_not_of(' ') + 1);
      text_ += all + "\n";
    }
  }

  [[nodiscard]] std::vector<std::string> broken(std::string text) const {
    std::vector<std::string> parts;
    const std::size_t room = columns_ - 1;
    while (text.size() > room) {
      auto at = text.rfind(' ', room);
      at = at == std::string::npos || at == 0 ? room : at;
      while (at > 1 && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U) {
        --at; // not within a character
      }
      parts.push_back(text.substr(0, at));
      text.erase(0, at + (text[at] == ' ' ? 1 : 0));
    }
    parts.push_back(text);
    return parts;
  }

  std::span<const ComparedPile> piles_;
  bool utf8_;
  DisplayUnits units_;
  std::size_t columns_;
  std::string text_;
};

/// What is said of a difference in one number.
struct Said {
  std::string_view name, unit, less, more;
  int digits = 0;
};

constexpr Said said[] = {
    {"ready_day", "days", "sooner", "later", 0},
    {"labour_hours", "h", "less work", "more work", 1},
    {"nitrogen_kept", "kg", "less nitrogen kept", "more nitrogen kept", 2},
};

/// "12 days later (8 to 17; in 97 of 100 runs)", or nothing when there is no difference.
std::string difference(const Said& what, const ComparedPile& first, const ComparedPile& other,
                       DisplayUnits units) {
  const std::optional<PairedDifference> known =
      difference_from(first, other, std::string(what.name));
  if (!known) {
    return {};
  }
  const PairedDifference& d = *known;
  const bool is_day = what.name == "ready_day";
  const DisplayUnit unit = display_unit(what.unit, units);
  if (d.pairs == 0) {
    return is_day ? "neither is ready within the time computed" : "";
  }
  const bool more = d.mid > 0.0 || (d.mid == 0.0 && d.more > d.less);
  const double sign = more ? 1.0 : -1.0;
  const std::size_t times = more ? d.more : d.less;
  const auto shown = [&](double value) {
    return std::isfinite(value) ? fixed(sign * unit.factor * value, what.digits)
           : sign * value > 0.0 ? std::string("beyond the time computed")
                                : std::string("at once");
  };
  const std::string mid = fixed(sign * unit.factor * d.mid, what.digits);
  const std::string nothing = fixed(0.0, what.digits);
  if (times == 0 || (std::isfinite(d.mid) && mid == nothing && shown(d.high) == shown(d.low))) {
    return {};
  }
  const std::string_view word = more ? what.more : what.less;
  std::string text = std::isfinite(d.mid)
                         ? fmt::format("{} {} {}", mid, unit.name, word)
                         : std::string(more ? "not ready within the time computed, unlike it"
                                            : "ready within the time computed, unlike it");
  if (first.runs() > 1) {
    const double from = more ? d.low : d.high;
    const double to = more ? d.high : d.low;
    text += std::isfinite(d.mid) ? fmt::format(" ({} to {}; {} in {} of {} runs)", shown(from),
                                               shown(to), word, times, d.pairs)
                                 : fmt::format(" (in {} of {} runs)", times, d.pairs);
  }
  return text;
}

} // namespace

std::size_t ComparedPile::runs() const {
  return result.numbers.empty() ? 1 : result.runs();
}

std::vector<double> ComparedPile::values(const std::string& wanted) const {
  if (const models::RunValues* of_runs = result.find(wanted)) {
    return of_runs->values;
  }
  if (result.numbers.empty()) {
    if (const models::Scalar* one = result.central.find_scalar(wanted)) {
      return {one->value};
    }
  }
  return {};
}

std::vector<double> ComparedPile::counted(const std::string& wanted) const {
  std::vector<double> all = values(wanted);
  for (std::size_t run = all.size(); run-- > 0;) {
    if (result.failure(run) != nullptr) {
      all.erase(all.begin() + static_cast<std::ptrdiff_t>(run));
    }
  }
  return all;
}

std::vector<std::string> ComparedPile::decided_by() const {
  return result.numbers.empty() ? std::vector<std::string>{result.central.decided_by}
                                : result.decided_by;
}

std::optional<PairedDifference>
difference_from(const ComparedPile& first, const ComparedPile& other, const std::string& name) {
  std::vector<double> a = first.values(name);
  std::vector<double> b = other.values(name);
  if (a.empty() || a.size() != b.size()) {
    return {};
  }
  for (std::size_t run = a.size(); run-- > 0;) {
    if (first.result.failure(run) != nullptr || other.result.failure(run) != nullptr) {
      a.erase(a.begin() + static_cast<std::ptrdiff_t>(run));
      b.erase(b.begin() + static_cast<std::ptrdiff_t>(run));
    }
  }
  return models::paired_difference(a, b);
}

std::string comparison_text(const std::string& title, const std::vector<ComparedPile>& piles,
                            const std::vector<std::string>& saved, bool utf8, DisplayUnits units) {
  const std::size_t runs = piles.empty() ? 1 : piles.front().runs();
  std::string text = wrapped(clean(title, utf8), 0, screen_columns);
  text += runs > 1 ? fmt::format("{} runs each with the same draws; in brackets what 80 % of the "
                                 "runs span\n\n",
                                 runs)
                   : std::string("one run each; --runs 100 shows how sure the differences are\n\n");
  for (std::size_t begin = 0; begin < piles.size(); begin += most_side_by_side) {
    const std::size_t count = std::min(most_side_by_side, piles.size() - begin);
    text += Table(std::span(piles).subspan(begin, count), utf8, units).text() + "\n";
  }
  for (const ComparedPile& pile : piles) {
    if (const std::size_t failed = pile.result.failed.size(); failed > 0) {
      text += wrapped(fmt::format("{} of the {} runs of \"{}\" failed and do not count; the first: "
                                  "{}",
                                  failed, runs, clean(pile.name, utf8),
                                  clean(pile.result.failed.front().reason, utf8)),
                      0, screen_columns);
    }
  }
  text +=
      wrapped(fmt::format("Against \"{}\":", clean(piles.front().name, utf8)), 0, screen_columns);
  for (std::size_t i = 1; i < piles.size(); ++i) {
    std::vector<std::string> parts;
    for (const Said& what : said) {
      parts.push_back(difference(what, piles.front(), piles[i], units));
    }
    std::erase(parts, std::string());
    const std::string all = parts.empty() ? std::string("no difference") : joined(parts, "; ");
    text += wrapped(fmt::format("{}: {}.", clean(piles[i].name, utf8), all), 2, screen_columns);
  }
  text += '\n';
  text += wrapped("A model's estimate: measure, and follow local rules. What is said of "
                  "hygiene is no proof of it.",
                  0, screen_columns);
  if (!saved.empty()) {
    text += fmt::format("Saved      {}\n", clean(joined(saved), utf8));
  }
  return text;
}

} // namespace heapcast::cli
