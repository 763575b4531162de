#include "cli/input/material_file.hpp"

#include "cli/input/parse_toml.hpp"
#include "cli/input/toml_location.hpp"
#include "cli/input/units.hpp"
#include "engine/nearest.hpp"
#include "models/materials/bulk_density.hpp"
#include "models/materials/material_property.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::Material;
using models::MaterialProperty;

constexpr std::string_view ratio_key = "carbon_to_nitrogen";
constexpr std::string_view lignin_key = "lignin";
constexpr double largest_ratio = 5000;

constexpr auto groups = std::to_array<std::string_view>(
    {"green", "brown", "manure", "food", "wood", "mineral", "compost"});
constexpr auto provenances =
    std::to_array<std::string_view>({"read", "memory", "common-practice", "computed", "judgement"});
constexpr auto text_keys = std::to_array<std::string_view>({"name", "title", "group"});
constexpr auto note_keys =
    std::to_array<std::string_view>({"value", "low", "high", "unit", "provenance", "source"});

template <class Words> std::string listed(const Words& words) {
  std::string text;
  for (const auto& word : words) {
    text += text.empty() ? "" : ", ";
    text += word;
  }
  return text;
}

std::vector<std::string> property_keys() {
  std::vector<std::string> keys;
  for (const MaterialProperty& property : models::material_properties()) {
    keys.emplace_back(property.key);
  }
  keys.emplace_back(ratio_key);
  return keys;
}

Fault unknown_key(std::string_view key, std::string where, const std::vector<std::string>& known) {
  const std::string meant = engine::nearest(key, known);
  return {std::move(where), fmt::format("unknown key \"{}\"", key),
          meant.empty() ? fmt::format("the keys are {}", listed(known))
                        : fmt::format("did you mean \"{}\"?", meant)};
}

void check_group(const std::string& group, std::string where, std::vector<Fault>& faults) {
  if (std::ranges::find(groups, group) == groups.end()) {
    faults.push_back({std::move(where), fmt::format("\"{}\" is not a group", group),
                      fmt::format("write one of {}", listed(groups))});
  }
}

/// Reads one material data file; collects faults instead of stopping at the first.
class MaterialReader {
public:
  MaterialReader(const toml::table& table, const std::string& file) : table_(table), file_(file) {}

  models::MaterialRecord read() {
    refuse_unknown_keys();
    read_words();
    std::optional<models::PropertyNote> ratio;
    for (const MaterialProperty& property : models::material_properties()) {
      if (const auto note = read_note(property.key, property.unit, property.low, property.high)) {
        record_.material.*property.member = note->value * property.factor;
        record_.notes.push_back(*note);
      }
      if (property.member == &Material::nitrogen_dry_basis) {
        ratio = read_note(ratio_key, "-", 0, largest_ratio);
        if (ratio) {
          record_.notes.push_back(*ratio);
        }
      }
    }
    if (faults_.empty()) {
      check_ratio(ratio->value);
      std::ranges::move(models::material_faults(record_.material, location(file_, table_)),
                        std::back_inserter(faults_));
    }
    if (!faults_.empty()) {
      throw InputError(std::move(faults_));
    }
    return std::move(record_);
  }

private:
  void fault(const toml::node& node, std::string what, std::string remedy) {
    faults_.push_back({location(file_, node), std::move(what), std::move(remedy)});
  }

  void refuse_unknown_keys() {
    std::vector<std::string> known(text_keys.begin(), text_keys.end());
    known.emplace_back("words");
    known.emplace_back("note");
    std::ranges::move(property_keys(), std::back_inserter(known));
    for (const auto& [key, node] : table_) {
      if (std::ranges::find(known, key.str()) == known.end()) {
        faults_.push_back(unknown_key(key.str(), location(file_, key.source()), known));
      }
    }
  }

  std::string text(std::string_view key) {
    const toml::node* node = table_.get(key);
    const auto value = node != nullptr ? node->value_exact<std::string>() : std::nullopt;
    if (!value || value->empty()) {
      fault(node != nullptr ? *node : table_, fmt::format("\"{}\" is not given as text", key),
            fmt::format("write {} = \"...\"", key));
      return {};
    }
    return *value;
  }

