#include "cli/study/study_file.hpp"

#include "cli/input/parse_toml.hpp"
#include "cli/input/read_file.hpp"
#include "cli/input/section.hpp"
#include "cli/joined.hpp"
#include "cli/study/study_keys.hpp"
#include "engine/nearest.hpp"
#include "engine/sampling.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <limits>
#include <set>
#include <sstream>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

std::string toml_of(const toml::node& node) {
  std::ostringstream out;
  node.visit([&out](const auto& value) {
    if constexpr (toml::is_string<decltype(value)>) {
      // As a table, so that quotes and backslashes are escaped in double quotes.
      std::ostringstream line;
      line << toml::toml_formatter(toml::table{{"v", *value}}, toml::format_flags::none);
      out << line.str().substr(std::string_view("v = ").size());
    } else if constexpr (toml::is_array<decltype(value)>) {
      out << toml::toml_formatter(value, toml::format_flags::none);
    } else if constexpr (toml::is_table<decltype(value)>) {
      toml::table inline_table = value;
      inline_table.is_inline(true);
      out << toml::toml_formatter(toml::table{{"v", inline_table}}, toml::format_flags::none);
      const std::string line = out.str();
      out.str(line.substr(std::string_view("v = ").size()));
    } else {
      out << value;
    }
  });
  return out.str();
}

/// A number, with a unit behind it where the value is a text.
struct Measured {
  double number = no_number;
  std::string unit;
  bool quoted = false;
};

std::optional<Measured> measured(const toml::node& node) {
  if (const auto* whole = node.as_integer()) {
    return Measured{static_cast<double>(whole->get()), "", false};
  }
  if (const auto* real = node.as_floating_point()) {
    return Measured{real->get(), "", false};
  }
  const auto* text = node.as_string();
  if (text == nullptr) {
    return std::nullopt;
  }
  Measured read{0.0, "", true};
  const char* begin = text->get().data();
  const char* end = begin + text->get().size();
  const auto [rest, error] = std::from_chars(begin, end, read.number);
  if (error != std::errc{} || rest == begin) {
    return std::nullopt;
  }
  read.unit.assign(rest, end);
  read.unit.erase(0, read.unit.find_first_not_of(" \t"));
  // A date or a time of day begins with a number too.
  if (!read.unit.empty() && (read.unit.front() == '-' || read.unit.front() == ':')) {
    return std::nullopt;
  }
  return read;
}

/// "day" and "days" are one unit.
bool same_unit(std::string a, std::string b) {
  for (std::string* unit : {&a, &b}) {
    if (unit->size() > 2 && unit->back() == 's') {
      unit->pop_back();
    }
  }
  return a == b;
}

bool is_index(const std::string& part) {
  return !part.empty() &&
         std::ranges::all_of(part, [](unsigned char c) { return std::isdigit(c); });
}

std::vector<std::string> split(const std::string& key) {
  std::vector<std::string> parts;
  std::istringstream in(key);
  for (std::string part; std::getline(in, part, '.');) {
    parts.push_back(part);
  }
  return parts;
}

/// The row of a dotted key without the numbers of its elements, or nullptr.
const Key* row_of(const std::vector<std::string>& parts) {
  std::vector<std::string> names;
  std::ranges::copy_if(parts, std::back_inserter(names),
                       [](const std::string& part) { return !is_index(part); });
  if (names.empty()) {
    return nullptr;
  }
  const std::string name = names.back();
  names.pop_back();
  const std::string section = joined(names, ".");
  for (const Key& row : pile_keys()) {
    if (row.section == section && (row.name == name || row.name == "*")) {
      return &row;
    }
  }
  return nullptr;
}

