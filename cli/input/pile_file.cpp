#include "cli/input/pile_file.hpp"

#include "cli/input/material_file.hpp"
#include "cli/input/overrides.hpp"
#include "cli/input/parse_toml.hpp"
#include "cli/input/pile_volume.hpp"
#include "cli/input/read_file.hpp"
#include "cli/input/section.hpp"
#include "cli/input/site_weather.hpp"
#include "cli/joined.hpp"
#include "engine/nearest.hpp"
#include "models/materials/ageing.hpp"
#include "models/materials/chopping.hpp"
#include "models/materials/material_property.hpp"
#include "models/operations/build.hpp"
#include "models/weather/calendar.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <initializer_list>
#include <limits>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::Ingredient;
using models::ShapeKind;

/// The value that stands for a choice of the table of keys.
template <class Value>
Value pick(const std::string& choice,
           std::initializer_list<std::pair<std::string_view, Value>> values) {
  for (const auto& [name, value] : values) {
    if (choice.empty() || name == choice) {
      return value;
    }
  }
  throw std::logic_error("a choice of the table of keys has no value: " + choice);
}

const models::MaterialLibrary& library() {
  static const models::MaterialLibrary materials = load_builtin_library();
  return materials;
}

/// Reads one pile file, section by section.
class PileReader {
public:
  PileReader(const toml::table& tree, const PileFileOptions& options)
      : options_(options), context_{TomlFaults(options.name), {}, {}, 9},
        top_(&tree, "", context_) {}

  PileFile read(std::string text) {
    description_.text = std::move(text);
    description_.title = top_.text("title");
    if (description_.title.empty()) {
      description_.title = std::filesystem::path(options_.name).stem().string();
    }
    Section measures = top_.table("measures");
    measures.read_measures();
    measures.finish();
    Section run = top_.table("run");
    read_run(run);
    Section site = top_.table("site");
    read_site(site);
    Section pile = top_.table("pile");
    read_pile(pile);
    read_materials(pile);
    read_turning();
    read_watering();
    read_cover();
    read_air();
    read_additions();
    read_labour();
    read_use();
    read_size();
    read_probes();
    read_variants();
    top_.finish();

    if (!context_.faults.empty()) {
      throw InputError(context_.faults.in_order());
    }
    if (!unreadable_.empty()) {
      throw FileError(unreadable_);
    }
    file_.unlikely = unlikely(description_);
    file_.notes = notes_.in_order();
    file_.pile = std::make_shared<const models::PileDescription>(std::move(description_));
    return std::move(file_);
  }

private:
  void read_run(Section& run) {
    description_.horizon_days = run.quantity("days") / models::seconds_per_day;
    description_.output_hours = whole_hours(run, "output");
    description_.field_output_hours = whole_hours(run, "pictures");
    if (std::fmod(description_.field_output_hours, description_.output_hours) != 0) {
      run.fault("pictures",
                fmt::format("pictures every {} h do not fall on the curves' points every {} h",
                            description_.field_output_hours, description_.output_hours),
                "make pictures a multiple of output");
    }
    context_.work_hour = run.whole("work_hour");
    description_.work_hour = context_.work_hour;
    description_.resolution = pick<models::Resolution>(run.choice("resolution"),
                                                       {{"coarse", models::Resolution::coarse},
                                                        {"standard", models::Resolution::standard},
                                                        {"fine", models::Resolution::fine}});
    description_.all_weather_years =
        pick<bool>(run.choice("weather_years"), {{"all", true}, {"start", false}});
    Section parameters = run.table("parameters");
    const auto rows = models::parameter_table();
    for (std::size_t i = 0; i < rows.size(); ++i) {
      description_.parameters.set(i, parameters.number(rows[i].name));
      if (parameters.has(rows[i].name)) {
        description_.given_parameters.push_back(i);
      }
    }
    parameters.finish();
    run.finish();
  }

  static double whole_hours(Section& run, std::string_view key) {
    const double hours = run.quantity(key) / models::seconds_per_hour;
    const double whole = std::round(hours);
    // One second: what a unit such as months leaves over is more.
    if (!(std::abs(hours - whole) < 1 / models::seconds_per_hour)) {
      run.fault(key, fmt::format("{} is {:.4g} h", key, hours),
                fmt::format("write whole hours, for example {} = \"{} h\"", key, std::ceil(hours)));
    }
    return std::max(1.0, whole);
  }