  void read_words() {
    Material& material = record_.material;
    material.name = text("name");
    material.title = text("title");
    material.group = text("group");
    if (table_.contains("note")) {
      record_.remark = text("note");
    }
    if (!material.group.empty()) {
      check_group(material.group, location(file_, *table_.get("group")), faults_);
    }
    const toml::node* node = table_.get("words");
    const toml::array* words = node != nullptr ? node->as_array() : nullptr;
    if (words == nullptr || !(words->empty() || words->is_homogeneous<std::string>())) {
      fault(node != nullptr ? *node : table_, "\"words\" is not a list of texts",
            "write words = [\"...\", \"...\"]");
      return;
    }
    for (const toml::node& word : *words) {
      material.words.push_back(*word.value<std::string>());
    }
  }

  std::optional<models::PropertyNote> read_note(std::string_view key, std::string_view unit,
                                                double least, double most) {
    const toml::node* node = table_.get(key);
    const toml::table* table = node != nullptr ? node->as_table() : nullptr;
    const std::string form = fmt::format("write {} = {{ value = ..., low = ..., high = ..., unit = "
                                         "\"{}\", provenance = \"...\", source = \"...\" }}",
                                         key, unit);
    if (table == nullptr) {
      fault(node != nullptr ? *node : table_,
            fmt::format("\"{}\" is {}", key, node != nullptr ? "not a table" : "missing"), form);
      return std::nullopt;
    }
    const std::size_t faults_before = faults_.size();
    for (const auto& [own_key, own_node] : *table) {
      if (std::ranges::find(note_keys, own_key.str()) == note_keys.end()) {
        faults_.push_back(unknown_key(own_key.str(), location(file_, own_key.source()),
                                      {note_keys.begin(), note_keys.end()}));
      }
    }
    const auto number = [&](std::string_view name) {
      const toml::node* own = table->get(name);
      if (own == nullptr || !own->is_number()) {
        fault(own != nullptr ? *own : *node, fmt::format("{} has no number \"{}\"", key, name),
              form);
        return 0.0;
      }
      return *own->value<double>();
    };
    const auto words = [&](std::string_view name) {
      const toml::node* own = table->get(name);
      const auto value = own != nullptr ? own->value_exact<std::string>() : std::nullopt;
      if (!value || value->empty()) {
        fault(own != nullptr ? *own : *node, fmt::format("{} has no text \"{}\"", key, name), form);
      }
      return value.value_or("");
    };
    models::PropertyNote note{std::string(key), number("value"), words("unit"),      number("low"),
                              number("high"),   words("source"), words("provenance")};
    if (faults_.size() != faults_before) {
      return std::nullopt;
    }
    if (note.unit != unit) {
      fault(*table->get("unit"), fmt::format("{} is in \"{}\"", key, note.unit),
            fmt::format("write the value in \"{}\"", unit));
    }
    if (std::ranges::find(provenances, note.provenance) == provenances.end()) {
      fault(*table->get("provenance"), fmt::format("\"{}\" is not a provenance", note.provenance),
            fmt::format("write one of {}", listed(provenances)));
    }
    if (!(note.value >= least && note.value <= most)) {
      fault(*table->get("value"), fmt::format("{} is {:g} {}", key, note.value, unit),
            fmt::format("{:g} to {:g} {} is allowed", least, most, unit));
    }
    if (!(note.low <= note.value && note.value <= note.high && note.low >= least &&
          note.high <= most)) {
      fault(*node,
            fmt::format("{} is {:g} with a range of {:g} to {:g} {}", key, note.value, note.low,
                        note.high, unit),
            fmt::format("the range must hold the value and lie within {:g} to {:g} {}", least, most,
                        unit));
    }
    return note;
  }

