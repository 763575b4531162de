#include "cli/input/section.hpp"

#include "cli/input/condition.hpp"
#include "cli/input/use_criterion.hpp"
#include "cli/joined.hpp"
#include "engine/nearest.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <limits>
#include <sstream>
#include <stdexcept>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// The value as it stands in the file, or what kind of thing it is.
std::string written(const toml::node& node) {
  if (node.is_table()) {
    return "a table";
  }
  if (node.is_array()) {
    return "a list";
  }
  std::ostringstream out;
  node.visit([&out](const auto& value) {
    if constexpr (toml::is_string<decltype(value)>) {
      out << '"' << *value << '"';
    } else if constexpr (toml::is_boolean<decltype(value)>) {
      out << (*value ? "true" : "false");
    } else if constexpr (toml::is_value<decltype(value)>) {
      out << *value;
    }
  });
  return printable(out.str(), 60);
}

/// A number as it would be written in front of a unit.
std::optional<std::string> bare_number(const toml::node& node) {
  if (const auto* whole = node.as_integer()) {
    return fmt::format("{}", whole->get());
  }
  if (const auto* real = node.as_floating_point()) {
    return fmt::format("{}", real->get());
  }
  return std::nullopt;
}

std::optional<double> number_value(const toml::node& node) {
  if (const auto* whole = node.as_integer()) {
    return static_cast<double>(whole->get());
  }
  if (const auto* real = node.as_floating_point()) {
    return real->get();
  }
  return std::nullopt;
}

std::string example_line(const Key& row) {
  return row.example.empty() ? row.name : fmt::format("{} = {}", row.name, row.example);
}

std::string range_text(const Key& row) {
  return fmt::format("{} to {}", row.low, row.high);
}

/// A date, with or without an hour, as the file has it; a date alone is at the working hour.
std::optional<models::LocalHours> moment(const toml::node& node, int work_hour) {
  std::string text;
  if (const auto* string = node.as_string()) {
    text = string->get();
  } else if (const auto* date = node.as_date()) {
    const toml::date& d = date->get();
    text = fmt::format("{:04}-{:02}-{:02}", d.year, d.month, d.day);
  } else if (const auto* date_time = node.as_date_time()) {
    const toml::date_time& t = date_time->get();
    if (t.is_local() && t.time.nanosecond == 0) {
      text = fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}", t.date.year, t.date.month,
                         t.date.day, t.time.hour, t.time.minute, t.time.second);
    }
  }
  if (const auto date = models::parse_date(text)) {
    return models::LocalHours(*date) + std::chrono::hours(work_hour);
  }
  return models::parse_time(text);
}

/// Calls `read` on the node, or on each of its elements when it is a list.
template <class Read> void for_each_element(const toml::node& node, Read&& read) {
  if (const auto* list = node.as_array()) {
    for (const toml::node& element : *list) {
      read(element);
    }
  } else {
    read(node);
  }
}

} // namespace

Section::Section(const toml::table* table, std::string name, ReadingContext& context)
    : table_(table), name_(std::move(name)), context_(&context),
      rows_(keys_of(context.keys, name_)), read_(rows_.size(), false) {}

bool Section::has(std::string_view key) const {
  return table_ != nullptr && table_->get(key) != nullptr;
}

std::string Section::heading() const {
  if (name_.empty()) {
    return "the file";
  }
  const auto dot = name_.rfind('.');
  const std::string parent = dot == std::string::npos ? "" : name_.substr(0, dot);
  const std::string own = dot == std::string::npos ? name_ : name_.substr(dot + 1);
  const auto rows = keys_of(context_->keys, parent);
  const auto row =
      std::ranges::find_if(rows, [&](const Key* candidate) { return candidate->name == own; });
  const bool many = row != rows.end() && (*row)->kind == ValueKind::tables;
  return many ? fmt::format("[[{}]]", name_) : fmt::format("[{}]", name_);
}