  void read_site(Section& site) {
    context_.build = site.date("start");
    const SiteWeather read =
        read_site_weather(site, {context_.build, description_.horizon_days, options_.seed},
                          options_.folder, context_, options_.weather);
    site.finish();
    if (!read.unreadable.empty()) {
      unreadable_ = read.unreadable;
    }
    file_.seed = read.seed;
    if (description_.all_weather_years) {
      file_.year = read.year;
    }
    description_.weather = read.weather;
    if (context_.build) {
      description_.start = models::format_time(*context_.build);
    }
    if (context_.build && description_.weather) {
      description_.start_hour_in_weather =
          models::hours_from_start(*description_.weather, description_.start);
    }
  }

  void read_pile(Section& pile) {
    models::Shape& shape = description_.shape;
    shape.kind = pick<ShapeKind>(pile.choice("shape"), {{"heap", ShapeKind::heap},
                                                        {"windrow", ShapeKind::windrow},
                                                        {"bin", ShapeKind::bin},
                                                        {"one_cell", ShapeKind::one_cell}});
    shape_known_ = pile.has("shape");
    read_profile(pile);
    shape.height_m = pile.quantity("height");
    shape.width_m = pile.quantity("width");
    shape.length_m = pile.quantity("length");
    shape.top_width_m = pile.quantity("top_width");
    const double diameter_m = pile.quantity("diameter");
    shape.round = pile.flag("round");
    shape.wind_exposed = pile.flag("wind_exposed");
    refuse_foreign_dimensions(pile);
    if (pile.has("diameter")) {
      shape.width_m = diameter_m;
    }
    description_.ground_conductance_scale =
        pick<double>(pile.choice("ground"),
                     {{"soil", 1.0}, {"concrete", concrete_ground_scale}, {"raised", 0.0}});
    description_.compaction = pile.quantity("compaction");
    description_.build_water_to_moisture = pile.quantity("water_to");
    description_.build_temperature_K = pile.quantity("build_temperature");
    description_.layered = pile.flag("layered");
    Section walls = pile.table("walls");
    description_.walls.open_fraction = walls.quantity("open");
    description_.walls.conductance_W_m2K = walls.quantity("conductance");
    description_.walls.lid = walls.flag("lid");
    walls.finish();
    pile.finish();
  }

  void read_profile(Section& pile) {
    models::Shape& shape = description_.shape;
    const std::string profile = pile.choice("profile");
    shape.profile = pick<models::Profile>(profile, {{"parabolic", models::Profile::parabolic},
                                                    {"dome", models::Profile::parabolic},
                                                    {"triangular", models::Profile::triangular},
                                                    {"cone", models::Profile::triangular},
                                                    {"trapezoidal", models::Profile::trapezoidal}});
    if (profile.empty() || !shape_known_) {
      return;
    }
    const bool of_heap = profile == "dome" || profile == "cone";
    if (shape.kind == ShapeKind::windrow && of_heap) {
      pile.fault("profile", fmt::format("a windrow is no {}", profile),
                 "write \"parabolic\", \"triangular\" or \"trapezoidal\"");
    } else if (shape.kind == ShapeKind::heap && !of_heap) {
      pile.fault("profile", fmt::format("a heap is not {}", profile), "write \"dome\" or \"cone\"");
    } else if (shape.kind == ShapeKind::bin || shape.kind == ShapeKind::one_cell) {
      pile.fault("profile", "only a windrow or a heap has a profile", "leave it out");
    }
  }

  void refuse_foreign_dimensions(Section& pile) {
    if (!shape_known_) {
      return;
    }
    const models::Shape& shape = description_.shape;
    const bool windrow = shape.kind == ShapeKind::windrow;
    const bool bin = shape.kind == ShapeKind::bin;
    const std::string_view name = windrow                         ? "a windrow"
                                  : shape.kind == ShapeKind::heap ? "a heap"
                                  : bin && shape.round            ? "a round bin"
                                  : bin                           ? "a box bin"
                                                                  : "a pile of one cell";
    const auto refuse = [&](std::string_view key, bool allowed, std::string_view remedy) {
      if (pile.has(key) && !allowed) {
        pile.fault(key, fmt::format("{} has no {}", name, key), remedy);
      }
    };
    const std::string_view leave_out = "leave it out";
    refuse("width", !bin || !shape.round, "give its diameter");
    refuse("length", !bin || !shape.round, "give its diameter");
    refuse("diameter", !bin || shape.round, "give width and length, or write round = true");
    refuse("top_width", !windrow || shape.profile == models::Profile::trapezoidal,
           "leave it out, or write profile = \"trapezoidal\"");
    refuse("round", bin || !shape.round, leave_out);
    refuse("wind_exposed", windrow || !shape.wind_exposed, leave_out);
    if (shape.top_width_m >= shape.width_m) {
      pile.fault("top_width",
                 fmt::format("the top is {:.4g} m wide, the base only {:.4g} m", shape.top_width_m,
                             shape.width_m),
                 "make the base wider than the top");
    }
  }