  void check_ratio(double stated) {
    // Four digits are written; half a percent leaves room for that and for nothing else.
    const double ratio = models::carbon_to_nitrogen(record_.material);
    if (!(std::abs(stated - ratio) <= 0.005 * ratio)) {
      fault(*table_.get(ratio_key),
            fmt::format("a C:N of {:g} does not follow from carbon {:g} % dry over nitrogen {:g} % "
                        "dry = {:.4g}",
                        stated, 100 * record_.material.carbon_dry_basis,
                        100 * record_.material.nitrogen_dry_basis, ratio),
            "let one of the three follow from the other two");
    }
  }

  const toml::table& table_;
  const std::string& file_;
  models::MaterialRecord record_;
  std::vector<Fault> faults_;
};

/// The dimension that each unit of the property table stands for.
Dimension dimension_of(const MaterialProperty& property) {
  static const std::map<std::string_view, Dimension> dimensions = {
      {"% wet", Dimension::fraction_wet},
      {"% dry", Dimension::fraction_dry},
      {"% of carbon", Dimension::fraction_of_carbon},
      {"% of nitrogen", Dimension::fraction_of_nitrogen},
      {"kg/m3", Dimension::mass_density},
      {"kg/kg", Dimension::water_ratio},
      {"mm", Dimension::length},
      {"pH", Dimension::acidity},
      {"%", Dimension::fraction},
      {"%/day", Dimension::rate_per_day},
  };
  return dimensions.at(property.unit);
}

/// Reads overrides into a material; collects faults.
class Overrides {
public:
  Overrides(Material& material, const toml::table& table, std::string_view file,
            std::vector<Fault>& faults)
      : material_(material), table_(table), file_(file), faults_(faults) {}

  void apply() {
    const std::vector<std::string> keys = material_override_keys();
    if (std::ranges::none_of(keys, [&](const std::string& key) { return given(key); })) {
      return;
    }
    const std::size_t faults_before = faults_.size();
    apply_moisture();
    apply_composition();
    apply_pools();
    for (const MaterialProperty& property : models::material_properties()) {
      if (!applied_.contains(property.key)) {
        set(property.key);
      }
    }
    if (faults_.size() == faults_before) {
      std::ranges::move(models::material_faults(material_, location(file_, table_)),
                        std::back_inserter(faults_));
    }
  }

private:
  [[nodiscard]] bool given(std::string_view key) const { return table_.contains(key); }

  void fault(std::string_view key, std::string what, std::string remedy) {
    faults_.push_back({location(file_, *table_.get(key)),
                       fmt::format("{}: {}", key, std::move(what)), std::move(remedy)});
  }

  /// The text of a key; a bare number becomes text, so that a missing unit is one kind of fault.
  std::optional<std::string> text(std::string_view key) {
    const toml::node& node = *table_.get(key);
    if (const auto words = node.value_exact<std::string>()) {
      return *words;
    }
    if (node.is_number()) {
      return fmt::format("{}", *node.value<double>());
    }
    fault(key, "is neither text nor a number", "write a quantity with its unit in quotes");
    return std::nullopt;
  }

  std::optional<double> quantity(std::string_view key, Dimension dimension) {
    const auto words = text(key);
    if (!words) {
      return std::nullopt;
    }
    try {
      return parse_quantity(*words, dimension);
    } catch (const UnitError& error) {
      fault(key, error.what(), error.remedy());
      return std::nullopt;
    }
  }

  bool says(std::string_view key, std::string_view word) const {
    const auto words = table_.get(key)->value_exact<std::string>();
    return words && words->find(word) != std::string::npos;
  }

  /// The value in the property's unit, on the basis the property has, within its range.
  std::optional<double> number(const MaterialProperty& property) {
    const auto [dimension, also] = property_dimensions(property.key);
    const bool as_received = also == Dimension::fraction_wet &&
                             (says(property.key, "wet") || says(property.key, "received"));
    const bool of_dry_matter = also == Dimension::fraction_dry && says(property.key, "dry");
    const auto si = quantity(property.key, as_received || of_dry_matter ? also : dimension);
    if (!si) {
      return std::nullopt;
    }
    double value = *si / parse_quantity(fmt::format("1 {}", property.unit), dimension);
    if (as_received) {
      value /= 1 - material_.moisture_wet_basis;
    }
    if (of_dry_matter) {
      value /= material_.nitrogen_dry_basis;
    }
    // Unit conversion may leave a limit a rounding outside.
    const double rounding = 1e-12 * property.high;
    if (!(value >= property.low - rounding && value <= property.high + rounding)) {
      fault(property.key,
            fmt::format("\"{}\" is {:.6g} {}", *text(property.key), value, property.unit),
            fmt::format("{:g} to {:g} {} is allowed ({})", property.low, property.high,
                        property.unit, property.meaning));
      return std::nullopt;
    }
    return value;
  }

