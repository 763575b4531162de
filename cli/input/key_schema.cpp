#include "cli/input/key_schema.hpp"

#include "cli/joined.hpp"

#include <algorithm>
#include <sstream>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <toml++/toml.h>

namespace heapcast::cli {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view date_pattern = "[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[T ][0-9].*)?";
/// A unit, or a measure of the user's own: what does not go on with the number.
constexpr std::string_view any_unit = "[^\\s0-9.,].*";

Json text_like(const std::string& pattern) {
  return {{"type", "string"}, {"pattern", fmt::format("^\\s*(?:{})\\s*$", pattern)}};
}

std::string quantity_pattern(Dimension dimension) {
  return fmt::format("{}\\s*{}{}", number_pattern(), unit_pattern(dimension),
                     unit_may_be_missing(dimension) ? "?" : "");
}

/// A name for a dimension in "$defs": "a heat conductance" is "heat_conductance".
std::string definition_name(Dimension dimension) {
  std::string name(dimension_info(dimension).noun);
  name.erase(0, name.find(' ') + 1);
  if (name.starts_with("share of the ")) {
    name = "share_of_" + name.substr(std::string_view("share of the ").size());
  }
  std::ranges::replace(name, ' ', '_');
  std::ranges::replace(name, '-', '_');
  return name;
}

/// The value that stands to the right of "=" in TOML.
Json toml_value(const std::string& written) {
  std::ostringstream json;
  json << toml::json_formatter(toml::parse("v = " + written));
  return Json::parse(json.str()).at("v");
}

class SchemaWriter {
public:
  explicit SchemaWriter(const KeyedFile& file) : file_(file) {}

  Json write() {
    Json top = section("");
    Json schema = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                   {"title", file_.title}};
    schema.update(top);
    if (!definitions_.empty()) {
      schema["$defs"] = definitions_;
    }
    return schema;
  }

private:
  Json reference(const std::string& name, const Json& definition) {
    definitions_[name] = definition;
    // Not "$ref" alone: readers of older drafts leave out what stands beside it.
    return {{"allOf", Json::array({{{"$ref", "#/$defs/" + name}}})}};
  }

  Json quantity(Dimension dimension) {
    Json text = text_like(quantity_pattern(dimension));
    text["description"] =
        fmt::format("{}: {}", dimension_info(dimension).noun, joined(unit_names(dimension)));
    return reference(definition_name(dimension), text);
  }

  /// A mass or a volume with a unit, or in measures of the user's own.
  Json with_measures(std::string_view name, std::string_view noun,
                     const std::vector<std::string>& units) {
    Json text = text_like(fmt::format("{}\\s*{}", number_pattern(), any_unit));
    text["description"] =
        fmt::format("{}: {}, or a measure of your own from [measures]", noun, joined(units));
    return reference(std::string(name), text);
  }

  Json amount(bool measures) {
    std::vector<std::string> units = unit_names(Dimension::mass);
    for (const std::string& unit : unit_names(Dimension::volume)) {
      units.push_back(unit);
    }
    if (measures) {
      return with_measures("amount", "a mass or a volume", units);
    }
    Json text =
        text_like(fmt::format("{}\\s*(?:{}|{})", number_pattern(), unit_pattern(Dimension::mass),
                              unit_pattern(Dimension::volume)));
    text["description"] = "a mass or a volume: " + joined(units);
    return reference("size_of_a_measure", text);
  }

  static Json any_of(std::vector<Json> schemas) {
    return schemas.size() == 1 ? schemas.front() : Json{{"anyOf", schemas}};
  }

  static Json one_or_list(const Json& one) {
    return any_of({one, {{"type", "array"}, {"items", one}}});
  }

  static Json number_between(std::string_view type, double low, double high) {
    return {{"type", type}, {"minimum", low}, {"maximum", high}};
  }

  Json number(const Key& key) {
    const std::string unit = key.counts.empty() ? "" : "(?:" + escaped(key.counts) + ")?";
    return any_of({number_between("number", parse_number(key.low), parse_number(key.high)),
                   text_like(fmt::format("{}\\s*{}", number_pattern(), unit))});
  }