  void read_materials(Section& pile) {
    std::vector<Section> sections = top_.tables("material");
    description_.ingredients = read_ingredients(sections);
    check_layers(pile, sections);
    if (description_.ingredients.size() == sections.size() && !sections.empty()) {
      refuse_a_crumb(sections.front());
      fit_dimensions(pile);
    }
  }

  /// Heat passes through a crumb in less than a second: days of it would take hours to compute.
  void refuse_a_crumb(Section& first) {
    constexpr double least_m3 = 1e-5;
    const double materials_m3 = models::ingredients_volume_m3(description_);
    if (!(materials_m3 >= least_m3)) {
      first.fault("amount", fmt::format("the materials fill only {:.2g} mL", 1e6 * materials_m3),
                  fmt::format("make the pile at least {:g} mL", 1e6 * least_m3));
    }
  }

  /// The ingredients that could be read; fewer than sections after a fault.
  std::vector<Ingredient> read_ingredients(std::vector<Section>& sections) {
    std::vector<Ingredient> ingredients;
    for (Section& section : sections) {
      if (auto ingredient = read_ingredient(section)) {
        ingredients.push_back(std::move(*ingredient));
      }
    }
    return ingredients;
  }

  std::optional<Ingredient> read_ingredient(Section& section) {
    const std::string name = section.text("name");
    const std::string own_file = section.text("file");
    const Amount amount = section.amount("amount");
    const double chop_m = section.quantity("chop");
    const double age_days = section.quantity("age") / models::seconds_per_day;
    const int layer = section.whole("layer");
    const toml::table& table = *section.for_properties();
    section.finish();
    if (name.empty()) {
      return std::nullopt;
    }
    std::vector<Fault> faults;
    models::Material fresh = own_file.empty()
                                 ? material(name, section, table, faults)
                                 : own_material(own_file, name, section, table, faults);
    if (!std::isnan(chop_m)) {
      if (section.has("chop_size")) {
        section.fault("chop", "chop and chop_size say the same thing", "leave one out");
      }
      fresh = models::chopped(fresh, chop_m);
    }
    const bool sound = faults.empty();
    for (const Fault& fault : faults) {
      context_.faults.add(fault);
    }
    if (!sound || !(amount.kg > 0 || amount.m3 > 0)) {
      return std::nullopt;
    }
    Ingredient ingredient;
    ingredient.material = models::aged(fresh, age_days).material;
    ingredient.wet_mass_kg = std::isfinite(amount.kg)
                                 ? amount.kg
                                 : amount.m3 * ingredient.material.bulk_density_wet_kg_m3;
    ingredient.layer = layer;
    return ingredient;
  }

  models::Material material(const std::string& name, Section& section, const toml::table& table,
                            std::vector<Fault>& faults) {
    if (const models::MaterialRecord* record = library().find(name)) {
      models::Material found = record->material;
      apply_overrides(found, table, options_.name, faults);
      return found;
    }
    const std::vector<std::string> own_keys = material_override_keys();
    const bool any_property =
        std::ranges::any_of(own_keys, [&](const std::string& key) { return table.contains(key); });
    const std::string meant = engine::nearest(name, library().names());
    if (any_property && meant.empty()) {
      return material_given_in_full(name, table, options_.name, faults);
    }
    models::Material given;
    if (any_property) {
      given = material_given_in_full(name, table, options_.name, faults);
      if (faults.empty()) {
        return given;
      }
      faults.clear();
    }
    report_unknown(name, meant, section);
    return given;
  }