  /// Sets the member of this key, if the key is given.
  void set(std::string_view key) {
    applied_.insert(key);
    if (!given(key)) {
      return;
    }
    const MaterialProperty& property = *models::find_material_property(key);
    if (const auto value = number(property)) {
      material_.*property.member = *value * property.factor;
    }
  }

  void apply_moisture() {
    const Material before = material_;
    set("moisture");
    if (given("moisture") && !given("bulk_density")) {
      material_.bulk_density_wet_kg_m3 =
          models::bulk_density_at_moisture_kg_m3(before, material_.moisture_wet_basis);
    }
  }

  void apply_composition() {
    const double carbon_in_solids =
        material_.volatile_solids_dry_basis > 0
            ? material_.carbon_dry_basis / material_.volatile_solids_dry_basis
            : 0;
    set("volatile_solids");
    if (given("volatile_solids") && !given("carbon")) {
      material_.carbon_dry_basis = carbon_in_solids * material_.volatile_solids_dry_basis;
    }
    set("carbon");
    set("nitrogen");
    if (given(ratio_key)) {
      apply_ratio();
    }
  }

  void apply_ratio() {
    const auto ratio = quantity(ratio_key, Dimension::ratio);
    if (!ratio) {
      return;
    }
    if (!(*ratio > 0 && *ratio <= largest_ratio)) {
      fault(ratio_key, fmt::format("{:g} is not a C:N", *ratio),
            fmt::format("write a number above 0 and up to {:g}", largest_ratio));
    } else if (given("carbon") && given("nitrogen")) {
      const double own = models::carbon_to_nitrogen(material_);
      if (!(std::abs(*ratio - own) <= 0.05 * own)) {
        fault(
            ratio_key,
            fmt::format("{:g} does not follow from carbon {:.4g} % dry over nitrogen {:.4g} % dry "
                        "= {:.4g}",
                        *ratio, 100 * material_.carbon_dry_basis,
                        100 * material_.nitrogen_dry_basis, own),
            "leave out one of the three");
      }
    } else if (given("nitrogen")) {
      material_.carbon_dry_basis = *ratio * material_.nitrogen_dry_basis;
    } else {
      material_.nitrogen_dry_basis = material_.carbon_dry_basis / *ratio;
    }
  }

  void apply_pools() {
    constexpr auto pools =
        std::to_array<std::string_view>({"fast", "medium", "slow", "resistant", "humus"});
    double given_share = 0;
    double other_share = 0;
    std::vector<double*> others;
    std::vector<double*> all;
    std::string_view first_given;
    for (const std::string_view pool : pools) {
      const MaterialProperty& property = *models::find_material_property(pool);
      set(pool);
      double& share = material_.*property.member;
      all.push_back(&share);
      if (given(pool)) {
        first_given = first_given.empty() ? pool : first_given;
        given_share += share;
      } else {
        others.push_back(&share);
        other_share += share;
      }
    }
    if (given(lignin_key)) {
      if (!first_given.empty()) {
        fault(lignin_key, fmt::format("is given together with {}", first_given),
              "give either lignin or the carbon pools");
        return;
      }
      apply_lignin();
    } else if (!first_given.empty()) {
      const bool complete = other_share <= 0;
      if (complete ? !(std::abs(given_share - 1) <= 0.01) : !(given_share <= 1 + 1e-9)) {
        fault(first_given,
              fmt::format("the carbon pools that are given make {:.4g} % of carbon",
                          100 * given_share),
              complete ? "all of them must make 100 %" : "together they may make up to 100 %");
        return;
      }
      for (double* share : complete ? all : others) {
        *share *= complete ? 1 / given_share : std::max(0.0, 1 - given_share) / other_share;
      }
    }
  }