/// The key that was most likely meant, with the numbers of elements as written; or "".
std::string nearest_key(const std::vector<std::string>& parts) {
  std::vector<std::string> candidates;
  for (const Key& row : pile_keys()) {
    if (row.name != "*") {
      candidates.push_back(row.section.empty() ? row.name : row.section + "." + row.name);
    }
  }
  for (const models::ParameterRow& row : models::parameter_table()) {
    candidates.emplace_back(row.name);
  }
  std::vector<std::string> names;
  std::ranges::copy_if(parts, std::back_inserter(names),
                       [](const std::string& part) { return !is_index(part); });
  const std::string near = engine::nearest(joined(names, "."), candidates);
  std::vector<std::string> found = split(near);
  if (found.size() == names.size()) {
    for (std::size_t i = 0; i < parts.size(); ++i) {
      if (is_index(parts[i]) && i <= found.size()) {
        found.insert(found.begin() + static_cast<std::ptrdiff_t>(i), parts[i]);
      }
    }
  }
  return joined(found, ".");
}

bool takes_range(ValueKind kind) {
  using enum ValueKind;
  return kind == whole || kind == number || kind == quantity || kind == amount || kind == day ||
         kind == property;
}

bool is_name(const std::string& name) {
  const auto letter = [](unsigned char c) { return std::isalpha(c) != 0 || c == '_'; };
  return !name.empty() && letter(static_cast<unsigned char>(name.front())) &&
         std::ranges::all_of(name, [&](unsigned char c) { return letter(c) || std::isdigit(c); });
}

class StudyReader {
public:
  StudyReader(const toml::table& tree, const std::string& path, std::string text,
              const std::vector<std::string>& overrides)
      : context_{TomlFaults(path), {}, {}, 9, study_keys(), {}}, top_(&tree, "", context_) {
    study_.text = std::move(text);
    study_.overrides = overrides;
    study_.weather = std::make_shared<SiteWeatherCache>();
    folder_ = std::filesystem::path(path).parent_path();
    stem_ = std::filesystem::path(path).stem().string();
  }

  Study read() {
    study_.title = top_.text("title");
    if (study_.title.empty()) {
      study_.title = stem_;
    }
    read_pile();
    Section design = top_.table("design");
    read_design(design);
    std::vector<Section> factors = top_.tables("factor");
    for (Section& section : factors) {
      read_factor(section);
    }
    Section output = top_.table("output");
    study_.daily = output.texts("daily");
    study_.fields = output.texts("fields");
    output.finish();
    top_.finish();
    read_constraints(design);
    if (pile_read_) {
      check_output(output);
    }
    if (!context_.faults.empty() || !pile_faults_.empty()) {
      std::vector<Fault> faults = context_.faults.in_order();
      faults.insert(faults.end(), pile_faults_.begin(), pile_faults_.end());
      throw InputError(std::move(faults));
    }
    return std::move(study_);
  }

private:
  void read_pile() {
    const std::string name = top_.text("pile");
    if (name.empty()) {
      return;
    }
    study_.pile_path = (folder_ / name).lexically_normal().string();
    const std::string folder = std::filesystem::path(study_.pile_path).parent_path().string();
    study_.pile_folder = folder.empty() ? "." : folder;
    try {
      study_.pile_text = read_file(study_.pile_path);
      study_.pile = study_.pile_with({});
      remember(study_.pile);
      pile_read_ = true;
    } catch (const InputError& error) {
      pile_faults_ = error.faults();
    } catch (const FileError& error) {
      // With the other faults of the study there is no reading of it either.
      top_.fault("pile", error.what(), "write the pile file's path from the study's folder");
    }
  }