  models::Material own_material(const std::string& file, const std::string& name, Section& section,
                                const toml::table& table, std::vector<Fault>& faults) {
    const std::string path =
        (std::filesystem::path(options_.folder) / file).lexically_normal().string();
    models::Material own;
    try {
      const std::string text = read_file(path);
      description_.material_files.insert_or_assign(file, text);
      own = read_own_material(text, path, library());
      if (own.name != name) {
        section.fault("name", fmt::format("{} holds \"{}\", not \"{}\"", file, own.name, name),
                      "write the same name here and there");
      }
      apply_overrides(own, table, options_.name, faults);
    } catch (const InputError& error) {
      faults.insert(faults.end(), error.faults().begin(), error.faults().end());
    } catch (const FileError& error) {
      unreadable_ = fmt::format("{}: material file {}", section.where("file"), error.what());
    }
    return own;
  }

  void report_unknown(const std::string& name, const std::string& meant, Section& section) {
    if (name == "water") {
      section.fault("name", "water is no material",
                    "water the pile as it is built: [watering] with on = 0 and to = \"60 %\" or "
                    "litres = \"200 L\"");
      return;
    }
    std::vector<std::string> candidates;
    for (const models::MaterialRecord* record : library().search(name)) {
      candidates.push_back(record->material.name);
    }
    constexpr std::size_t most = 6;
    candidates.resize(std::min(candidates.size(), most));
    const std::string hint = !meant.empty() ? fmt::format("; did you mean \"{}\"?", meant)
                             : !candidates.empty()
                                 ? fmt::format("; there is \"{}\"", joined(candidates, "\", \""))
                                 : "";
    section.fault("name", fmt::format("\"{}\" is not in the library{}", name, hint),
                  "use a name that `heapcast materials` lists, name a file of your own, or "
                  "give the material in full (moisture, nitrogen, carbon, bulk_density, ...)");
  }

  void check_layers(Section& pile, std::vector<Section>& sections) {
    const auto with_layer =
        std::ranges::find_if(sections, [](const Section& section) { return section.has("layer"); });
    if (with_layer != sections.end() && !description_.layered) {
      with_layer->fault("layer", "a layer is given, but the pile is mixed",
                        "write layered = true in [pile], or leave the layers out");
    }
    if (!description_.layered) {
      return;
    }
    if (with_layer == sections.end()) {
      // Without numbers the materials lie in the order of the file.
      for (std::size_t i = 0; i < description_.ingredients.size(); ++i) {
        description_.ingredients[i].layer = static_cast<int>(i);
      }
    }
    if (sections.size() == 1) {
      pile.fault("layered", "one material makes no layers", "leave layered out");
    }
  }

  /// Compares the dimensions with the volume of the materials and leaves one to follow from it.
  void fit_dimensions(Section& pile) {
    models::Shape& shape = description_.shape;
    const double materials_m3 = models::ingredients_volume_m3(description_);
    const double enclosed_m3 = enclosed_volume_m3(shape);
    if (std::isnan(enclosed_m3)) {
      return;
    }
    const double ratio = materials_m3 / enclosed_m3;
    // Dimensions are paced out and barrows are not weighed: 5 % is as near as they agree.
    constexpr double agreement = 0.05;
    if (shape.kind == ShapeKind::bin) {
      if (ratio > 1 + agreement) {
        pile.fault("height",
                   fmt::format("the bin holds {:.3g} m3, but the materials fill {:.3g} m3",
                               enclosed_m3, materials_m3),
                   "put less in, add the rest later with [[add]], or make the bin larger");
      } else if (ratio < 0.5) {
        note(pile, "height",
             fmt::format("the materials fill {:.3g} m3, {:.0f} % of the bin's {:.3g} m3",
                         materials_m3, 100 * ratio, enclosed_m3),
             "check the amounts and the dimensions");
      }
      return; // the height stays: it is where the bin is full
    }
    double& follows = shape.kind == ShapeKind::windrow ? shape.length_m : shape.height_m;
    const std::string_view key = shape.kind == ShapeKind::windrow ? "length" : "height";
    if (!(std::abs(ratio - 1) <= agreement)) {
      pile.fault(key,
                 fmt::format("the dimensions enclose {:.3g} m3, but the materials fill {:.3g} m3",
                             enclosed_m3, materials_m3),
                 fmt::format("leave out one dimension, which then follows from the materials "
                             "(a {} of {:.3g} m fits), or change the amounts by a factor {:.3g}",
                             key, follows * ratio, 1 / ratio));
    }
    follows = unset_dimension;
  }