  static std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
      out += std::string_view("\\^$.|?*+()[]{}").find(c) == std::string_view::npos ? "" : "\\";
      out += c;
    }
    return out;
  }

  Json quantity_of(const Key& key) {
    const bool measured = key.dimension == Dimension::mass || key.dimension == Dimension::volume;
    const std::string name = definition_name(key.dimension);
    std::vector<Json> forms = {measured ? with_measures(name, dimension_info(key.dimension).noun,
                                                        unit_names(key.dimension))
                                        : quantity(key.dimension)};
    if (!key.counts.empty()) {
      const double each = parse_quantity("1 " + key.counts, key.dimension);
      forms.push_back(number_between("number", parse_quantity(key.low, key.dimension) / each,
                                     parse_quantity(key.high, key.dimension) / each));
    } else if (unit_may_be_missing(key.dimension)) {
      forms.push_back({{"type", "number"}});
    }
    return any_of(forms);
  }

  Json property(const Key& key) {
    std::vector<Json> forms = {quantity(key.dimension)};
    if (key.also != Dimension::count) {
      forms.push_back(quantity(key.also));
    }
    if (unit_may_be_missing(key.dimension)) {
      forms.push_back({{"type", "number"}});
    }
    return any_of(forms);
  }

  Json monthly(const Key& key) {
    const bool bare = unit_may_be_missing(key.dimension);
    std::vector<Json> element = {quantity(key.dimension)};
    if (bare) {
      element.push_back({{"type", "number"}});
    }
    constexpr int months = 12;
    return any_of(
        {text_like(fmt::format("(?:{0}\\s+){{11}}{0}\\s{1}{2}{3}", number_pattern(),
                               bare ? "*" : "+", unit_pattern(key.dimension), bare ? "?" : "")),
         {{"type", "array"},
          {"items", any_of(element)},
          {"minItems", months},
          {"maxItems", months}}});
  }

  Json date() { return reference("date", text_like(std::string(date_pattern))); }

  Json day() {
    constexpr double last_day = 3650; // as far as a forecast can run
    return reference("day", {{"description", "a day since the build, a time since then, or a date"},
                             {"anyOf", Json::array({number_between("number", 0, last_day),
                                                    quantity(Dimension::time), date()})}});
  }

  static Json text() { return {{"type", "string"}, {"minLength", 1}}; }

  static Json weekday() {
    // The first three letters or more, in either case.
    std::string names;
    for (const std::string_view name :
         {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}) {
      constexpr std::size_t shortest = 3;
      std::string pattern;
      std::string closing;
      for (std::size_t i = 0; i < name.size(); ++i) {
        pattern += i >= shortest ? "(?:" : "";
        closing += i >= shortest ? ")?" : "";
        pattern += fmt::format("[{}{}]", static_cast<char>(name[i] - 'a' + 'A'), name[i]);
      }
      names += names.empty() ? "" : "|";
      names += pattern;
      names += closing;
    }
    Json one = {{"type", "string"}, {"pattern", "^(?:" + names + ")$"}};
    Json list = one_or_list(one);
    list["anyOf"][1]["minItems"] = 1;
    return list;
  }

  Json value(const Key& key) {
    switch (key.kind) {
    case ValueKind::text:
      return text();
    case ValueKind::choice:
      return {{"enum", key.choices}};
    case ValueKind::flag:
      return {{"type", "boolean"}};
    case ValueKind::whole:
      return number_between("integer", parse_number(key.low), parse_number(key.high));
    case ValueKind::number:
      return number(key);
    case ValueKind::quantity:
      return quantity_of(key);
    case ValueKind::monthly:
      return monthly(key);
    case ValueKind::amount:
      return amount(key.name != "*");
    case ValueKind::date:
      return date();
    case ValueKind::day:
      return day();
    case ValueKind::days:
      return one_or_list(day());
    case ValueKind::texts:
    case ValueKind::conditions:
    case ValueKind::criteria:
      return one_or_list({{"type", "string"}});
    case ValueKind::weekdays:
      return weekday();
    case ValueKind::property:
      return property(key);
    case ValueKind::any:
      return Json::object();
    case ValueKind::table:
      return section(full_name(key));
    case ValueKind::tables:
      return {{"type", "array"}, {"items", section(full_name(key))}};
    }
    return Json::object();
  }

  static std::string full_name(const Key& key) {
    return key.section.empty() ? key.name : key.section + "." + key.name;
  }

  /// The meaning, and what a schema cannot say of a value in other words.
  static std::string description(const Key& key) {
    std::string text = key.meaning;
    if (!key.low.empty()) {
      text += fmt::format("; {} to {}", key.low, key.high);
    }
    if (!key.counts.empty()) {
      text += fmt::format("; a bare number is in {}", key.counts);
    }
    return text;
  }

  Json described(const Key& key) {
    Json schema = {{"description", description(key)}};
    schema.update(value(key));
    if (!key.initial.empty()) {
      const bool bare = key.kind == ValueKind::flag || key.kind == ValueKind::whole ||
                        key.kind == ValueKind::number;
      schema["default"] = bare ? Json::parse(key.initial) : Json(key.initial);
    }
    if (!key.example.empty()) {
      schema["examples"] = Json::array({toml_value(key.example)});
    }
    return schema;
  }

  static Json has(const std::string& key) { return {{"required", Json::array({key})}}; }

  static Json has_one(const std::vector<std::string>& keys) {
    Json list = Json::array();
    for (const std::string& key : keys) {
      list.push_back(has(key));
    }
    return list;
  }

  /// Whether the key makes this choice: as written, or as it is when left out.
  [[nodiscard]] Json chooses(const KeyRule& rule) const {
    bool initially = false;
    for (const Key& key : file_.keys) {
      initially = initially || (key.section == rule.section && key.name == rule.other &&
                                key.initial == rule.choice);
    }
    Json condition = {{"properties", {{rule.other, {{"const", rule.choice}}}}}};
    if (!initially) {
      condition.update(has(rule.other));
    }
    return condition;
  }

  [[nodiscard]] Json ruled(const KeyRule& rule) const {
    using enum KeyRule::Kind;
    switch (rule.kind) {
    case at_least_one:
      return {{"anyOf", has_one(rule.keys)}};
    case exactly_one:
      return {{"oneOf", has_one(rule.keys)}};
    case needs: {
      Json dependent;
      for (const std::string& key : rule.keys) {
        dependent[key] = Json::array({rule.other});
      }
      return {{"dependentRequired", dependent}};
    }
    case only_with:
      return {{"if", {{"anyOf", has_one(rule.keys)}}}, {"then", chooses(rule)}};
    case never_with:
      return {{"if", chooses(rule)}, {"then", {{"not", {{"anyOf", has_one(rule.keys)}}}}}};
    case required_with:
      return {{"if", chooses(rule)}, {"then", {{"required", rule.keys}}}};
    }
    return Json::object();
  }

  Json section(const std::string& name) {
    const std::vector<const Key*> rows = keys_of(file_.keys, name);
    Json schema = {{"type", "object"}};
    if (rows.empty()) {
      return schema; // keys that are not in the table
    }
    if (rows.size() == 1 && rows.front()->name == "*") {
      schema["additionalProperties"] = described(*rows.front());
      return schema;
    }
    Json properties;
    Json required = Json::array();
    for (const Key* key : rows) {
      properties[key->name] = described(*key);
      if (key->required) {
        required.push_back(key->name);
      }
    }
    schema["properties"] = properties;
    if (!required.empty()) {
      schema["required"] = required;
    }
    schema["additionalProperties"] = false;
    Json rules = Json::array();
    for (const KeyRule& rule : file_.rules) {
      if (rule.section == name) {
        rules.push_back(ruled(rule));
      }
    }
    if (!rules.empty()) {
      schema["allOf"] = rules;
    }
    return schema;
  }

  const KeyedFile& file_;
  Json definitions_ = Json::object();
};

} // namespace

Json key_schema(const KeyedFile& file) {
  return SchemaWriter(file).write();
}

} // namespace heapcast::cli