  void read_design(Section& design) {
    using enum DesignKind;
    study_.kind_name = design.choice("kind");
    const std::vector<std::pair<std::string_view, DesignKind>> kinds = {
        {"grid", grid},   {"one_at_a_time", one_at_a_time}, {"latin_hypercube", latin_hypercube},
        {"sobol", sobol}, {"saltelli", saltelli},           {"morris", morris}};
    const auto kind =
        std::ranges::find(kinds, study_.kind_name, &decltype(kinds)::value_type::first);
    kind_known_ = kind != kinds.end();
    if (kind_known_) {
      study_.kind = kind->second;
    }
    const std::string_view counted = study_.kind == latin_hypercube || study_.kind == sobol
                                         ? "points"
                                     : study_.kind == saltelli ? "blocks"
                                     : study_.kind == morris   ? "trajectories"
                                                               : "";
    for (const std::string_view key : {"points", "blocks", "trajectories"}) {
      const int number = design.whole(key);
      if (!kind_known_) {
        continue;
      }
      if (key == counted) {
        study_.points = static_cast<std::size_t>(number);
        if (!design.has(key)) {
          design.fault("kind", fmt::format("a {} design has no {}", study_.kind_name, key),
                       fmt::format("add {} = 256", key));
        }
      } else if (design.has(key)) {
        design.fault(key, fmt::format("a {} design has no {}", study_.kind_name, key),
                     counted.empty()
                         ? "leave it out: the factors' values say how many runs there are"
                         : fmt::format("write {}", counted));
      }
    }
    study_.morris_levels = static_cast<std::size_t>(design.whole("levels"));
    if (study_.kind != morris && design.has("levels") && kind_known_) {
      design.fault("levels", fmt::format("a {} design has no levels", study_.kind_name),
                   "leave it out");
    } else if (study_.morris_levels % 2 != 0) {
      design.fault("levels", fmt::format("levels is {}, which is odd", study_.morris_levels),
                   "write an even number, usually 4");
    }
    study_.seed = static_cast<std::uint64_t>(design.whole("seed"));
    study_.weather_years = static_cast<std::size_t>(design.whole("weather_years"));
    constraint_texts_ = design.texts("constraints");
    design.finish();
    if (pile_read_ && study_.weather_years > 1) {
      check_weather_years(design);
    }
  }

  void check_weather_years(Section& design) {
    study_.pile = study_.pile_with({}); // now with all years
    if (study_.pile.year) {
      return; // made from normals: as many as wanted
    }
    const std::size_t there = models::weather_years(*study_.pile.pile).size();
    if (there < study_.weather_years) {
      design.fault("weather_years",
                   fmt::format("weather_years is {}, but the weather holds the pile's dates in {} "
                               "year{}",
                               study_.weather_years, there, there == 1 ? "" : "s"),
                   fmt::format("write at most {}, or give more years of weather", there));
    }
  }

  [[nodiscard]] bool needs_levels() const {
    return kind_known_ &&
           (study_.kind == DesignKind::grid || study_.kind == DesignKind::one_at_a_time);
  }

  void read_factor(Section& section) {
    Factor factor;
    const std::string key = section.text("key");
    const std::string given_name = section.text("name");
    const toml::array* values = section.list("values");
    const toml::node* from = section.any("from");
    const toml::node* to = section.any("to");
    const int steps = section.whole("steps");
    factor.logarithmic = section.choice("scale") == "log";
    factor.prior = section.flag("prior");
    const toml::node* base = section.any("base");
    section.finish();
    if (key.empty()) {
      return;
    }
    const Key* row = resolve(section, key, factor);
    if (row == nullptr) {
      return;
    }
    name_factor(section, given_name, factor);
    factor.meaning = row->meaning;
    const int ways = (section.has("values") ? 1 : 0) + (from != nullptr || to != nullptr ? 1 : 0) +
                     (factor.prior ? 1 : 0);
    if (ways != 1) {
      section.fault("key",
                    ways == 0
                        ? fmt::format("the factor {} has no values", key)
                        : fmt::format("the factor {} says in several ways what it may be", key),
                    "give either values = [...], or from and to, or prior = true");
      return;
    }
    for (const std::string_view word : {"steps", "scale"}) {
      if (section.has(word) && values != nullptr) {
        section.fault(word, fmt::format("a list of values has no {}", word), "leave it out");
      }
    }
    const std::size_t before = study_.factors.size();
    if (values != nullptr) {
      read_list(section, *values, factor);
    } else if (factor.prior) {
      read_prior(section, steps, factor);
    } else if (from != nullptr && to != nullptr) {
      read_range(section, *row, {*from, *to, steps}, factor);
    } else if (!section.has("values")) {
      section.fault("key", fmt::format("the range of {} has one end", key),
                    "give both from and to");
    }
    if (study_.factors.size() == before) {
      return;
    }
    Factor& kept = study_.factors.back();
    if (needs_levels() && kept.levels.empty()) {
      section.fault(
          factor.prior ? "prior" : "from",
          fmt::format("a {} design needs steps in the range of {}", study_.kind_name, key),
          "add steps = 5, or give values = [...]");
    }
    read_base(section, base, kept);
    if (pile_read_) {
      try_values(section, values, from, to, kept);
    }
  }