  models::Schedule read_schedule(Section& section) {
    models::Schedule schedule;
    schedule.every_days = section.quantity("every") / models::seconds_per_day;
    schedule.from_day = section.day("from", schedule.from_day);
    schedule.until_day = section.day("until", schedule.until_day);
    schedule.on_days = section.days("on");
    schedule.when = section.conditions("when");
    schedule.at_most = section.whole("at_most", schedule.at_most);
    schedule.gap_days = section.quantity("gap") / models::seconds_per_day;
    schedule.not_in_frost = section.flag("not_in_frost");
    schedule.weekdays = section.weekdays("weekdays");
    if (!section.present()) {
      return schedule;
    }
    if (schedule.until_day < schedule.from_day) {
      section.fault("until",
                    fmt::format("until day {:.4g} is before from day {:.4g}", schedule.until_day,
                                schedule.from_day),
                    "make until the later one");
    }
    note_schedule(section, schedule);
    return schedule;
  }

  void note_schedule(Section& section, const models::Schedule& schedule) {
    const double horizon = description_.horizon_days;
    const std::string end = fmt::format("the forecast ends on day {:.4g}", horizon);
    if (!schedule.on_days.empty() && schedule.on_days.back() > horizon) {
      note(section, "on",
           fmt::format("day {:.4g} comes after the end: {}", schedule.on_days.back(), end),
           "make run.days larger to see it");
    }
    if (schedule.from_day > horizon) {
      note(section, "from",
           fmt::format("day {:.4g} comes after the end: {}", schedule.from_day, end),
           "make run.days larger to see it");
    }
    for (const models::Condition& condition : schedule.when) {
      // Nothing is hot on the day it is built, so this holds at once.
      constexpr double hot_K = 313.15;
      if (condition.below && std::isnan(condition.armed_beyond) && condition.threshold > hot_K &&
          condition.quantity != models::Quantity::moisture &&
          condition.quantity != models::Quantity::core_oxygen) {
        note(section, "when",
             fmt::format("\"{}\" holds before the pile has become hot", condition.text),
             fmt::format("to wait for the heat write \"{} after > 55 degC\"", condition.text));
      }
    }
  }

  void read_turning() {
    Section section = top_.table("turning");
    models::Turning turning;
    turning.method = pick<models::TurnMethod>(
        section.choice("method"), {{"fork", models::TurnMethod::fork},
                                   {"loader", models::TurnMethod::loader},
                                   {"windrow_turner", models::TurnMethod::windrow_turner}});
    turning.water_to_moisture = section.quantity("water_to");
    turning.schedule = read_schedule(section);
    section.finish();
    if (section.present()) {
      description_.turning = std::move(turning);
    }
  }

  void read_watering() {
    Section section = top_.table("watering");
    models::Watering watering;
    watering.litres = section.quantity("litres") * 1000.0;
    watering.to_moisture = section.quantity("to");
    watering.schedule = read_schedule(section);
    section.finish();
    if (!section.present()) {
      return;
    }
    description_.watering = std::move(watering);
  }

  models::Cover read_cover_keys(Section& section) {
    models::Cover cover;
    cover.kind = pick<models::CoverKind>(section.choice("kind"),
                                         {{"none", models::CoverKind::none},
                                          {"tarp", models::CoverKind::tarp},
                                          {"breathable", models::CoverKind::breathable},
                                          {"blanket", models::CoverKind::blanket},
                                          {"roof", models::CoverKind::roof}});
    const double thickness_m = section.quantity("thickness");
    cover.conductivity_W_mK = section.quantity("conductivity");
    cover.thickness_m = std::isnan(thickness_m) ? 0.0 : thickness_m;
    return cover;
  }

  void read_cover() {
    Section section = top_.table("cover");
    description_.cover = read_cover_keys(section);
    for (Section& change : section.tables("change")) {
      models::CoverChange next;
      next.day = change.day("day", 0.0);
      next.cover = read_cover_keys(change);
      change.finish();
      for (const models::CoverChange& other : description_.cover_changes) {
        if (other.day == next.day && change.has("day")) {
          change.fault("day", fmt::format("day {:.4g} has two changes of cover", next.day),
                       "keep one of them");
        }
      }
      description_.cover_changes.push_back(next);
    }
    section.finish();
    std::ranges::sort(description_.cover_changes, {}, &models::CoverChange::day);
  }