const Key& Section::row(std::string_view key, ValueKind kind) {
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    if (rows_[i]->name == key) {
      if (rows_[i]->kind != kind) {
        throw std::logic_error(fmt::format("key {}.{} is read as another kind", name_, key));
      }
      read_[i] = true;
      return *rows_[i];
    }
  }
  throw std::logic_error(fmt::format("key {}.{} is no row of the table of keys", name_, key));
}

/// The key's value, or null; a required key that is missing is a fault.
const toml::node* Section::find(const Key& row) {
  if (table_ == nullptr) {
    return nullptr;
  }
  const toml::node* value = table_->get(row.name);
  if (value == nullptr && row.required) {
    if (row.kind == ValueKind::table || row.kind == ValueKind::tables) {
      const std::string full = name_.empty() ? row.name : name_ + "." + row.name;
      const std::string shown =
          row.kind == ValueKind::tables ? fmt::format("[[{}]]", full) : fmt::format("[{}]", full);
      context_->faults.add(table_->source(), fmt::format("{} has no {} section", heading(), shown),
                           fmt::format("add {}: {}", shown, row.meaning));
    } else {
      context_->faults.add(table_->source(),
                           fmt::format("{} has no key \"{}\"", heading(), row.name),
                           fmt::format("add {} ({})", example_line(row), row.meaning));
    }
  }
  return value;
}

void Section::fault_at(const toml::node& node, std::string_view what, std::string_view remedy) {
  context_->faults.add(node.source(), what, remedy);
}

void Section::fault(std::string_view key, std::string_view what, std::string_view remedy) {
  const toml::node* node = table_ == nullptr ? nullptr : table_->get(key);
  const toml::source_region nowhere{};
  context_->faults.add(node != nullptr     ? node->source()
                       : table_ != nullptr ? table_->source()
                                           : nowhere,
                       what, remedy);
}

std::string Section::where(std::string_view key) const {
  const toml::node* node = table_ == nullptr ? nullptr : table_->get(key);
  return node == nullptr ? context_->faults.file() : location(context_->faults.file(), *node);
}

void Section::wrong_type(const Key& row, const toml::node& node) {
  std::string_view wanted;
  switch (row.kind) {
  case ValueKind::text:
  case ValueKind::choice:
  case ValueKind::texts:
  case ValueKind::conditions:
  case ValueKind::criteria:
  case ValueKind::weekdays:
    wanted = "a text in quotes";
    break;
  case ValueKind::flag:
    wanted = "true or false";
    break;
  case ValueKind::whole:
    wanted = "a whole number";
    break;
  case ValueKind::number:
    wanted = "a number";
    break;
  case ValueKind::quantity:
  case ValueKind::amount:
  case ValueKind::monthly:
  case ValueKind::property:
    wanted = "a number with its unit, in quotes";
    break;
  case ValueKind::date:
    wanted = "a date";
    break;
  case ValueKind::day:
  case ValueKind::days:
    wanted = "a day since the build or a date";
    break;
  case ValueKind::table:
  case ValueKind::tables:
    wanted = "a section";
    break;
  case ValueKind::any:
    wanted = "a list";
    break;
  }
  fault_at(node, fmt::format("{} is {}, but {} is needed", row.name, written(node), wanted),
           fmt::format("write {}", example_line(row)));
}

std::string Section::text(std::string_view key) {
  const Key& r = row(key, ValueKind::text);
  const toml::node* node = find(r);
  if (node == nullptr) {
    return r.initial;
  }
  const auto* string = node->as_string();
  if (string == nullptr) {
    wrong_type(r, *node);
    return r.initial;
  }
  if (string->get().empty()) {
    fault_at(*node, fmt::format("{} is empty", key), fmt::format("write {}", example_line(r)));
  }
  return string->get();
}

