#pragma once

#include "cli/input/pile_keys.hpp"
#include "cli/input/toml_faults.hpp"
#include "cli/input/units.hpp"
#include "models/pile.hpp"
#include "models/weather/calendar.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <toml++/toml.h>

namespace heapcast::cli {

/// What reading a section needs to know beside the section.
struct ReadingContext {
  TomlFaults faults;
  UnitTable measures;
  std::optional<models::LocalHours> build; ///< for dates; unknown while the site is being read
  int work_hour = 9;
  std::span<const Key> keys = pile_keys(); ///< of the kind of file that is read
  std::span<const KeyRule> rules = pile_rules();
};

/// One table of a pile file, read by the rows of `pile_keys()` for its section.
///
/// Each function reads one key, records the fault when it cannot be read or is out of its range,
/// and then gives the row's initial value; without one NaN, empty text or an empty list. A table
/// that is not there gives the initial values. Asking for a key that is no row is a
/// std::logic_error; `finish()` reports keys of the table that are no row.
class Section {
public:
  Section(const toml::table* table, std::string name, ReadingContext& context);

  [[nodiscard]] bool present() const { return table_ != nullptr; }
  [[nodiscard]] bool has(std::string_view key) const;

  [[nodiscard]] std::string text(std::string_view key);
  [[nodiscard]] std::string choice(std::string_view key);
  [[nodiscard]] bool flag(std::string_view key);
  [[nodiscard]] int whole(std::string_view key, int otherwise = 0);
  [[nodiscard]] double number(std::string_view key);               ///< in the row's unit
  [[nodiscard]] double quantity(std::string_view key);             ///< SI
  [[nodiscard]] std::vector<double> monthly(std::string_view key); ///< SI, twelve or none
  [[nodiscard]] Amount amount(std::string_view key);
  /// A date alone is at the working hour.
  [[nodiscard]] std::optional<models::LocalHours> date(std::string_view key);
  [[nodiscard]] double day(std::string_view key, double otherwise);
  [[nodiscard]] std::vector<double> days(std::string_view key);
  [[nodiscard]] std::vector<std::string> texts(std::string_view key);
  [[nodiscard]] std::vector<models::Condition> conditions(std::string_view key);
  [[nodiscard]] std::vector<models::Criterion> criteria(std::string_view key);
  [[nodiscard]] std::vector<int> weekdays(std::string_view key);

  [[nodiscard]] Section table(std::string_view key);
  [[nodiscard]] std::vector<Section> tables(std::string_view key);

  /// All keys of a section whose row is "*", read as texts or amounts.
  [[nodiscard]] std::vector<std::pair<std::string, std::string>> free_texts();
  void read_measures();

  /// A value of any type, or nullptr when it is not there.
  [[nodiscard]] const toml::node* any(std::string_view key);
  /// The list at a key whose value may be of any type; a fault when it is none, or is empty.
  [[nodiscard]] const toml::array* list(std::string_view key);

  /// The table, for the reader of material properties, which takes them all.
  [[nodiscard]] const toml::table* for_properties();

  /// Records a fault at this key's value, or at the section when it has none.
  void fault(std::string_view key, std::string_view what, std::string_view remedy);
  /// Records a fault at a value in this section.
  void fault_at(const toml::node& node, std::string_view what, std::string_view remedy);
  [[nodiscard]] std::string where(std::string_view key) const;

  /// Reports keys that are no row, with the nearest that is, and keys that break a rule of the
  /// section. To be called when all is read.
  void finish();

private:
  const Key& row(std::string_view key, ValueKind kind);
  void check(const KeyRule& rule);
  [[nodiscard]] std::string chosen(std::string_view key) const;
  template <class Item> std::vector<Item> phrases(const Key& row, Item (*parse)(std::string_view));
  const toml::node* find(const Key& row);
  void wrong_type(const Key& row, const toml::node& node);
  std::optional<double> read_quantity(const Key& row, const toml::node& node, Dimension dimension);
  std::optional<double> read_day(const Key& row, const toml::node& node);
  double initial_quantity(const Key& row) const;
  [[nodiscard]] std::string heading() const;

  const toml::table* table_;
  std::string name_; ///< dotted, as in the rows
  ReadingContext* context_;
  std::vector<const Key*> rows_;
  std::vector<bool> read_;
};

} // namespace heapcast::cli