  void read_air() {
    Section section = top_.table("air");
    models::Aeration& air = description_.aeration;
    air.pipes = section.flag("pipes");
    air.fan_m3_h = section.quantity("fan") * models::seconds_per_hour;
    air.on_minutes_h = section.quantity("on_minutes") / 60.0;
    air.on_above_K = section.quantity("on_above");
    section.finish();
  }

  void read_additions() {
    for (Section& section : top_.tables("add")) {
      models::Addition addition;
      addition.schedule = read_schedule(section);
      std::vector<Section> materials = section.tables("material");
      addition.ingredients = read_ingredients(materials);
      for (Section& one : materials) {
        if (one.has("layer")) {
          one.fault("layer", "what is added later has no layer", "leave it out");
        }
      }
      section.finish();
      description_.additions.push_back(std::move(addition));
    }
  }

  void read_labour() {
    Section section = top_.table("labour");
    models::LabourRates& labour = description_.labour;
    const auto m3_h = [&](const char* key) {
      return section.quantity(key) * models::seconds_per_hour;
    };
    labour.build_m3_h = m3_h("build");
    labour.fork_m3_h = m3_h("fork");
    labour.loader_m3_h = m3_h("loader");
    labour.windrow_turner_m3_h = m3_h("windrow_turner");
    labour.watering_L_h = 1000.0 * m3_h("watering");
    labour.setting_up_h = section.quantity("setting_up") / models::seconds_per_hour;
    section.finish();
  }

  void read_use() {
    Section section = top_.table("use");
    const std::string fit_for = section.choice("for");
    const std::string name = section.text("name");
    const std::vector<models::Criterion> criteria = section.criteria("criteria");
    const std::string hygiene = section.choice("hygiene");
    section.finish();
    const bool own = fit_for == "own";
    if (fit_for.empty()) {
      return;
    }
    const models::HeatTreatment treatment = models::heat_treatment(description_);
    models::Use use = models::built_in_use(own ? models::default_use : fit_for, treatment);
    if (own) {
      use.name = name.empty() ? "own" : name;
      use.criteria = criteria;
      check_criteria(section, criteria);
      if (!std::isnan(models::built_in_limit(name, models::Measure::oxygen_uptake))) {
        section.fault("name", fmt::format("\"{}\" is the name of a built-in use", name),
                      "call it something else");
      }
    }
    if (!hygiene.empty()) {
      use.hygiene_rule = hygiene == "none" ? "" : hygiene;
      use.hygiene_if_needed = false;
    }
    description_.use = std::move(use);
  }

  static void check_criteria(Section& section, const std::vector<models::Criterion>& criteria) {
    for (auto one = criteria.begin(); one != criteria.end(); ++one) {
      if (std::any_of(criteria.begin(), one, [&](const models::Criterion& other) {
            return other.measure == one->measure;
          })) {
        section.fault("criteria",
                      fmt::format("criteria name {} twice", models::measure_row(one->measure).key),
                      "keep the lower limit");
      }
    }
  }

  void read_size() {
    Section section = top_.table("size");
    SizeRequest& size = file_.size;
    size.by = pick<models::SizeBy>(section.choice("by"), {{"height", models::SizeBy::height},
                                                          {"length", models::SizeBy::length},
                                                          {"volume", models::SizeBy::volume}});
    size.from = read_one_size(section, "from");
    size.to = read_one_size(section, "to");
    const auto formula = [&](std::string_view key) {
      std::string text = section.text(key);
      return text == "none" ? std::string() : text; // so that --limit can take one away
    };
    size.goal = formula("goal");
    size.limit = formula("limit");
    size.goal_where = section.where("goal");
    size.limit_where = section.where("limit");
    size.probability = section.number("probability");
    section.finish();
    if (size.from >= size.to) {
      section.fault("to", "the largest size is not above the smallest", "exchange from and to");
    }
    const ShapeKind kind = description_.shape.kind;
    if (section.present() && shape_known_ && size.by == models::SizeBy::length &&
        kind != ShapeKind::windrow) {
      section.fault("by", "only a windrow has a length to change", "write by = \"height\"");
    }
    if (section.present() && shape_known_ && size.by == models::SizeBy::height &&
        kind == ShapeKind::one_cell) {
      section.fault("by", "a pile of one cell has no height", "write by = \"volume\"");
    }
  }