std::string Section::choice(std::string_view key) {
  const Key& r = row(key, ValueKind::choice);
  const toml::node* node = find(r);
  if (node == nullptr) {
    return r.initial;
  }
  const auto* string = node->as_string();
  if (string == nullptr) {
    wrong_type(r, *node);
    return r.initial;
  }
  if (std::ranges::find(r.choices, string->get()) == r.choices.end()) {
    const std::string meant = engine::nearest(string->get(), r.choices);
    fault_at(*node,
             fmt::format("{} is {}, which it cannot be{}", key, written(*node),
                         meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
             fmt::format("write one of \"{}\"", joined(r.choices, "\", \"")));
    return r.initial;
  }
  return string->get();
}

bool Section::flag(std::string_view key) {
  const Key& r = row(key, ValueKind::flag);
  const toml::node* node = find(r);
  if (node != nullptr && node->is_boolean()) {
    return node->as_boolean()->get();
  }
  if (node != nullptr) {
    wrong_type(r, *node);
  }
  return r.initial == "true";
}

int Section::whole(std::string_view key, int otherwise) {
  const Key& r = row(key, ValueKind::whole);
  const toml::node* node = find(r);
  const int initial = r.initial.empty() ? otherwise : static_cast<int>(parse_number(r.initial));
  if (node == nullptr) {
    return initial;
  }
  const auto* value = node->as_integer();
  if (value == nullptr) {
    wrong_type(r, *node);
    return initial;
  }
  const auto low = static_cast<std::int64_t>(parse_number(r.low));
  const auto high = static_cast<std::int64_t>(parse_number(r.high));
  if (!(value->get() >= low && value->get() <= high)) {
    fault_at(*node, fmt::format("{} is {}, outside {}", key, value->get(), range_text(r)),
             fmt::format("write {} to {}, for example {}", r.low, r.high, example_line(r)));
    return initial;
  }
  return static_cast<int>(value->get());
}

double Section::number(std::string_view key) {
  const Key& r = row(key, ValueKind::number);
  const toml::node* node = find(r);
  const double initial = r.initial.empty() ? missing : parse_number(r.initial);
  if (node == nullptr) {
    return initial;
  }
  std::optional<double> value = number_value(*node);
  if (const auto* string = node->as_string()) {
    std::string_view digits = string->get();
    if (!r.counts.empty() && digits.ends_with(r.counts)) {
      digits.remove_suffix(r.counts.size());
    }
    try {
      value = parse_number(digits);
    } catch (const UnitError&) {
      fault_at(*node,
               fmt::format("{} is {}, which is no number{}", key, written(*node),
                           r.counts.empty() ? "" : " in " + r.counts),
               fmt::format("write the number alone{}: {}",
                           r.counts.empty() ? "" : ", in " + r.counts, example_line(r)));
      return initial;
    }
  }
  if (!value) {
    wrong_type(r, *node);
    return initial;
  }
  if (!(*value >= parse_number(r.low) && *value <= parse_number(r.high))) {
    const std::string unit = r.counts.empty() ? "" : " " + r.counts;
    fault_at(*node, fmt::format("{} is {}{}, outside {}{}", key, *value, unit, range_text(r), unit),
             fmt::format("write a value inside the range ({})", r.meaning));
    return initial;
  }
  return *value;
}

/// Reads a quantity of the row, checks it against the row's range and records what is wrong.
std::optional<double> Section::read_quantity(const Key& row, const toml::node& node,
                                             Dimension dimension) {
  std::string text;
  if (const auto* string = node.as_string()) {
    text = string->get();
  } else if (const auto number = bare_number(node)) {
    text = row.counts.empty() ? *number : fmt::format("{} {}", *number, row.counts);
  } else {
    wrong_type(row, node);
    return std::nullopt;
  }
  try {
    const double value = parse_quantity(text, dimension, context_->measures);
    if (!(row.low.empty() || (value >= parse_quantity(row.low, dimension) &&
                              value <= parse_quantity(row.high, dimension)))) {
      fault_at(node, fmt::format("{} is {}, outside {}", row.name, written(node), range_text(row)),
               fmt::format("write {}, for example {} ({})", range_text(row), example_line(row),
                           row.meaning));
      return std::nullopt;
    }
    return value;
  } catch (const UnitError& error) {
    fault_at(node, fmt::format("{}: {}", row.name, error.what()),
             fmt::format("{}: {}", error.remedy(), example_line(row)));
    return std::nullopt;
  }
}

double Section::initial_quantity(const Key& row) const {
  return row.initial.empty() ? missing : parse_quantity(row.initial, row.dimension);
}

double Section::quantity(std::string_view key) {
  const Key& r = row(key, ValueKind::quantity);
  const toml::node* node = find(r);
  const double initial = initial_quantity(r);
  return node == nullptr ? initial : read_quantity(r, *node, r.dimension).value_or(initial);
}

std::vector<double> Section::monthly(std::string_view key) {
  constexpr std::size_t months = 12;
  const Key& r = row(key, ValueKind::monthly);
  const toml::node* node = find(r);
  std::vector<double> values;
  if (node == nullptr) {
    return values;
  }
  std::size_t given = 0;
  bool sound = true;
  const auto take = [&](const toml::node& element, const std::string& text) {
    ++given;
    if (!sound) {
      return; // one fault tells what is wrong with all
    }
    try {
      const double value = parse_quantity(text, r.dimension);
      if (!(value >= parse_quantity(r.low, r.dimension) &&
            value <= parse_quantity(r.high, r.dimension))) {
        fault_at(
            element,
            fmt::format("{} of month {} is \"{}\", outside {}", key, given, text, range_text(r)),
            fmt::format("write {} ({})", range_text(r), r.meaning));
        sound = false;
        return;
      }
      values.push_back(value);
    } catch (const UnitError& error) {
      sound = false;
      fault_at(element, fmt::format("{} of month {}: {}", key, given, error.what()),
               fmt::format("{}: {}", error.remedy(), example_line(r)));
    }
  };
  if (const auto* list = node->as_array()) {
    for (const toml::node& element : *list) {
      const auto* string = element.as_string();
      const auto number = bare_number(element);
      if (string == nullptr && !number) {
        wrong_type(r, element);
        return {};
      }
      take(element, string != nullptr ? string->get() : *number);
    }
  } else if (const auto* string = node->as_string()) {
    std::istringstream words(string->get());
    std::vector<std::string> numbers;
    std::string unit;
    for (std::string word; words >> word;) {
      const bool numeric = word.find_first_not_of("+-.0123456789eE") == std::string::npos;
      if (numeric && unit.empty()) {
        numbers.push_back(word);
      } else {
        unit += (unit.empty() ? "" : " ") + word;
      }
    }
    for (const std::string& number : numbers) {
      take(*node, fmt::format("{} {}", number, unit));
    }
  } else {
    wrong_type(r, *node);
    return {};
  }
  if (given != months) {
    fault_at(*node, fmt::format("{} has {} values, but a year has 12 months", key, given),
             fmt::format("write twelve values, January first: {}", example_line(r)));
  }
  return given == months && values.size() == months ? values : std::vector<double>{};
}

Amount Section::amount(std::string_view key) {
  const Key& r = row(key, ValueKind::amount);
  const toml::node* node = find(r);
  if (node == nullptr) {
    return {};
  }
  std::string text;
  if (const auto* string = node->as_string()) {
    text = string->get();
  } else if (const auto number = bare_number(*node)) {
    text = *number;
  } else {
    wrong_type(r, *node);
    return {};
  }
  try {
    const Amount amount = parse_amount(text, context_->measures);
    // No pile that a farm builds weighs more; a slip of the unit does.
    constexpr double most_kg = 1e7;
    constexpr double most_m3 = 5e4;
    if (!(amount.kg > 0 || amount.m3 > 0) || amount.kg > most_kg || amount.m3 > most_m3) {
      fault_at(*node,
               fmt::format("{} is {}, outside above 0 to {:.0f} t or {:.0f} m3", key,
                           written(*node), most_kg / 1000, most_m3),
               fmt::format("write what goes in, for example {}", example_line(r)));
      return {};
    }
    return amount;
  } catch (const UnitError& error) {
    fault_at(*node, fmt::format("{}: {}", key, error.what()), error.remedy());
    return {};
  }
}

std::optional<models::LocalHours> Section::date(std::string_view key) {
  const Key& r = row(key, ValueKind::date);
  const toml::node* node = find(r);
  if (node == nullptr) {
    return std::nullopt;
  }
  const auto time = moment(*node, context_->work_hour);
  if (!time) {
    fault_at(*node,
             fmt::format("{} is {}, which is no date, or no date with a whole hour of local "
                         "standard time",
                         key, written(*node)),
             fmt::format("write {} or {} = \"2013-10-05T14:00\"", example_line(r), key));
    return time;
  }
  // The calendar's first year, and room for a forecast to end in a year of four digits.
  constexpr int first_year = 1583;
  constexpr int last_year = 9900;
  const int year = static_cast<int>(
      std::chrono::year_month_day(std::chrono::floor<std::chrono::days>(*time)).year());
  if (year < first_year || year > last_year) {
    fault_at(*node,
             fmt::format("{} is {}, outside the years {} to {}", key, written(*node), first_year,
                         last_year),
             fmt::format("write {}", example_line(r)));
    return std::nullopt;
  }
  return time;
}

/// A day since the build: a number of days, a time with its unit, or a date.
std::optional<double> Section::read_day(const Key& row, const toml::node& node) {
  // As far as a forecast can run.
  constexpr double last_day = 3650;
  std::optional<double> day;
  if (const auto time = moment(node, context_->work_hour)) {
    if (!context_->build) {
      return std::nullopt; // the missing date of the build is a fault of its own
    }
    day = static_cast<double>((*time - *context_->build).count()) / 24.0;
  } else if (const auto number = number_value(node)) {
    day = *number;
  } else if (const auto* string = node.as_string()) {
    try {
      day = parse_quantity(string->get(), Dimension::time) / models::seconds_per_day;
    } catch (const UnitError& error) {
      fault_at(node,
               fmt::format("{} is {}, which is neither a day since the build nor a date", row.name,
                           written(node)),
               fmt::format("write {}: a number of days, a time such as \"3 weeks\", or a date such "
                           "as \"2013-11-02\"",
                           example_line(row)));
      return std::nullopt;
    }
  } else {
    wrong_type(row, node);
    return std::nullopt;
  }
  if (!(*day >= 0 && *day <= last_day)) {
    fault_at(node,
             *day < 0 ? fmt::format("{} is {}, which is before the build", row.name, written(node))
                      : fmt::format("{} is {}, which is not within {} days of the build", row.name,
                                    written(node), last_day),
             fmt::format("write day 0 to {}, counted from the build", last_day));
    return std::nullopt;
  }
  return day;
}

double Section::day(std::string_view key, double otherwise) {
  const Key& r = row(key, ValueKind::day);
  const toml::node* node = find(r);
  return node == nullptr ? otherwise : read_day(r, *node).value_or(otherwise);
}

std::vector<double> Section::days(std::string_view key) {
  const Key& r = row(key, ValueKind::days);
  const toml::node* node = find(r);
  std::vector<double> days;
  if (node != nullptr) {
    for_each_element(*node, [&](const toml::node& element) {
      if (const auto day = read_day(r, element)) {
        days.push_back(*day);
      }
    });
  }
  std::ranges::sort(days);
  return days;
}

std::vector<std::string> Section::texts(std::string_view key) {
  const Key& r = row(key, ValueKind::texts);
  std::vector<std::string> texts;
  if (const toml::node* node = find(r)) {
    for_each_element(*node, [&](const toml::node& element) {
      if (const auto* string = element.as_string()) {
        texts.push_back(string->get());
      } else {
        wrong_type(r, element);
      }
    });
  }
  return texts;
}

template <class Item>
std::vector<Item> Section::phrases(const Key& row, Item (*parse)(std::string_view)) {
  const toml::node* node = find(row);
  std::vector<Item> items;
  if (node != nullptr) {
    for_each_element(*node, [&](const toml::node& element) {
      const auto* string = element.as_string();
      if (string == nullptr) {
        wrong_type(row, element);
        return;
      }
      try {
        items.push_back(parse(string->get()));
      } catch (const UnitError& error) {
        fault_at(element, fmt::format("{}: {}", row.name, error.what()), error.remedy());
      }
    });
  }
  return items;
}

std::vector<models::Condition> Section::conditions(std::string_view key) {
  return phrases(row(key, ValueKind::conditions), parse_condition);
}

std::vector<models::Criterion> Section::criteria(std::string_view key) {
  return phrases(row(key, ValueKind::criteria), parse_criterion);
}

std::vector<int> Section::weekdays(std::string_view key) {
  static const std::vector<std::string> names = {"monday", "tuesday",  "wednesday", "thursday",
                                                 "friday", "saturday", "sunday"};
  constexpr std::size_t shortest = 3;
  const Key& r = row(key, ValueKind::weekdays);
  const toml::node* node = find(r);
  std::vector<int> weekdays;
  if (node == nullptr) {
    return weekdays;
  }
  for_each_element(*node, [&](const toml::node& element) {
    const auto* string = element.as_string();
    if (string == nullptr) {
      wrong_type(r, element);
      return;
    }
    std::string word = string->get();
    std::ranges::transform(word, word.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const auto day = std::ranges::find_if(names, [&](const std::string& name) {
      return word.size() >= shortest && name.starts_with(word);
    });
    if (day == names.end()) {
      const std::string meant = engine::nearest(word, names);
      fault_at(element,
               fmt::format("{} is no day of the week{}", written(element),
                           meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
               fmt::format("write {}", example_line(r)));
      return;
    }
    weekdays.push_back(static_cast<int>(day - names.begin()));
  });
  std::ranges::sort(weekdays);
  weekdays.erase(std::unique(weekdays.begin(), weekdays.end()), weekdays.end());
  if (weekdays.empty() && node->is_array() && node->as_array()->empty()) {
    fault_at(*node, fmt::format("{} is an empty list: it would never be done", key),
             "name the days, or leave the key out");
  }
  return weekdays;
}

Section Section::table(std::string_view key) {
  const Key& r = row(key, ValueKind::table);
  const std::string full = name_.empty() ? r.name : name_ + "." + r.name;
  const toml::node* node = find(r);
  if (node != nullptr && !node->is_table()) {
    fault_at(*node, fmt::format("{} is {}, but a section is needed", full, written(*node)),
             fmt::format("write [{}] and its keys below it ({})", full, r.meaning));
    node = nullptr;
  }
  return {node == nullptr ? nullptr : node->as_table(), full, *context_};
}

std::vector<Section> Section::tables(std::string_view key) {
  const Key& r = row(key, ValueKind::tables);
  const std::string full = name_.empty() ? r.name : name_ + "." + r.name;
  const toml::node* node = find(r);
  std::vector<Section> sections;
  if (node == nullptr) {
    return sections;
  }
  const auto* list = node->as_array();
  if (list == nullptr || !list->is_homogeneous<toml::table>()) {
    fault_at(*node,
             fmt::format("{} is {}, but it may be there many times and needs double brackets", full,
                         node->is_table() ? "a single section" : written(*node)),
             fmt::format("write [[{}]] and its keys below it ({})", full, r.meaning));
    return sections;
  }
  for (const toml::node& element : *list) {
    sections.emplace_back(element.as_table(), full, *context_);
  }
  return sections;
}

std::vector<std::pair<std::string, std::string>> Section::free_texts() {
  const Key& r = row("*", ValueKind::text);
  std::vector<std::pair<std::string, std::string>> texts;
  if (table_ != nullptr) {
    for (const auto& [key, node] : *table_) {
      if (const auto* string = node.as_string()) {
        texts.emplace_back(key.str(), string->get());
      } else {
        fault_at(node, fmt::format("{} is {}, but a text is needed", key.str(), written(node)),
                 fmt::format("write {} = {} ({})", key.str(), r.example, r.meaning));
      }
    }
  }
  return texts;
}

void Section::read_measures() {
  const Key& r = row("*", ValueKind::amount);
  if (table_ == nullptr) {
    return;
  }
  for (const auto& [key, node] : *table_) {
    try {
      const auto* string = node.as_string();
      const auto number = bare_number(node);
      if (string == nullptr && !number) {
        fault_at(node, fmt::format("{} is {}, but an amount is needed", key.str(), written(node)),
                 fmt::format("write {} = {}", key.str(), r.example));
        continue;
      }
      context_->measures.add_measure(
          key.str(), parse_amount(string != nullptr ? string->get() : *number, UnitTable{}));
    } catch (const UnitError& error) {
      fault_at(node, error.what(), error.remedy());
    }
  }
}

const toml::node* Section::any(std::string_view key) {
  return find(row(key, ValueKind::any));
}

const toml::array* Section::list(std::string_view key) {
  const Key& r = row(key, ValueKind::any);
  const toml::node* node = find(r);
  if (node == nullptr) {
    return nullptr;
  }
  const auto* values = node->as_array();
  if (values == nullptr) {
    wrong_type(r, *node);
  } else if (values->empty()) {
    fault_at(*node, fmt::format("{} is an empty list", key),
             fmt::format("write {}", example_line(r)));
    return nullptr;
  }
  return values;
}

const toml::table* Section::for_properties() {
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    if (rows_[i]->kind == ValueKind::property) {
      read_[i] = true;
    }
  }
  return table_;
}

/// The choice that a key makes, by the file or as it is without; empty when it makes none.
std::string Section::chosen(std::string_view key) const {
  const auto row = std::ranges::find(rows_, key, [](const Key* one) { return one->name; });
  const auto* text = table_->get_as<std::string>(key);
  if (text != nullptr && std::ranges::find((*row)->choices, text->get()) != (*row)->choices.end()) {
    return text->get();
  }
  return (*row)->initial;
}

void Section::check(const KeyRule& rule) {
  using enum KeyRule::Kind;
  const auto said = [](const std::string& words, std::string_view key) {
    const auto at = words.find("{}");
    return at == std::string::npos ? words : std::string(words).replace(at, 2, key);
  };
  const auto given = std::ranges::count_if(rule.keys, [&](const auto& key) { return has(key); });
  if (rule.kind == at_least_one || rule.kind == exactly_one) {
    if (given == 0) {
      fault(rule.keys.front(), said(rule.what, heading()), rule.remedy);
    } else if (given > 1 && rule.kind == exactly_one) {
      fault(rule.keys.front(), said(rule.too_many, heading()), rule.remedy);
    }
    return;
  }
  const std::string choice = rule.kind == needs ? "" : chosen(rule.other);
  const auto broken = [&](const std::string& key) {
    switch (rule.kind) {
    case required_with:
      return choice == rule.choice && !has(key);
    case never_with:
      return choice == rule.choice && has(key);
    case needs:
      return has(key) && !has(rule.other);
    default:
      return has(key) && !choice.empty() && choice != rule.choice;
    }
  };
  for (const std::string& key : rule.keys) {
    if (broken(key)) {
      fault(rule.kind == required_with ? rule.other : key, said(rule.what, key),
            said(rule.remedy, key));
    }
  }
}

void Section::finish() {
  if (table_ == nullptr) {
    return;
  }
  for (const KeyRule& rule : context_->rules) {
    if (rule.section == name_) {
      check(rule);
    }
  }
  std::vector<std::string> names;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    if (!read_[i]) {
      throw std::logic_error(fmt::format("key {}.{} is never read", name_, rows_[i]->name));
    }
    names.push_back(rows_[i]->name);
  }
  if (names.size() == 1 && names.front() == "*") {
    return;
  }
  for (const auto& [key, node] : *table_) {
    if (std::ranges::find(names, key.str()) != names.end()) {
      continue;
    }
    const std::string meant = engine::nearest(key.str(), names);
    context_->faults.add(
        key.source(),
        fmt::format("{} has no key \"{}\"{}", heading(), printable(key.str(), 60),
                    meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
        meant.empty() ? fmt::format("use one of {}", joined(names))
                      : fmt::format("write {}", meant));
  }
}

} // namespace heapcast::cli