  void apply_lignin() {
    const auto lignin = quantity(lignin_key, Dimension::fraction_of_solids);
    if (!lignin) {
      return;
    }
    if (!(*lignin >= 0 && *lignin <= 0.5)) {
      fault(lignin_key, fmt::format("\"{}\" is out of range", *text(lignin_key)),
            "0 to 50 % of VS is allowed");
      return;
    }
    const models::PoolShares pools = models::pools_from_lignin(*lignin);
    const double not_humus = 1 - material_.humus_fraction;
    material_.fast_fraction = pools.fast * not_humus;
    material_.medium_fraction = pools.medium * not_humus;
    material_.slow_fraction = pools.slow * not_humus;
    material_.resistant_fraction = pools.resistant * not_humus;
  }

  Material& material_;
  const toml::table& table_;
  std::string_view file_;
  std::vector<Fault>& faults_;
  std::set<std::string_view> applied_;
};

toml::table parsed(std::string_view text, const std::string& file_name) {
  try {
    return parse_toml(text, file_name);
  } catch (const toml::parse_error& error) {
    throw InputError(location(file_name, error.source()), std::string(error.description()),
                     "mend the TOML syntax");
  }
}

/// Reads a material file in its short form: `like` and the quantities that differ.
class OwnMaterialReader {
public:
  OwnMaterialReader(const toml::table& table, const std::string& file,
                    const models::MaterialLibrary& library)
      : table_(table), file_(file), library_(library) {}

  Material read() {
    refuse_unknown_keys();
    const std::string name = text("name", true);
    const std::string title = text("title", false);
    const std::string group = text("group", false);
    (void)text("note", false);
    if (!group.empty()) {
      check_group(group, location(file_, *table_.get("group")), faults_);
    }
    Material material = start(name);
    material.name = name;
    material.title = title.empty() ? name : title;
    material.group = group.empty() ? material.group : group;
    if (!faults_.empty()) {
      throw InputError(std::move(faults_));
    }
    return material;
  }

private:
  void refuse_unknown_keys() {
    std::vector<std::string> known = {"name", "title", "group", "note", "like"};
    std::ranges::move(material_override_keys(), std::back_inserter(known));
    for (const auto& [key, node] : table_) {
      if (std::ranges::find(known, key.str()) == known.end()) {
        faults_.push_back(unknown_key(key.str(), location(file_, key.source()), known));
      }
    }
  }

  std::string text(std::string_view key, bool required) {
    const toml::node* node = table_.get(key);
    if (node == nullptr && !required) {
      return {};
    }
    const auto value = node != nullptr ? node->value_exact<std::string>() : std::nullopt;
    if (!value || value->empty()) {
      faults_.push_back({location(file_, node != nullptr ? *node : table_),
                         fmt::format("\"{}\" is not given as text", key),
                         fmt::format("write {} = \"...\"", key)});
    }
    return value.value_or("");
  }

  /// The material it is like with what differs, or one given in full.
  Material start(const std::string& name) {
    if (!table_.contains("like")) {
      return material_given_in_full(name, table_, file_, faults_);
    }
    const std::string like = text("like", true);
    const models::MaterialRecord* record = library_.find(like);
    if (record == nullptr) {
      const std::string meant = engine::nearest(like, library_.names());
      faults_.push_back({location(file_, *table_.get("like")),
                         fmt::format("\"{}\" is not in the library", like),
                         meant.empty() ? "use a name that `heapcast materials` lists"
                                       : fmt::format("did you mean \"{}\"?", meant)});
      return {};
    }
    Material material = record->material;
    apply_overrides(material, table_, file_, faults_);
    return material;
  }

  const toml::table& table_;
  const std::string& file_;
  const models::MaterialLibrary& library_;
  std::vector<Fault> faults_;
};

} // namespace