  const Key* resolve(Section& section, const std::string& key, Factor& factor) {
    std::vector<std::string> parts = split(key);
    const bool bare = parts.size() == 1;
    if (bare && models::find_parameter(key) < models::parameter_count) {
      parts = {"run", "parameters", key};
    }
    factor.key = joined(parts, ".");
    const Key* row = row_of(parts);
    if (row == nullptr || key.ends_with('.')) {
      const std::string meant = nearest_key(parts);
      section.fault("key",
                    fmt::format("the pile file has no key \"{}\", and there is no such parameter{}",
                                key,
                                meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
                    "write a key as for --set, for example \"turning.every\" or "
                    "\"material.0.amount\", or a name that `heapcast parameters` lists");
      return nullptr;
    }
    if (row->section == "variant" || row->name == "variant" || factor.key == "title") {
      section.fault("key", fmt::format("{} changes nothing in a run", key), "name another key");
      return nullptr;
    }
    if (row->section == "run.parameters") {
      factor.parameter = models::find_parameter(row->name);
    }
    for (const Factor& other : study_.factors) {
      if (other.key == factor.key) {
        section.fault("key", fmt::format("two factors are {}", key), "leave one out");
        return nullptr;
      }
    }
    return row;
  }

  void name_factor(Section& section, const std::string& given, Factor& factor) {
    factor.name = given;
    if (given.empty()) {
      factor.name = factor.parameter
                        ? std::string(models::parameter_table()[*factor.parameter].name)
                        : factor.key;
      std::ranges::replace_if(
          factor.name, [](unsigned char c) { return std::isalnum(c) == 0; }, '_');
    }
    const std::string_view key = given.empty() ? "key" : "name";
    if (!is_name(factor.name)) {
      section.fault(key, fmt::format("\"{}\" cannot be a name", factor.name),
                    "write letters, digits and _, for example name = \"height\"");
    }
    for (const Factor& other : study_.factors) {
      if (other.name == factor.name) {
        section.fault(key, fmt::format("two factors are called \"{}\"", factor.name),
                      "give each a name of its own");
      }
    }
  }

  void read_list(Section& section, const toml::array& values, Factor& factor) {
    std::optional<std::string> unit;
    std::set<std::string> seen;
    for (const toml::node& node : values) {
      const std::optional<Measured> number = measured(node);
      factor.numeric = factor.numeric && number && (!unit || same_unit(*unit, number->unit));
      if (number && !unit) {
        unit = number->unit;
      }
      const auto* text = node.as_string();
      const std::string written = toml_of(node);
      factor.levels.push_back(
          {written, number ? number->number : no_number, text != nullptr ? text->get() : written});
      if (!seen.insert(written).second) {
        section.fault_at(node, fmt::format("{} is twice among the values", written),
                         "leave one out");
      }
    }
    factor.unit = factor.numeric ? unit.value_or("") : "";
    study_.factors.push_back(factor);
  }

  void read_prior(Section& section, int steps, Factor& factor) {
    if (!factor.parameter) {
      section.fault("prior", fmt::format("{} is no parameter and has no prior", factor.key),
                    "give values = [...], or from and to");
      return;
    }
    if (section.has("scale")) {
      section.fault("scale", "a prior has its own scale", "leave it out");
    }
    const models::ParameterRow& row = models::parameter_table()[*factor.parameter];
    if (row.prior == models::Prior::fixed) {
      section.fault("prior", fmt::format("the parameter {} is fixed", row.name),
                    "give values = [...], or from and to");
      return;
    }
    factor.unit = row.unit == "-" ? "" : std::string(row.unit);
    factor.prior_centre =
        pile_read_ ? study_.pile.pile->parameters[static_cast<models::Parameter>(*factor.parameter)]
                   : row.value;
    fill_levels(steps, factor);
    study_.factors.push_back(factor);
  }

  struct Range {
    const toml::node& from;
    const toml::node& to;
    int steps;
  };

  void read_range(Section& section, const Key& row, const Range& range, Factor& factor) {
    if (!takes_range(row.kind)) {
      section.fault("from", fmt::format("{} is no number and has no range", factor.key),
                    "give values = [...]");
      return;
    }
    const std::optional<Measured> low = measured(range.from);
    const std::optional<Measured> high = measured(range.to);
    if (!low || !high) {
      section.fault_at(low ? range.to : range.from,
                       fmt::format("an end of the range of {} is no number", factor.key),
                       row.example.empty() ? "write a number"
                                           : fmt::format("write for example {}", row.example));
      return;
    }
    if (!same_unit(low->unit, high->unit) || low->quoted != high->quoted) {
      section.fault("to",
                    fmt::format("the range of {} is from {} to {}", factor.key, toml_of(range.from),
                                toml_of(range.to)),
                    "write both ends in the same unit");
      return;
    }
    if (!(low->number < high->number) || !std::isfinite(low->number) ||
        !std::isfinite(high->number)) {
      section.fault("to",
                    fmt::format("the range of {} ends at {}, not above {}", factor.key,
                                toml_of(range.to), toml_of(range.from)),
                    "write the lower end as from");
      return;
    }
    if (factor.logarithmic && !(low->number > 0)) {
      section.fault("scale",
                    fmt::format("the range of {} begins at {}, where a log scale has no beginning",
                                factor.key, toml_of(range.from)),
                    "begin above 0, or leave out the scale");
      return;
    }
    factor.low = low->number;
    factor.high = high->number;
    factor.unit = low->unit;
    factor.quoted = low->quoted;
    factor.whole = row.kind == ValueKind::whole;
    if (factor.parameter && factor.unit.empty()) {
      const std::string_view unit = models::parameter_table()[*factor.parameter].unit;
      factor.unit = unit == "-" ? "" : std::string(unit);
    }
    fill_levels(range.steps, factor);
    study_.factors.push_back(factor);
  }

  /// So many values of a range from end to end, or of a prior at the middles of equal parts.
  static void fill_levels(int steps, Factor& factor) {
    const auto count = static_cast<std::size_t>(steps);
    for (std::size_t i = 0; i < count; ++i) {
      const double share = static_cast<double>(i) / static_cast<double>(count - 1);
      double number = 0.0;
      if (factor.prior) {
        number = factor.quantile(engine::middle_of_level(i, count));
      } else if (factor.logarithmic) {
        number =
            i + 1 == count ? factor.high : factor.low * std::pow(factor.high / factor.low, share);
      } else {
        number = std::lerp(factor.low, factor.high, share);
      }
      FactorValue value = factor.of_number(factor.whole ? std::round(number) : number);
      if (factor.levels.empty() || factor.levels.back().toml != value.toml) {
        factor.levels.push_back(std::move(value));
      }
    }
  }

  void read_base(Section& section, const toml::node* base, Factor& factor) {
    if (base == nullptr) {
      return;
    }
    if (study_.kind != DesignKind::one_at_a_time) {
      section.fault("base", fmt::format("a {} design has no base", study_.kind_name),
                    "leave it out, or write kind = \"one_at_a_time\"");
      return;
    }
    const std::optional<Measured> number = measured(*base);
    const std::string written = toml_of(*base);
    const auto found = std::ranges::find_if(factor.levels, [&](const FactorValue& level) {
      return level.toml == written ||
             (factor.numeric && number && same_unit(number->unit, factor.unit) &&
              std::abs(level.number - number->number) <= 1e-9 * std::abs(level.number));
    });
    if (found == factor.levels.end()) {
      std::vector<std::string> all;
      for (const FactorValue& level : factor.levels) {
        all.push_back(level.toml);
      }
      section.fault("base", fmt::format("base is {}, which is none of the values", written),
                    fmt::format("write one of {}", joined(all)));
      return;
    }
    factor.base = static_cast<std::size_t>(found - factor.levels.begin());
  }

  /// What the pile is made of besides the texts that the study names.
  void remember(const PileFile& file) {
    study_.material_files.insert(file.pile->material_files.begin(),
                                 file.pile->material_files.end());
    if (file.pile->weather != nullptr) {
      study_.weather_checksums.insert(file.pile->weather->checksum);
    }
  }

  /// Each value by itself, and the ends of a range.
  void try_values(Section& section, const toml::array* values, const toml::node* from,
                  const toml::node* to, const Factor& factor) {
    if (factor.prior) {
      return;
    }
    const auto attempt = [&](const FactorValue& value, const toml::node& place) {
      try {
        remember(study_.pile_with({fmt::format("{}={}", factor.key, value.toml)}));
      } catch (const InputError& error) {
        for (const Fault& fault : error.faults()) {
          section.fault_at(place,
                           fmt::format("with {} = {}: {}", factor.key, value.toml, fault.what),
                           fault.remedy);
        }
      } catch (const FileError& error) {
        section.fault_at(place,
                         fmt::format("with {} = {}: {}", factor.key, value.toml, error.what()),
                         "name a file that can be read");
      }
    };
    if (values != nullptr) {
      for (std::size_t i = 0; i < factor.levels.size(); ++i) {
        attempt(factor.levels[i], *values->get(i));
      }
    } else {
      attempt(factor.of_number(factor.low), *from);
      attempt(factor.of_number(factor.high), *to);
    }
  }

  void read_constraints(Section& design) {
    if (constraint_texts_.empty()) {
      return;
    }
    if (study_.kind == DesignKind::saltelli || study_.kind == DesignKind::morris) {
      design.fault("constraints",
                   fmt::format("a {} design cannot leave points out", study_.kind_name),
                   "leave out the constraints, or write kind = \"sobol\"");
      return;
    }
    std::vector<std::string> names;
    for (const Factor& factor : study_.factors) {
      if (factor.numeric) {
        names.push_back(factor.name);
      }
    }
    for (const std::string& text : constraint_texts_) {
      try {
        study_.constraints.emplace_back(text, names);
      } catch (const UnitError& error) {
        design.fault("constraints", error.what(), error.remedy());
      }
    }
  }

  /// The names of what a run gives, from one day of the pile on the coarse mesh.
  void check_output(Section& output) {
    models::PileDescription pile = *study_.pile.pile;
    pile.horizon_days = 1;
    pile.resolution = models::Resolution::coarse;
    const models::ForecastResult day = models::run_forecast(pile);
    std::vector<std::string> series;
    std::vector<std::string> fields;
    std::set<std::string> taken = {"run",    "day",          "field_day",        "cell",
                                   "reason", "run_failure",  "run_start",        "reason_number",
                                   "number", "factor",       "number_name",      "factor_name",
                                   "point",  "weather_year", "ready_decided_by", "cell_x",
                                   "cell_z", "cell_depth",   "cell_volume"};
    for (const models::Series& one : day.series) {
      series.push_back(one.name);
    }
    for (const models::Field& one : day.fields) {
      fields.push_back(one.name);
    }
    for (const models::Scalar& one : day.scalars) {
      taken.insert(one.name);
      taken.insert(one.name + "_reason");
    }
    check_names(output, "daily", study_.daily, series, taken);
    check_names(output, "fields", study_.fields, fields, taken);
    if (!study_.daily.empty() && std::fmod(24.0, study_.pile.pile->output_hours) != 0) {
      output.fault(
          "daily",
          fmt::format("the pile's curves have a point every {:g} h, which does not fall on "
                      "every day",
                      study_.pile.pile->output_hours),
          "write run.output = \"1 h\" in the pile file");
    }
    for (const Factor& factor : study_.factors) {
      if (taken.contains(factor.name)) {
        top_.fault("factor",
                   fmt::format("the factor's name \"{}\" is taken in the results", factor.name),
                   "add name = \"...\" to the factor");
      }
      if ((factor.key == "run.pictures" && !study_.fields.empty()) ||
          (factor.key == "run.output" && !study_.daily.empty())) {
        top_.fault("factor",
                   fmt::format("{} cannot differ between runs whose curves are kept", factor.key),
                   "leave out the factor or the output");
      }
    }
  }

  static void check_names(Section& output, std::string_view key,
                          const std::vector<std::string>& asked,
                          const std::vector<std::string>& there, std::set<std::string>& taken) {
    for (const std::string& name : asked) {
      if (std::ranges::find(there, name) == there.end()) {
        const std::string meant = engine::nearest(name, there);
        output.fault(key,
                     fmt::format("{} names \"{}\", which a run does not have{}", key, name,
                                 meant.empty() ? "" : fmt::format("; did you mean \"{}\"?", meant)),
                     fmt::format("write some of {}", joined(there)));
      } else if (!taken.insert(name).second) {
        output.fault(key,
                     fmt::format("{} names \"{}\" twice, or it is the name of a number of the "
                                 "run",
                                 key, name),
                     "leave it out");
      }
    }
  }

  ReadingContext context_;
  Section top_;
  Study study_;
  std::filesystem::path folder_;
  std::string stem_;
  std::vector<std::string> constraint_texts_;
  std::vector<Fault> pile_faults_;
  bool pile_read_ = false;
  bool kind_known_ = false;
};

} // namespace

