#include "cli/summary.hpp"

#include "cli/joined.hpp"
#include "cli/report/readiness.hpp"
#include "cli/temperature_chart.hpp"
#include "cli/text_layout.hpp"
#include "models/cautions.hpp"
#include "models/hygiene/hygiene_rule.hpp"
#include "models/readiness/use.hpp"
#include "models/weather/calendar.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <string_view>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::EnsembleResult;
using models::ForecastResult;
using models::PileDescription;

constexpr std::size_t label_columns = 11;
constexpr std::size_t shortest_chart = 10;
constexpr std::size_t tallest_chart = 16;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// One column for each UTF-8 character.
std::size_t width(std::string_view text) {
  return static_cast<std::size_t>(std::ranges::count_if(
      text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// The bytes of the first `columns` characters.
std::size_t bytes_of(std::string_view text, std::size_t columns) {
  std::size_t end = 0;
  for (; end < text.size(); ++end) {
    const bool begins = (static_cast<unsigned char>(text[end]) & 0xC0U) != 0x80U;
    if (begins && columns-- == 0) {
      break;
    }
  }
  return end;
}

/// Cut with "..." when it is wider than the screen.
std::string cut(std::string line) {
  if (width(line) > summary_columns) {
    line.resize(bytes_of(line, summary_columns - 3));
    line += "...";
  }
  return line;
}

/// `text` on at most `most` lines, cut with "..." when it needs more; a label before it and as much
/// space before the lines that follow.
std::vector<std::string> labelled(std::string_view label, std::string_view text, std::size_t most,
                                  std::size_t indent = label_columns) {
  const std::size_t columns = summary_columns - indent;
  std::vector<std::string> lines;
  for (std::string_view rest = text; !rest.empty() || lines.empty();) {
    std::size_t end = bytes_of(rest, columns);
    if (end < rest.size() && rest[end] != ' ') {
      // Back to the last space; a word longer than a line is broken.
      const auto space = rest.substr(0, end).rfind(' ');
      end = space == std::string_view::npos || space == 0 ? end : space;
    }
    lines.push_back(
        fmt::format("{:<{}}{}", lines.empty() ? label : "", indent, rest.substr(0, end)));
    rest.remove_prefix(end);
    rest.remove_prefix(std::min(rest.find_first_not_of(' '), rest.size()));
  }
  if (lines.size() > most) {
    lines.resize(most);
    std::string& last = lines.back();
    last.resize(bytes_of(last, std::min(width(last), summary_columns - 4)));
    last += " ...";
  }
  return lines;
}

/// Three digits are what a forecast is good for.
std::string rounded(double value) {
  const double size = std::abs(value);
  return size >= 100  ? fmt::format("{:.0f}", value)
         : size >= 10 ? fmt::format("{:.3g}", value)
                      : fmt::format("{:.2g}", value);
}

std::string whole(double value) {
  return fmt::format("{:.0f}", value);
}

std::string tenth(double value) {
  return fmt::format("{:.1f}", value);
}

std::string times(double count) {
  return count == 1 ? "once" : count == 2 ? "twice" : fmt::format("{:.0f} times", count);
}

class Summary {
public:
  /// With `ensemble`: `result` holds its medians.
  Summary(const PileDescription& pile, const ForecastResult& result, const SummaryStyle& style,
          const EnsembleResult* ensemble)
      : pile_(pile), result_(result), style_(style), ensemble_(ensemble),
        degree_(display_unit("degC", style.units)), start_(models::parse_time(pile.start)) {}

  std::string text() {
    std::vector<std::string> head = {cut(clean(pile_.title, style_.utf8)), build_line(), ""};
    append(head, labelled("", heat(), 2, 0));
    append(head, labelled("", readiness(), 3, 0));
    append(head, {""});
    std::vector<std::string> tail = {""};
    append(tail, facts());
    append(tail, remarks());
    append(tail, saved());

    const std::size_t taken = head.size() + tail.size();
    std::vector<std::string> chart;
    if (taken + shortest_chart <= summary_lines) {
      chart = temperature_chart(
          pile_, result_, {summary_columns - 2, std::min(tallest_chart, summary_lines - taken)},
          {style_.utf8, style_.units},
          ensemble_ == nullptr ? nullptr : ensemble_->band("core_temperature"));
    }
    append(head, std::move(chart));
    append(head, std::move(tail));
    head.resize(std::min(head.size(), summary_lines));
    return fmt::format("{}\n", joined(head, "\n"));
  }

private:
  static void append(std::vector<std::string>& lines, std::vector<std::string> more) {
    lines.insert(lines.end(), std::make_move_iterator(more.begin()),
                 std::make_move_iterator(more.end()));
  }

  /// "13 m3"
  [[nodiscard]] std::string with_unit(double value, std::string_view metric_unit) const {
    const DisplayUnit display = unit(metric_unit);
    return fmt::format("{} {}", rounded(display(value)), display.name);
  }

  [[nodiscard]] std::string degree_sign() const { return unit_sign(degree_.name, style_.utf8); }

  [[nodiscard]] double scalar(const std::string& name) const {
    const models::Scalar* found = result_.find_scalar(name);
    return found == nullptr ? missing : found->value;
  }

  [[nodiscard]] DisplayUnit in_percent(const std::string& name) const {
    const models::Scalar* found = result_.find_scalar(name);
    return {"%", found == nullptr || found->unit == "%" ? 1.0 : 100.0};
  }

  [[nodiscard]] DisplayUnit unit(std::string_view name) const {
    return display_unit(name, style_.units);
  }

  /// " (62 to 68)" of several runs; empty for one and where both ends read the same.
  [[nodiscard]] static std::string bracketed(const models::Spread& points,
                                             std::string (*shown)(double), const DisplayUnit& in) {
    const std::string low = shown(in(points.low));
    const std::string high = std::isfinite(points.high) ? shown(in(points.high)) : "beyond";
    return low == high || !std::isfinite(points.low) ? "" : fmt::format(" ({} to {})", low, high);
  }

  [[nodiscard]] std::string range(const std::string& name, std::string (*shown)(double),
                                  const DisplayUnit& in = {}) const {
    const models::RunValues* number = ensemble_ == nullptr ? nullptr : ensemble_->find(name);
    return number == nullptr ? "" : bracketed(ensemble_->spread_of(*number), shown, in);
  }

  /// Of the last value of a curve of shares, in percent.
  [[nodiscard]] std::string last_range(const std::string& name) const {
    const models::Band* band = ensemble_ == nullptr ? nullptr : ensemble_->band(name);
    if (band == nullptr || band->mid.empty()) {
      return {};
    }
    return bracketed({band->low.back(), band->mid.back(), band->high.back(), 0}, whole,
                     {"%", band->unit == "%" ? 1.0 : 100.0});
  }

  /// A share in percent, whatever unit it comes in.
  [[nodiscard]] double scalar_percent(const std::string& name) const {
    const models::Scalar* found = result_.find_scalar(name);
    return found == nullptr ? missing : found->unit == "%" ? found->value : 100 * found->value;
  }

  [[nodiscard]] double last_of(const std::string& name) const {
    const models::Series* series = result_.find_series(name);
    return series == nullptr || series->values.empty() ? missing : series->values.back();
  }

  [[nodiscard]] double first_of(const std::string& name) const {
    const models::Series* series = result_.find_series(name);
    return series == nullptr || series->values.empty() ? missing : series->values.front();
  }

  [[nodiscard]] std::vector<double> moisture_percent() const {
    const models::Series* series = result_.find_series("moisture_wet_basis");
    if (series == nullptr) {
      return {};
    }
    std::vector<double> percent = series->values;
    if (series->unit != "%") {
      std::ranges::for_each(percent, [](double& value) { value *= 100; });
    }
    return percent;
  }

  [[nodiscard]] double day_at(std::size_t index) const {
    return index < result_.time_h.size() ? result_.time_h[index] / 24.0 : missing;
  }

  [[nodiscard]] double last_day() const {
    return result_.time_h.empty() ? 0.0 : result_.time_h.back() / 24.0;
  }

  /// "day 12 (17 Oct)", days counted from the build.
  [[nodiscard]] std::string day_and_date(double day) const {
    std::string number = fmt::format("day {:.0f}", day);
    if (!start_) {
      return number;
    }
    static constexpr std::array<std::string_view, 12> months = {
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    const auto date = std::chrono::floor<std::chrono::days>(
        *start_ + std::chrono::hours(std::lround(24.0 * day)));
    const std::chrono::year_month_day ymd{date};
    return fmt::format("{} ({} {})", number, static_cast<unsigned>(ymd.day()),
                       months[static_cast<unsigned>(ymd.month()) - 1]);
  }

  [[nodiscard]] std::string build_line() const {
    const std::string_view kind = pile_.shape.kind == models::ShapeKind::windrow ? "Windrow"
                                  : pile_.shape.kind == models::ShapeKind::heap  ? "Heap"
                                  : pile_.shape.kind == models::ShapeKind::bin   ? "Bin"
                                                                                 : "One cell";
    double kg = 0;
    for (const models::Ingredient& ingredient : pile_.ingredients) {
      kg += ingredient.wet_mass_kg;
    }
    std::string line = std::string(kind);
    if (const double m3 = first_of("volume"); std::isfinite(m3)) {
      line += fmt::format(", {}", with_unit(m3, "m3"));
    }
    line += fmt::format(", {}, built {}; {:.4g} days", with_unit(kg, "kg"),
                        pile_.start.substr(0, pile_.start.find('T')), last_day());
    if (style_.stopped) {
      line += fmt::format(" of {:.4g}, stopped early", pile_.horizon_days);
    }
    return cut(line);
  }

  [[nodiscard]] std::string heat() const {
    // Above 55 germs and seeds die in days, the trade's usual mark; 45 is warm to the hand.
    constexpr double hot_degC = 55;
    constexpr double warm_degC = 45;
    const double peak = scalar("peak_temperature");
    if (!std::isfinite(peak)) {
      return "How hot it gets is not known.";
    }
    const std::string peak_text = fmt::format(
        "peak {:.0f} {}{} on day {:.1f}{}", degree_(peak), degree_sign(),
        range("peak_temperature", whole, degree_), scalar("peak_day"), range("peak_day", tenth));
    const double from = first_hot_day(hot_degC);
    if (peak >= hot_degC && std::isfinite(from)) {
      return fmt::format("Hot from day {:.1f}: {}, {:.1f} days{} above {:.0f} {}{}.", from,
                         peak_text, scalar("days_above_55"), range("days_above_55", tenth),
                         degree_(hot_degC), degree_sign(), hot_runs());
    }
    return peak >= warm_degC ? fmt::format("Warm, not hot: {}{}.", peak_text, hot_runs())
                             : fmt::format("Stays cool: {}{}.", peak_text, hot_runs());
  }

  /// "; hot in 72 of 100 runs", unless all agree.
  [[nodiscard]] std::string hot_runs() const {
    const models::RunValues* hot = ensemble_ == nullptr ? nullptr : ensemble_->find("hot_day");
    if (hot == nullptr) {
      return {};
    }
    const std::size_t runs = ensemble_->runs() - ensemble_->failed.size();
    const std::size_t count = runs - ensemble_->spread_of(*hot).missing;
    return count == 0 || count == runs ? "" : fmt::format("; hot in {} of {} runs", count, runs);
  }

  /// "day 20 (25 Oct) to day 31 (5 Nov)"
  [[nodiscard]] std::string days_between(const models::Spread& days) const {
    return fmt::format("{} to {}", day_and_date(days.low),
                       std::isfinite(days.high) ? day_and_date(days.high)
                                                : fmt::format("beyond day {:.0f}", last_day()));
  }

  /// When and how surely; empty for one run.
  [[nodiscard]] std::string readiness_of_runs() const {
    const models::RunValues* ready = ensemble_ == nullptr ? nullptr : ensemble_->find("ready_day");
    if (ready == nullptr) {
      return {};
    }
    const models::Spread days = ensemble_->spread_of(*ready);
    const std::size_t runs = ensemble_->runs() - ensemble_->failed.size();
    const std::string late =
        fmt::format("{} of {} runs not within {:.4g} days", days.missing, runs, last_day());
    if (days.missing == runs) {
      const std::string reason = in_style(ensemble_->reason(*ready));
      return fmt::format("Ready: in none of {} runs within {:.4g} days{}.", runs, last_day(),
                         reason.empty() ? "" : " (" + reason + ")");
    }
    if (std::isfinite(days.mid)) {
      return fmt::format("Ready: about {}, 80 % of the runs {}{}.", day_and_date(days.mid),
                         days_between(days), days.missing == 0 ? "" : "; " + late);
    }
    return fmt::format(
        "Ready: {}{}.", late,
        std::isfinite(days.low) ? fmt::format("; one in ten by {}", day_and_date(days.low)) : "");
  }

  [[nodiscard]] std::string readiness() const {
    if (std::string text = readiness_of_runs(); !text.empty()) {
      return text;
    }
    const models::Scalar* ready = result_.find_scalar("ready_day");
    if (ready == nullptr) {
      return "Ready: not judged.";
    }
    const std::string use = clean(models::use_title(models::judged_use(pile_)), style_.utf8);
    if (std::isfinite(ready->value)) {
      return fmt::format(
          "Ready: {} (judged for: {}){}.", day_and_date(ready->value), use,
          result_.decided_by.empty() ? "" : "; last came " + deciders_in_words(result_.decided_by));
    }
    const bool several = result_.decided_by.find(", ") != std::string::npos;
    const std::string why =
        several ? "missing: " + deciders_in_words(result_.decided_by) : in_style(ready->reason);
    return fmt::format("Not ready within {:.4g} days (judged for: {}){}{}.", last_day(), use,
                       why.empty() ? "" : ": ", why);
  }

  [[nodiscard]] double first_hot_day(double limit_degC) const {
    if (ensemble_ != nullptr) {
      return scalar("hot_day"); // the median of the days, not the day of the medians
    }
    const models::Series* core = result_.find_series("core_temperature");
    if (core != nullptr) {
      const auto found =
          std::ranges::find_if(core->values, [&](double value) { return value >= limit_degC; });
      if (found != core->values.end()) {
        return day_at(static_cast<std::size_t>(found - core->values.begin()));
      }
    }
    return missing;
  }

  [[nodiscard]] std::vector<std::string> facts() const {
    std::vector<std::string> lines;
    const auto add = [&lines](std::string_view label, const std::string& text) {
      if (!text.empty()) {
        append(lines, labelled(label, text, 2));
      }
    };
    add("Moisture", moisture_fact());
    add("Left", left_fact());
    add("Lost", lost_fact());
    add("Water", water_fact());
    add("Work", work_fact());
    add("Hygiene", hygiene_fact());
    add("Held back", limit_fact());
    add("Runs", runs_fact());
    return lines;
  }

  [[nodiscard]] std::string moisture_fact() const {
    const std::vector<double> percent = moisture_percent();
    if (percent.empty()) {
      return {};
    }
    const auto least = std::ranges::min_element(percent);
    std::string text =
        fmt::format("{:.0f} % at the build, {:.0f} %{} at the end, least {:.0f} % on day {:.0f}",
                    percent.front(), percent.back(), last_range("moisture_wet_basis"), *least,
                    day_at(static_cast<std::size_t>(least - percent.begin())));
    // Below it decay slows (common practice; the model's factor is one half near 40 %).
    constexpr double dry_percent = 45;
    const auto dry =
        std::ranges::find_if(percent, [](double value) { return value < dry_percent; });
    return text + (dry == percent.end() ? "; needs no water"
                                        : fmt::format("; below 45 % from {}: water it then",
                                                      day_and_date(day_at(static_cast<std::size_t>(
                                                          dry - percent.begin())))));
  }

  [[nodiscard]] std::string left_fact() const {
    std::string text;
    const double volume_m3 = last_of("volume");
    if (std::isfinite(volume_m3)) {
      const DisplayUnit volume = unit("m3");
      text = fmt::format("{} of {} {}", rounded(volume(volume_m3)),
                         rounded(volume(first_of("volume"))), volume.name);
      const double percent = scalar_percent("volume_fraction");
      if (std::isfinite(percent)) {
        text += fmt::format(" ({:.0f} %{})", percent,
                            range("volume_fraction", whole, in_percent("volume_fraction")));
      }
    }
    const double mass_kg = last_of("dry_mass") + last_of("water_mass");
    if (std::isfinite(mass_kg)) {
      const DisplayUnit mass = unit("kg");
      text += fmt::format("{}{} of {} {} ({} dry matter)", text.empty() ? "" : ", ",
                          rounded(mass(mass_kg)),
                          rounded(mass(first_of("dry_mass") + first_of("water_mass"))), mass.name,
                          with_unit(last_of("dry_mass"), "kg"));
    }
    return text;
  }

  [[nodiscard]] std::string lost_fact() const {
    const double carbon = scalar_percent("carbon_lost_fraction");
    const double nitrogen = scalar_percent("nitrogen_lost_fraction");
    std::string text;
    if (std::isfinite(carbon)) {
      text = fmt::format("{:.0f} %{} of the carbon", carbon,
                         range("carbon_lost_fraction", whole, in_percent("carbon_lost_fraction")));
    }
    if (std::isfinite(nitrogen)) {
      text +=
          fmt::format("{}{:.0f} %{} of the nitrogen", text.empty() ? "" : ", ", nitrogen,
                      range("nitrogen_lost_fraction", whole, in_percent("nitrogen_lost_fraction")));
    }
    return text;
  }

  [[nodiscard]] std::string water_fact() const {
    const double added = scalar("water_added");
    const double leachate = scalar("leachate");
    const DisplayUnit water = unit("L");
    const std::string_view words = style_.units == DisplayUnits::us ? "gallons" : "litres";
    std::string text;
    if (std::isfinite(added)) {
      text = added > 0 ? fmt::format("{}{} {} added", rounded(water(added)),
                                     range("water_added", rounded, water), words)
                       : fmt::format("none{} added", range("water_added", rounded, water));
    }
    if (std::isfinite(leachate)) {
      text += fmt::format("{}{}{} {} drained out", text.empty() ? "" : ", ",
                          rounded(water(leachate)), range("leachate", rounded, water), words);
    }
    return text;
  }

  [[nodiscard]] std::string work_fact() const {
    std::map<std::string, int> counts;
    std::string refused;
    for (const models::EventRecord& event : result_.events) {
      ++counts[event.kind];
      if (event.kind == "refused" && refused.empty()) {
        refused = event.reason;
      }
    }
    const double turns = scalar("turns");
    std::string text;
    if (std::isfinite(turns)) {
      text = turns > 0 ? fmt::format("turned {}{}", times(turns), range("turns", whole))
                       : fmt::format("never{} turned", range("turns", whole));
    }
    for (const auto& [kind, word] : {std::pair{"water", "watered"}, {"add", "added to"}}) {
      if (counts[kind] > 0) {
        text += fmt::format("{}{} {}", text.empty() ? "" : ", ", word, times(counts[kind]));
      }
    }
    if (const double hours = scalar("labour_hours"); std::isfinite(hours)) {
      text += fmt::format("{}{}{} hours of work in all", text.empty() ? "" : "; ", rounded(hours),
                          range("labour_hours", rounded));
    }
    if (counts["refused"] > 0) {
      text += fmt::format("{}not done {} ({})", text.empty() ? "" : "; ", times(counts["refused"]),
                          in_style(refused));
    }
    return text;
  }

  /// What the use asks of manure and food waste, and how much of the pile it reached.
  [[nodiscard]] std::string hygiene_fact() const {
    const models::Use use = models::judged_use(pile_);
    const models::HygieneRule* rule = models::find_hygiene_rule(use.hygiene_rule);
    if (rule == nullptr || !models::asks_for_hygiene(use, pile_)) {
      return {};
    }
    const std::string day_name = fmt::format("hygiene_met_day_{}", rule->key);
    const models::Scalar* day = result_.find_scalar(day_name);
    if (day == nullptr) {
      return {};
    }
    const double share = scalar(fmt::format("hygiene_volume_share_{}", rule->key));
    std::string text =
        std::isfinite(day->value)
            ? fmt::format("the heat of {} by {}{} at the probes", in_style(rule->title),
                          day_and_date(day->value), range(day_name, whole))
            : fmt::format("the heat of {} is not reached", in_style(rule->title));
    if (std::isfinite(share)) {
      text += fmt::format(", in {:.0f} % of the volume", 100 * share);
    }
    return text + "; an estimate, no proof: measure";
  }

  static std::string_view limit_words(std::string_view limit) {
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 7> words = {
        {{"none", "nothing"},
         {"cold", "cold"},
         {"hot", "its own heat"},
         {"dry", "too dry"},
         {"airless", "wet and airless"},
         {"food", "little food left"},
         {"nitrogen", "short of nitrogen"}}};
    const auto* const found =
        std::ranges::find_if(words, [&](const auto& pair) { return pair.first == limit; });
    return found == words.end() ? limit : found->second;
  }

  struct Stretch {
    std::string limit;
    double to_day;
  };

  [[nodiscard]] std::string runs_fact() const {
    if (ensemble_ == nullptr) {
      return {};
    }
    std::set<std::string> years;
    for (const std::string& start : ensemble_->start) {
      years.insert(start.substr(0, start.find('-')));
    }
    std::string text = fmt::format("{}; in brackets where 80 % of them lie", ensemble_->runs());
    if (years.size() > 1) {
      text += fmt::format(", weather of {} years", years.size());
    }
    if (!ensemble_->failed.empty()) {
      const std::size_t count = ensemble_->failed.size();
      text += fmt::format("; {} failed and {} not count", count, count == 1 ? "does" : "do");
    }
    return text;
  }

  /// What held it back on most hours of each day, equal days together.
  [[nodiscard]] std::vector<Stretch> stretches() const {
    std::vector<Stretch> stretches;
    const std::size_t count = std::min(result_.limit.size(), result_.time_h.size());
    for (std::size_t begin = 0; begin < count;) {
      const double day = std::floor(day_at(begin));
      std::map<std::string, int> hours;
      std::size_t end = begin;
      for (; end < count && std::floor(day_at(end)) == day; ++end) {
        ++hours[result_.limit[end]];
      }
      const std::string most =
          std::ranges::max_element(hours, {}, [](const auto& pair) { return pair.second; })->first;
      if (!stretches.empty() && stretches.back().limit == most) {
        stretches.back().to_day = day_at(end - 1);
      } else {
        stretches.push_back({most, day_at(end - 1)});
      }
      begin = end;
    }
    return stretches;
  }

  [[nodiscard]] std::string limit_fact() const {
    const std::vector<Stretch> all = stretches();
    if (all.empty()) {
      return {};
    }
    const std::string now = fmt::format("now {}", limit_words(all.back().limit));
    constexpr std::size_t most_stretches = 5;
    std::vector<std::string> parts;
    if (all.size() == 1) {
      return fmt::format("by {} all the time", limit_words(all.front().limit));
    }
    if (all.size() <= most_stretches) {
      for (std::size_t i = 0; i + 1 < all.size(); ++i) {
        parts.push_back(fmt::format("{} to day {:.0f}", limit_words(all[i].limit), all[i].to_day));
      }
      return fmt::format("{}; {}", joined(parts), now);
    }
    // Too many changes to list: shares of the time, the largest first.
    std::map<std::string, double> days;
    double before = 0;
    for (const Stretch& stretch : all) {
      days[stretch.limit] += stretch.to_day - before;
      before = stretch.to_day;
    }
    std::vector<std::pair<double, std::string>> order;
    order.reserve(days.size());
    for (const auto& [limit, sum] : days) {
      order.emplace_back(sum, limit);
    }
    std::ranges::sort(order, std::greater<>());
    for (const auto& [sum, limit] : order) {
      parts.push_back(fmt::format("{} {:.0f} % of the time", limit_words(limit),
                                  100 * sum / std::max(before, 1e-9)));
    }
    return fmt::format("{}; {}", joined(parts), now);
  }

  /// Warnings of the run, cautions, and what the weather had to be completed with.
  [[nodiscard]] std::vector<std::string> remarks() const {
    std::vector<std::string> lines;
    constexpr std::size_t most_warnings = 2;
    for (std::size_t i = 0; i < std::min(most_warnings, result_.warnings.size()); ++i) {
      append(lines, labelled("Warning", in_style(result_.warnings[i]), 2));
    }
    if (result_.warnings.size() > most_warnings) {
      append(lines, labelled("",
                             fmt::format("and {} more; --json lists them all",
                                         result_.warnings.size() - most_warnings),
                             1));
    }
    append(lines, cautions());
    if (pile_.weather && !pile_.weather->estimates.empty()) {
      std::vector<std::string> columns;
      for (const models::WeatherEstimate& estimate : pile_.weather->estimates) {
        columns.push_back(in_style(estimate.column));
      }
      append(lines, labelled("Estimated", fmt::format("in the weather: {}", joined(columns)), 2));
    }
    return lines;
  }

  /// Those that this run gives a reason for, with its numbers.
  [[nodiscard]] std::vector<std::string> cautions() const {
    constexpr std::size_t most = 5;
    std::vector<std::string> lines;
    std::vector<std::string> left_out;
    for (const models::Caution& one :
         models::cautions(ensemble_ == nullptr ? models::caution_figures(pile_, result_)
                                               : models::caution_figures(pile_, *ensemble_))) {
      if (!one.applies) {
        continue;
      }
      if (lines.size() >= most) {
        left_out.push_back(one.title);
        continue;
      }
      const std::string finding = one.finding.empty() ? "" : fmt::format(" ({})", one.finding);
      append(lines, labelled("Caution",
                             in_style(fmt::format("{}: {}{}.", one.title, one.brief, finding)), 2));
    }
    if (!left_out.empty()) {
      append(lines, labelled("", in_style(fmt::format("also: {}", joined(left_out))), 1));
    }
    return lines;
  }

  /// A sentence of the models in the style's letters and units.
  [[nodiscard]] std::string in_style(std::string_view sentence) const {
    std::string text = in_display_units(sentence, style_.units);
    constexpr std::string_view sign = "°";
    for (auto at = text.find(sign); !style_.utf8 && at != std::string::npos; at = text.find(sign)) {
      text.replace(at, sign.size(), "deg");
    }
    return clean(text, style_.utf8);
  }

  [[nodiscard]] std::vector<std::string> saved() const {
    if (style_.saved.empty()) {
      return labelled("Saved", "nothing; -o FILE.h5 keeps the numbers, --report FILE.html a report",
                      1);
    }
    std::vector<std::string> names;
    for (const std::string& name : style_.saved) {
      names.push_back(clean(name, style_.utf8));
    }
    return labelled("Saved", joined(names), 3);
  }

  const PileDescription& pile_;
  const ForecastResult& result_;
  const SummaryStyle& style_;
  const EnsembleResult* ensemble_;
  DisplayUnit degree_;
  std::optional<models::LocalHours> start_;
};

} // namespace

std::string summary(const PileDescription& pile, const ForecastResult& result,
                    const SummaryStyle& style) {
  return Summary(pile, result, style, nullptr).text();
}

std::string summary(const PileDescription& pile, const EnsembleResult& ensemble,
                    const SummaryStyle& style) {
  const ForecastResult result = models::medians(ensemble);
  return Summary(pile, result, style, &ensemble).text();
}

} // namespace heapcast::cli