models::MaterialRecord read_material(std::string_view text, const std::string& file_name) {
  const toml::table table = parsed(text, file_name);
  return MaterialReader(table, file_name).read();
}

Material read_own_material(std::string_view text, const std::string& file_name,
                           const models::MaterialLibrary& library) {
  const toml::table table = parsed(text, file_name);
  const std::vector<std::string> properties = property_keys();
  if (std::ranges::any_of(properties, [&](const std::string& key) {
        return table.get(key) != nullptr && table.get(key)->is_table();
      })) {
    return MaterialReader(table, file_name).read().material;
  }
  return OwnMaterialReader(table, file_name, library).read();
}

bool is_material(std::string_view text) {
  try {
    const toml::table tree = parse_toml(text, "");
    const auto has = [&](const std::string& key) { return tree.contains(key); };
    return has("like") || (has("name") && std::ranges::any_of(material_override_keys(), has));
  } catch (const std::exception&) {
    return false; // the reader of pile files says what is wrong with it
  }
}

models::MaterialLibrary load_builtin_library() {
  std::vector<models::MaterialRecord> records;
  for (const models::EmbeddedFile& file : models::embedded_material_files()) {
    records.push_back(read_material(file.text, std::string(file.name)));
  }
  return models::MaterialLibrary(std::move(records));
}

std::vector<std::string> material_override_keys() {
  std::vector<std::string> keys = property_keys();
  keys.emplace_back(lignin_key);
  return keys;
}

PropertyDimensions property_dimensions(std::string_view key) {
  if (key == ratio_key) {
    return {Dimension::ratio, Dimension::count};
  }
  if (key == lignin_key) {
    return {Dimension::fraction_of_solids, Dimension::count};
  }
  const Dimension usual = dimension_of(*models::find_material_property(key));
  return {usual, usual == Dimension::fraction_dry           ? Dimension::fraction_wet
                 : usual == Dimension::fraction_of_nitrogen ? Dimension::fraction_dry
                                                            : Dimension::count};
}

void apply_overrides(Material& material, const toml::table& table, std::string_view source_name,
                     std::vector<Fault>& faults) {
  Overrides(material, table, source_name, faults).apply();
}

Material material_given_in_full(const std::string& name, const toml::table& table,
                                std::string_view source_name, std::vector<Fault>& faults) {
  Material material;
  material.name = name;
  material.title = name;
  material.group = "other";
  const auto missing = [&](std::string_view key) { return !table.contains(key); };
  const auto require = [&](bool is_missing, std::string_view what, std::string_view example) {
    if (is_missing) {
      faults.push_back(
          {location(source_name, table),
           fmt::format("the material \"{}\" is not in the library and has no {}", name, what),
           fmt::format("write {}", example)});
    }
  };
  const std::size_t faults_before = faults.size();
  require(missing("moisture"), "moisture", "moisture = \"60 % wet\"");
  require(missing("volatile_solids"), "volatile_solids", "volatile_solids = \"90 % dry\"");
  require(missing("nitrogen"), "nitrogen", "nitrogen = \"1.5 % dry\"");
  require(missing("carbon") && missing(ratio_key), "carbon or carbon_to_nitrogen",
          "carbon = \"45 % dry\" or carbon_to_nitrogen = 30");
  require(missing(lignin_key) &&
              (missing("fast") || missing("medium") || missing("slow") || missing("resistant")),
          "lignin or carbon pools (fast, medium, slow, resistant)", "lignin = \"12 % of VS\"");
  require(missing("bulk_density"), "bulk_density", "bulk_density = \"300 kg/m3\"");
  require(missing("water_holding"), "water_holding", "water_holding = \"2.6 kg/kg\"");
  require(missing("flow_size"), "flow_size",
          "flow_size = \"0.8 mm\" (0.5 mm for wet and fine, 3 mm for straw, 7 mm for chips)");
  require(missing("chop_size"), "chop_size", "chop_size = \"3 cm\"");
  if (faults.size() == faults_before) {
    apply_overrides(material, table, source_name, faults);
  }
  return material;
}

} // namespace heapcast::cli