FactorValue Factor::at(double share) const {
  return levels.empty() ? of_number(quantile(share))
                        : levels[engine::level_at(share, levels.size())];
}

FactorValue Factor::of_number(double number) const {
  const std::string digits =
      whole ? fmt::format("{}", std::llround(number)) : fmt::format("{}", number);
  if (!quoted) {
    return {digits, number, ""};
  }
  return {unit.empty() ? fmt::format("\"{}\"", digits) : fmt::format("\"{} {}\"", digits, unit),
          number, ""};
}

double Factor::quantile(double share) const {
  if (prior) {
    return models::prior_quantile(models::parameter_table()[*parameter], prior_centre, share);
  }
  if (whole) {
    return std::min(high, std::floor(std::lerp(low, high + 1.0, share)));
  }
  return logarithmic ? std::clamp(low * std::pow(high / low, share), low, high)
                     : std::lerp(low, high, share);
}

PileFile Study::pile_with(const std::vector<std::string>& more) const {
  PileFileOptions options;
  options.name = pile_path;
  options.folder = pile_folder;
  options.overrides = overrides;
  options.overrides.insert(options.overrides.end(), more.begin(), more.end());
  options.weather = weather.get();
  if (weather_years > 1) {
    options.overrides.emplace_back("run.weather_years=all");
  }
  return parse_pile_file(pile_text, options);
}

bool is_study(std::string_view text) {
  try {
    const toml::table tree = parse_toml(text, "");
    return tree.contains("factor") || tree.contains("design") ||
           (tree["pile"].is_string() && !tree.contains("site"));
  } catch (const std::exception&) {
    return false; // the reader of pile files says what is wrong with it
  }
}

Study read_study_file(const std::string& path, const std::vector<std::string>& overrides) {
  std::string text = read_file(path);
  const toml::table tree = parse_toml_file(text, path);
  return StudyReader(tree, path, std::move(text), overrides).read();
}

} // namespace heapcast::cli