  double read_one_size(Section& section, std::string_view key) {
    const std::string written = section.text(key);
    if (written.empty()) {
      return models::unset;
    }
    const bool volume = file_.size.by == models::SizeBy::volume;
    const Dimension dimension = volume ? Dimension::volume : Dimension::length;
    const std::string_view low = volume ? "10 L" : "5 cm";
    const std::string_view high = volume ? "100000 m3" : "1000 m";
    try {
      const double size = parse_quantity(written, dimension);
      if (!(size >= parse_quantity(low, dimension) && size <= parse_quantity(high, dimension))) {
        section.fault(key, fmt::format("{} is outside {} to {}", written, low, high),
                      "write a size that a pile can have");
      }
      return size;
    } catch (const UnitError& error) {
      section.fault(key, error.what(), error.remedy());
      return models::unset;
    }
  }

  void read_probes() {
    for (Section& section : top_.tables("probe")) {
      const std::string name = section.text("name");
      const double depth_m = section.quantity("depth");
      section.finish();
      const bool twice = std::ranges::any_of(
          description_.probes, [&](const models::Probe& probe) { return probe.name == name; });
      if (twice) {
        section.fault("name", fmt::format("two probes are called \"{}\"", name),
                      "give each a name of its own");
      }
      description_.probes.push_back({name, depth_m});
    }
  }

  void read_variants() {
    for (Section& section : top_.tables("variant")) {
      const std::string name = section.text("name");
      (void)section.table("set");
      (void)section.texts("without");
      section.finish();
      if (std::ranges::find(file_.variants, name) != file_.variants.end()) {
        section.fault("name", fmt::format("two variants are called \"{}\"", name),
                      "give each a name of its own");
      }
      file_.variants.push_back(name);
    }
  }

  void note(const Section& section, std::string_view key, std::string what, std::string remedy) {
    notes_.add({section.where(key), std::move(what), std::move(remedy)});
  }

  // The resistance of 0.15 m of concrete (1.4 W/m/K, from memory) in series with 1.2 W/m2/K of
  // ground: (1/1.2) / (1/1.2 + 0.15/1.4).
  static constexpr double concrete_ground_scale = (1 / 1.2) / (1 / 1.2 + 0.15 / 1.4);
  static constexpr double unset_dimension = models::unset;

  const PileFileOptions& options_;
  ReadingContext context_;
  Section top_;
  TomlFaults notes_{options_.name};
  models::PileDescription description_;
  PileFile file_;
  std::string unreadable_;
  bool shape_known_ = false;
};

} // namespace

PileFile parse_pile_file(std::string_view text, const PileFileOptions& options) {
  toml::table tree = parse_toml_file(text, options.name);
  std::vector<Fault> faults;
  const auto change = [&](const auto& apply) {
    try {
      apply();
    } catch (const InputError& error) {
      faults.insert(faults.end(), error.faults().begin(), error.faults().end());
    }
  };
  if (!options.variant.empty()) {
    change([&] { apply_variant(tree, options.name, options.variant); });
  }
  for (const std::string& option : options.overrides) {
    change([&] { apply_override(tree, option); });
  }
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
  return PileReader(tree, options).read(std::string(text));
}

std::vector<Fault> notes_in_brief(const std::string& path, const PileFile& file) {
  std::vector<Fault> notes = file.notes;
  if (!file.unlikely.empty()) {
    notes.push_back({path, unlikely_in_brief(file.unlikely),
                     fmt::format("`heapcast check {}` says what is usual", path)});
  }
  return notes;
}

std::vector<Fault> in_variant(const std::string& name, std::vector<Fault> faults) {
  for (Fault& fault : faults) {
    fault.what = fmt::format("variant \"{}\": {}", name, fault.what);
  }
  return faults;
}

PileFile read_pile_file(const std::string& path, const std::vector<std::string>& overrides,
                        std::optional<std::uint64_t> seed, const std::string& variant) {
  const std::string text = read_file(path);
  const std::string folder = std::filesystem::path(path).parent_path().string();
  return parse_pile_file(text,
                         {path, folder.empty() ? "." : folder, overrides, seed, variant, nullptr});
}

} // namespace heapcast::cli
