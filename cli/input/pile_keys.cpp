#include "cli/input/pile_keys.hpp"

#include "cli/input/material_file.hpp"
#include "models/hygiene/hygiene_rule.hpp"
#include "models/materials/material_property.hpp"
#include "models/parameters.hpp"
#include "models/pile.hpp"
#include "models/readiness/use.hpp"

#include <fmt/format.h>

#include <utility>

namespace heapcast::cli {

namespace {

using enum ValueKind;

using Keys = std::vector<Key>;

void append(Keys& keys, Keys more) {
  keys.insert(keys.end(), std::make_move_iterator(more.begin()),
              std::make_move_iterator(more.end()));
}

Keys top_keys() {
  return {
      {.section = "",
       .name = "title",
       .kind = text,
       .meaning = "what the pile is called in the output",
       .example = "\"Autumn leaves and kitchen scraps\""},
      {.section = "",
       .name = "site",
       .kind = table,
       .required = true,
       .meaning = "place and weather"},
      {.section = "",
       .name = "measures",
       .kind = table,
       .meaning = "measures of your own, such as a barrow"},
      {.section = "", .name = "pile", .kind = table, .required = true, .meaning = "shape and size"},
      {.section = "",
       .name = "material",
       .kind = tables,
       .required = true,
       .meaning = "what goes in at the build"},
      {.section = "", .name = "turning", .kind = table, .meaning = "when it is turned"},
      {.section = "", .name = "watering", .kind = table, .meaning = "when it is watered"},
      {.section = "", .name = "cover", .kind = table, .meaning = "what lies on it"},
      {.section = "", .name = "air", .kind = table, .meaning = "pipes and fan under it"},
      {.section = "", .name = "add", .kind = tables, .meaning = "material added later"},
      {.section = "", .name = "labour", .kind = table, .meaning = "how fast the work goes"},
      {.section = "", .name = "use", .kind = table, .meaning = "what it must be ready for"},
      {.section = "", .name = "size", .kind = table, .meaning = "what its size must be fit for"},
      {.section = "", .name = "probe", .kind = tables, .meaning = "where a thermometer is put"},
      {.section = "", .name = "run", .kind = table, .meaning = "how the forecast is computed"},
      {.section = "",
       .name = "variant",
       .kind = tables,
       .meaning = "the same pile tended in another way, for comparing"},
  };
}

Keys normals_keys() {
  const auto monthly_key = [](std::string name, Dimension dimension, std::string low,
                              std::string high, bool required, std::string meaning,
                              std::string example) {
    return Key{.section = "site.normals",
               .name = std::move(name),
               .kind = monthly,
               .dimension = dimension,
               .low = std::move(low),
               .high = std::move(high),
               .required = required,
               .meaning = std::move(meaning),
               .example = std::move(example)};
  };
  const auto number_key = [](std::string name, std::string low, std::string high,
                             const std::string& initial, std::string meaning) {
    return Key{.section = "site.normals",
               .name = std::move(name),
               .kind = number,
               .low = std::move(low),
               .high = std::move(high),
               .initial = initial,
               .meaning = std::move(meaning),
               .example = initial};
  };
  return {
      monthly_key("tmin", Dimension::temperature, "-70 degC", "45 degC", true,
                  "mean of the days' lowest temperature", "\"-3 -2 1 4 8 11 13 13 9 6 1 -2 degC\""),
      monthly_key("tmax", Dimension::temperature, "-60 degC", "60 degC", true,
                  "mean of the days' highest temperature",
                  "\"3 5 10 14 19 22 24 24 19 14 7 4 degC\""),
      monthly_key("rain", Dimension::depth_of_water, "0 mm", "5000 mm", true, "sum of the month",
                  "\"60 55 60 70 85 95 90 95 75 65 65 65 mm\""),
      monthly_key("wet_days", Dimension::ratio, "0", "31", true, "days of the month with rain",
                  "[13, 11, 12, 12, 13, 13, 12, 12, 10, 10, 11, 13]"),
      monthly_key("wind", Dimension::speed, "0 m/s", "60 m/s", false,
                  "mean wind at site.wind_height", "\"3 3 3 3 2 2 2 2 2 2 3 3 m/s\""),
      monthly_key("humidity", Dimension::fraction, "0 %", "100 %", false, "mean relative humidity",
                  "\"84 79 73 69 71 71 71 75 80 84 85 86 %\""),
      number_key("rain_persistence", "0", "0.95", "0.25",
                 "how much likelier rain is after a wet day than after a dry one"),
      number_key("rain_shape", "0.2", "20", "0.7", "gamma shape of the rain of wet days"),
      number_key("temperature_persistence", "0", "0.98", "0.7",
                 "correlation of a day's temperature anomaly with the next day's"),
      Key{.section = "site.normals",
          .name = "temperature_sd",
          .kind = quantity,
          .dimension = Dimension::temperature_difference,
          .low = "0 K",
          .high = "10 K",
          .initial = "3.2 K",
          .meaning = "scatter of daily temperatures about the course of the year",
          .example = "\"3.2 K\""},
      Key{.section = "site.normals",
          .name = "seed",
          .kind = whole,
          .low = "0",
          .high = "2000000000",
          .initial = "1",
          .meaning = "another number makes another year with the same normals",
          .example = "7"},
  };
}

Keys site_keys() {
  Keys keys = {
      {.section = "site",
       .name = "latitude",
       .kind = quantity,
       .dimension = Dimension::angle,
       .low = "-90 deg",
       .high = "90 deg",
       .required = true,
       .meaning = "north of the equator; south is negative",
       .example = "\"47.5 deg\""},
      {.section = "site",
       .name = "longitude",
       .kind = quantity,
       .dimension = Dimension::angle,
       .low = "-180 deg",
       .high = "180 deg",
       .meaning = "east of Greenwich; without it the sun is highest at 12:00",
       .example = "\"8.5 deg\""},
      {.section = "site",
       .name = "utc_offset",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "-12 h",
       .high = "14 h",
       .meaning = "of local standard time; without it the nearest to the longitude",
       .example = "\"1 h\""},
      {.section = "site",
       .name = "elevation",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "-450 m",
       .high = "6000 m",
       .initial = "0 m",
       .meaning = "above the sea",
       .example = "\"420 m\""},
      {.section = "site",
       .name = "coastal",
       .kind = flag,
       .initial = "false",
       .meaning =
           "within a few kilometres of the sea: less sunshine behind a given day-night range",
       .example = "true"},
      {.section = "site",
       .name = "start",
       .kind = date,
       .required = true,
       .meaning = "day of the build, at run.work_hour unless an hour is given",
       .example = "\"2013-10-05\""},
      {.section = "site",
       .name = "weather",
       .kind = text,
       .meaning = "weather file (CSV or EPW), relative to the pile file",
       .example = "\"weather.csv\""},
      {.section = "site",
       .name = "fill_gaps",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "0 h",
       .high = "3 days",
       .initial = "0 h",
       .meaning = "gaps in the weather file up to this long are filled from the days before and "
                  "after, without rain, and listed; without it a gap is an error",
       .example = "\"3 days\""},
      {.section = "site",
       .name = "wind_height",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "0.5 m",
       .high = "200 m",
       .initial = "10 m",
       .meaning = "height of the wind readings",
       .example = "\"2 m\""},
      {.section = "site",
       .name = "weather_columns",
       .kind = table,
       .meaning = "which column of a foreign CSV file holds what, e.g. tmin = \"T_MIN [degC]\""},
      {.section = "site.weather_columns",
       .name = "*",
       .kind = text,
       .meaning = "the column's header, with the unit in brackets where it is not in the file",
       .example = "\"T_MIN [degC]\""},
      {.section = "site",
       .name = "station",
       .kind = table,
       .meaning = "which rows to use of a CSV file with several stations"},
      {.section = "site.station",
       .name = "column",
       .kind = text,
       .required = true,
       .meaning = "the header of the column with the station",
       .example = "\"station\""},
      {.section = "site.station",
       .name = "value",
       .kind = text,
       .required = true,
       .meaning = "what stands in it for the station wanted",
       .example = "\"hill farm\""},
      {.section = "site",
       .name = "normals",
       .kind = table,
       .meaning = "twelve monthly values instead of a weather file"},
  };
  append(keys, normals_keys());
  return keys;
}

Keys pile_section_keys() {
  return {
      {.section = "measures",
       .name = "*",
       .kind = amount,
       .meaning = "how much one of them holds",
       .example = "\"90 L\""},
      {.section = "pile",
       .name = "shape",
       .kind = choice,
       .choices = {"windrow", "heap", "bin", "one_cell"},
       .required = true,
       .meaning = "a long row, a round heap, a bin, or well mixed without inside and outside",
       .example = "\"heap\""},
      {.section = "pile",
       .name = "profile",
       .kind = choice,
       .choices = {"parabolic", "triangular", "trapezoidal", "dome", "cone"},
       .meaning = "of a windrow: parabolic (as without it), triangular, trapezoidal; of a heap: "
                  "dome (as without it), cone",
       .example = "\"parabolic\""},
      {.section = "pile",
       .name = "height",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "5 cm",
       .high = "10 m",
       .meaning = "at the build; of a bin: of its walls. Without it: as the materials give",
       .example = "\"1.2 m\""},
      {.section = "pile",
       .name = "width",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "5 cm",
       .high = "30 m",
       .meaning = "of a windrow's base or a box bin. Without it: as the materials give",
       .example = "\"2.5 m\""},
      {.section = "pile",
       .name = "length",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "5 cm",
       .high = "1000 m",
       .meaning = "of a windrow or a box bin. Without it: as the materials give",
       .example = "\"12 m\""},
      {.section = "pile",
       .name = "top_width",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "1 cm",
       .high = "30 m",
       .meaning = "of a trapezoidal windrow",
       .example = "\"80 cm\""},
      {.section = "pile",
       .name = "diameter",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "5 cm",
       .high = "30 m",
       .meaning = "of a heap or a round bin. Without it: as the materials give",
       .example = "\"2 m\""},
      {.section = "pile",
       .name = "round",
       .kind = flag,
       .initial = "false",
       .meaning = "of a bin: a cylinder instead of a box",
       .example = "true"},
      {.section = "pile",
       .name = "wind_exposed",
       .kind = flag,
       .initial = "false",
       .meaning = "of a windrow: the wind blows across it",
       .example = "true"},
      {.section = "pile",
       .name = "ground",
       .kind = choice,
       .choices = {"soil", "concrete", "raised"},
       .initial = "soil",
       .meaning = "what it stands on",
       .example = "\"soil\""},
      {.section = "pile",
       .name = "compaction",
       .kind = quantity,
       .dimension = Dimension::fraction,
       .low = "0 %",
       .high = "60 %",
       .initial = "0 %",
       .meaning = "volume lost by treading or pressing at the build",
       .example = "\"10 %\""},
      {.section = "pile",
       .name = "water_to",
       .kind = quantity,
       .dimension = Dimension::fraction,
       .low = "20 %",
       .high = "85 %",
       .meaning = "water at the build up to this moisture (wet basis) when drier",
       .example = "\"58 %\""},
      {.section = "pile",
       .name = "build_temperature",
       .kind = quantity,
       .dimension = Dimension::temperature,
       .low = "-30 degC",
       .high = "75 degC",
       .meaning = "of the materials at the build. Without it: as the air",
       .example = "\"15 degC\""},
      {.section = "pile",
       .name = "layered",
       .kind = flag,
       .initial = "false",
       .meaning = "laid in layers instead of mixed",
       .example = "true"},
      {.section = "pile", .name = "walls", .kind = table, .meaning = "walls and lid of a bin"},
      {.section = "pile.walls",
       .name = "open",
       .kind = quantity,
       .dimension = Dimension::fraction,
       .low = "0 %",
       .high = "100 %",
       .initial = "0 %",
       .meaning = "open share of the wall area: slats, mesh",
       .example = "\"20 %\""},
      {.section = "pile.walls",
       .name = "conductance",
       .kind = quantity,
       .dimension = Dimension::heat_conductance,
       .low = "0.02 W/m2/K",
       .high = "100 W/m2/K",
       .initial = "4 W/m2/K",
       .meaning = "of the closed part, without the air films: 25 mm of wood about 5, 50 mm of "
                  "foam about 0.7",
       .example = "\"4 W/m2/K\""},
      {.section = "pile.walls",
       .name = "lid",
       .kind = flag,
       .initial = "false",
       .meaning = "keeps the rain out",
       .example = "true"},
  };
}

/// One material in `section`; its properties are rows made from the property table.
Keys material_keys(const std::string& section) {
  Keys keys = {
      {.section = section,
       .name = "name",
       .kind = text,
       .required = true,
       .meaning = "a name that `heapcast materials` lists, or a new one with all properties given",
       .example = "\"wheat_straw\""},
      {.section = section,
       .name = "file",
       .kind = text,
       .meaning = "a material file of your own, beside the pile file, that holds this name",
       .example = "\"hemp_hay.toml\""},
      {.section = section,
       .name = "amount",
       .kind = amount,
       .required = true,
       .meaning = "as it goes in: a weight, a volume or your own measures",
       .example = "\"420 kg\""},
      {.section = section,
       .name = "chop",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "1 mm",
       .high = "2 m",
       .meaning = "length of the pieces; without it as the library has it",
       .example = "\"5 cm\""},
      {.section = section,
       .name = "age",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "0 days",
       .high = "3650 days",
       .initial = "0 days",
       .meaning = "time it has waited since it was cut or collected; the properties are those of "
                  "the fresh material, the amount that of the aged",
       .example = "\"10 days\""},
      {.section = section,
       .name = "layer",
       .kind = whole,
       .low = "0",
       .high = "100",
       .initial = "0",
       .meaning = "from the ground up, in a layered pile",
       .example = "1"},
  };
  for (const std::string& name : material_override_keys()) {
    const models::MaterialProperty* property = models::find_material_property(name);
    const PropertyDimensions dimensions = property_dimensions(name);
    const auto with_unit = [&](double value) {
      return fmt::format("{} {}", value, property->unit);
    };
    keys.push_back({.section = section,
                    .name = name,
                    .kind = ValueKind::property,
                    .dimension = dimensions.usual,
                    .also = dimensions.also,
                    .low = property == nullptr ? "" : with_unit(property->low),
                    .high = property == nullptr ? "" : with_unit(property->high),
                    .meaning = property != nullptr ? std::string(property->meaning)
                               : name == "lignin"
                                   ? "lignin in % of VS, in place of the carbon pools"
                                   : "carbon over nitrogen, in place of one of them"});
  }
  return keys;
}

/// When something is done.
Keys schedule_keys(const std::string& section) {
  return {
      {.section = section,
       .name = "every",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "1 day",
       .high = "3650 days",
       .meaning = "rhythm",
       .example = "\"2 days\""},
      {.section = section,
       .name = "from",
       .kind = day,
       .meaning = "not before this day since the build, or date",
       .example = "\"7 days\""},
      {.section = section,
       .name = "until",
       .kind = day,
       .meaning = "not after this day since the build, or date",
       .example = "\"40 days\""},
      {.section = section,
       .name = "on",
       .kind = days,
       .meaning = "days since the build, or dates",
       .example = "[3, 10, \"2013-11-02\"]"},
      {.section = section,
       .name = "when",
       .kind = conditions,
       .meaning = "conditions, looked at once a day at run.work_hour; one is enough",
       .example = "\"core_temperature < 50 degC after > 55 degC\""},
      {.section = section,
       .name = "at_most",
       .kind = whole,
       .low = "1",
       .high = "100000",
       .meaning = "how often at most",
       .example = "5"},
      {.section = section,
       .name = "gap",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "0 days",
       .high = "3650 days",
       .initial = "1 day",
       .meaning = "shortest time between two",
       .example = "\"3 days\""},
      {.section = section,
       .name = "not_in_frost",
       .kind = flag,
       .initial = "false",
       .meaning = "not while the air is below 0 degC",
       .example = "true"},
      {.section = section,
       .name = "weekdays",
       .kind = weekdays,
       .meaning = "only on these days of the week",
       .example = "[\"saturday\", \"sunday\"]"},
  };
}

Keys turning_keys() {
  Keys keys = {
      {.section = "turning",
       .name = "method",
       .kind = choice,
       .choices = {"fork", "loader", "windrow_turner"},
       .initial = "fork",
       .meaning = "by hand, with a loader, or with a machine that straddles the row",
       .example = "\"fork\""},
      {.section = "turning",
       .name = "water_to",
       .kind = quantity,
       .dimension = Dimension::fraction_wet,
       .low = "20 %",
       .high = "80 %",
       .meaning = "moisture up to which water is added at each turn",
       .example = "\"58 %\""},
  };
  append(keys, schedule_keys("turning"));
  return keys;
}

Keys watering_keys() {
  Keys keys = {
      {.section = "watering",
       .name = "litres",
       .kind = quantity,
       .dimension = Dimension::volume,
       .low = "0.01 L",
       .high = "1000000 L",
       .counts = "L",
       .meaning = "water each time",
       .example = "\"40 L\""},
      {.section = "watering",
       .name = "to",
       .kind = quantity,
       .dimension = Dimension::fraction_wet,
       .low = "20 %",
       .high = "80 %",
       .meaning = "moisture up to which water is added each time",
       .example = "\"58 %\""},
  };
  append(keys, schedule_keys("watering"));
  return keys;
}

Keys cover_keys(const std::string& section, bool required) {
  return {
      {.section = section,
       .name = "kind",
       .kind = choice,
       .choices = {"none", "tarp", "breathable", "blanket", "roof"},
       .initial = "none",
       .required = required,
       .meaning = "nothing, a tight sheet, a sheet that lets vapour out, a layer of straw or "
                  "finished compost, a roof above",
       .example = "\"blanket\""},
      {.section = section,
       .name = "thickness",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "1 cm",
       .high = "1 m",
       .meaning = "of a blanket",
       .example = "\"15 cm\""},
      {.section = section,
       .name = "conductivity",
       .kind = quantity,
       .dimension = Dimension::conductivity,
       .low = "0.02 W/m/K",
       .high = "2 W/m/K",
       .initial = "0.1 W/m/K",
       .meaning = "of a blanket: dry straw about 0.1, moist compost about 0.3",
       .example = "\"0.1 W/m/K\""},
  };
}

Keys tending_keys() {
  Keys keys = turning_keys();
  append(keys, watering_keys());
  append(keys, cover_keys("cover", false));
  append(keys, {{.section = "cover",
                 .name = "change",
                 .kind = tables,
                 .meaning = "another cover from a day on"},
                {.section = "cover.change",
                 .name = "day",
                 .kind = day,
                 .required = true,
                 .meaning = "day since the build, or a date",
                 .example = "20"}});
  append(keys, cover_keys("cover.change", true));
  append(keys, {{.section = "air",
                 .name = "pipes",
                 .kind = flag,
                 .initial = "false",
                 .meaning = "open pipes under the pile let air in from below",
                 .example = "true"},
                {.section = "air",
                 .name = "fan",
                 .kind = quantity,
                 .dimension = Dimension::volume_flow,
                 .low = "0 m3/h",
                 .high = "100000 m3/h",
                 .initial = "0 m3/h",
                 .meaning = "air blown in from below while the fan is on",
                 .example = "\"20 m3/h\""},
                {.section = "air",
                 .name = "on_minutes",
                 .kind = quantity,
                 .dimension = Dimension::time,
                 .low = "0 min",
                 .high = "60 min",
                 .counts = "min",
                 .initial = "60 min",
                 .meaning = "minutes in each hour in which the fan is on",
                 .example = "10"},
                {.section = "air",
                 .name = "on_above",
                 .kind = quantity,
                 .dimension = Dimension::temperature,
                 .low = "-30 degC",
                 .high = "90 degC",
                 .meaning = "the fan is on only while the core is hotter than this",
                 .example = "\"60 degC\""}});
  append(keys, schedule_keys("add"));
  append(keys, {{.section = "add",
                 .name = "material",
                 .kind = tables,
                 .required = true,
                 .meaning = "what is added each time"}});
  append(keys, material_keys("add.material"));
  return keys;
}

Keys labour_keys() {
  const models::LabourRates usual;
  const auto rate = [](std::string name, std::string low, std::string high, std::string initial,
                       std::string meaning) {
    return Key{.section = "labour",
               .name = std::move(name),
               .kind = quantity,
               .dimension = Dimension::volume_flow,
               .low = std::move(low),
               .high = std::move(high),
               .initial = initial,
               .meaning = std::move(meaning) + " (common practice, no source)",
               .example = fmt::format("\"{}\"", initial)};
  };
  const auto m3_h = [](double value) { return fmt::format("{} m3/h", value); };
  return {rate("build", "0.05 m3/h", "1000 m3/h", m3_h(usual.build_m3_h),
               "one person's pace of forking materials together and onto the pile"),
          rate("fork", "0.05 m3/h", "1000 m3/h", m3_h(usual.fork_m3_h),
               "one person's pace of turning by hand"),
          rate("loader", "1 m3/h", "10000 m3/h", m3_h(usual.loader_m3_h),
               "pace of turning with a loader"),
          rate("windrow_turner", "1 m3/h", "10000 m3/h", m3_h(usual.windrow_turner_m3_h),
               "pace of turning with a windrow turner"),
          rate("watering", "1 L/h", "100000 L/h", fmt::format("{} L/h", usual.watering_L_h),
               "what a person standing by brings out"),
          Key{.section = "labour",
              .name = "setting_up",
              .kind = quantity,
              .dimension = Dimension::time,
              .low = "0 min",
              .high = "24 h",
              .initial = fmt::format("{} h", usual.setting_up_h),
              .meaning = "fetching and cleaning for each turn or watering (common practice, no "
                         "source)",
              .example = "\"15 min\""}};
}

std::vector<std::string> hygiene_choices() {
  std::vector<std::string> choices{"none"};
  for (const models::HygieneRule& rule : models::hygiene_rules()) {
    choices.emplace_back(rule.key);
  }
  return choices;
}

Keys run_keys() {
  Keys keys = {
      {.section = "use",
       .name = "for",
       .kind = choice,
       .choices = {"mulch", "field", "garden_bed", "potting_mix", "own"},
       .required = true,
       .meaning = "what the compost must be fit for; own: what criteria say",
       .example = "\"garden_bed\""},
      {.section = "use",
       .name = "name",
       .kind = text,
       .meaning = "what a use of your own is called in the output",
       .example = "\"nursery\""},
      {.section = "use",
       .name = "criteria",
       .kind = ValueKind::criteria,
       .meaning = "what a use of your own asks: measures and the most they may be",
       .example = "[\"oxygen_uptake <= 15 mmol O2/kg/h\", \"carbon_nitrogen_ratio <= 20\"]"},
      {.section = "use",
       .name = "hygiene",
       .kind = choice,
       .choices = hygiene_choices(),
       .meaning = "the hygiene rule that must be met, whatever is in the pile; without it the "
                  "use's own rule, when there is manure or food waste",
       .example = "\"eu1009_cmc3\""},
      {.section = "size",
       .name = "by",
       .kind = choice,
       .choices = {"height", "length", "volume"},
       .initial = "height",
       .meaning =
           "what `heapcast size` changes: the height with the shape kept, a windrow's length, "
           "or the volume of the materials, of a bin what it holds",
       .example = "\"height\""},
      {.section = "size",
       .name = "from",
       .kind = text,
       .meaning = "the smallest size to try; without it 0.4 times the pile as written",
       .example = "\"0.8 m\""},
      {.section = "size",
       .name = "to",
       .kind = text,
       .meaning = "the largest size to try; without it 2.5 times the pile as written",
       .example = "\"3 m\""},
      {.section = "size",
       .name = "goal",
       .kind = text,
       .meaning = "what the smallest pile must reach: a formula over the numbers of a run, "
                  "or \"none\"",
       .example = "\"ready_day <= 60\""},
      {.section = "size",
       .name = "limit",
       .kind = text,
       .meaning = "what the largest pile must keep to: a formula over the numbers of a run, "
                  "or \"none\"",
       .example = "\"days(core_oxygen < 5) <= 2 and not fire_risk\""},
      {.section = "size",
       .name = "probability",
       .kind = number,
       .low = "0.01",
       .high = "0.999",
       .initial = "0.9",
       .meaning = "share of the runs in which goal and limit must hold",
       .example = "0.9"},
      {.section = "probe",
       .name = "name",
       .kind = text,
       .required = true,
       .meaning = "what the probe is called in the output",
       .example = "\"stick\""},
      {.section = "probe",
       .name = "depth",
       .kind = quantity,
       .dimension = Dimension::length,
       .low = "0 cm",
       .high = "10 m",
       .required = true,
       .meaning = "below the surface",
       .example = "\"50 cm\""},
      {.section = "run",
       .name = "days",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "1 day",
       .high = "3650 days",
       .counts = "days",
       .initial = "60 days",
       .meaning = "how far ahead",
       .example = "60"},
      {.section = "run",
       .name = "output",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "1 h",
       .high = "24 h",
       .initial = "1 h",
       .meaning = "time between two points of the curves, in whole hours",
       .example = "\"1 h\""},
      {.section = "run",
       .name = "pictures",
       .kind = quantity,
       .dimension = Dimension::time,
       .low = "1 h",
       .high = "60 days",
       .initial = "24 h",
       .meaning = "time between two pictures of the section, in whole hours",
       .example = "\"24 h\""},
      {.section = "run",
       .name = "work_hour",
       .kind = whole,
       .low = "0",
       .high = "23",
       .initial = "9",
       .meaning = "hour of the day when the pile is built and work is done",
       .example = "9"},
      {.section = "run",
       .name = "resolution",
       .kind = choice,
       .choices = {"coarse", "standard", "fine"},
       .initial = "standard",
       .meaning = "how finely the pile is cut up",
       .example = "\"standard\""},
      {.section = "run",
       .name = "weather_years",
       .kind = choice,
       .choices = {"all", "start"},
       .initial = "all",
       .meaning = "what several runs draw from: the same dates in all years of the weather, or "
                  "in that of the start alone",
       .example = "\"start\""},
      {.section = "run",
       .name = "parameters",
       .kind = table,
       .meaning = "other values for the model's parameters, see `heapcast parameters`"},
  };
  for (const models::ParameterRow& row : models::parameter_table()) {
    keys.push_back({.section = "run.parameters",
                    .name = std::string(row.name),
                    .kind = number,
                    .low = fmt::format("{}", row.low),
                    .high = fmt::format("{}", row.high),
                    .counts = row.unit == "-" ? "" : std::string(row.unit),
                    .initial = fmt::format("{}", row.value),
                    .meaning = std::string(row.meaning),
                    .example = fmt::format("{}", row.value)});
  }
  append(keys, {{.section = "variant",
                 .name = "name",
                 .kind = text,
                 .required = true,
                 .meaning = "what the variant is called in the output",
                 .example = "\"never turned\""},
                {.section = "variant",
                 .name = "set",
                 .kind = table,
                 .meaning = "dotted keys of this file and their other values"},
                {.section = "variant",
                 .name = "without",
                 .kind = texts,
                 .meaning = "dotted keys of this file that this variant does not have",
                 .example = "[\"turning\"]"}});
  return keys;
}

std::vector<KeyRule> all_rules() {
  using enum KeyRule::Kind;
  std::vector<KeyRule> rules;
  for (const char* section : {"turning", "watering", "add"}) {
    rules.push_back(
        {.section = section,
         .kind = at_least_one,
         .keys = {"every", "on", "when"},
         .what = "{} does not say when",
         .remedy = "add every = \"7 days\", on = [3, 10] or when = \"moisture < 45 %\""});
  }
  rules.push_back({.section = "watering",
                   .kind = exactly_one,
                   .keys = {"to", "litres"},
                   .what = "{} does not say how much",
                   .too_many = "{} has both litres and to",
                   .remedy = "write either litres = \"40 L\" (each time) or to = \"58 %\" "
                             "(moisture)"});
  rules.push_back({.section = "site",
                   .kind = exactly_one,
                   .keys = {"weather", "normals"},
                   .what = "the site has no weather",
                   .too_many = "the site has both a weather file and monthly normals",
                   .remedy = "give either weather = \"weather.csv\" or [site.normals] with twelve "
                             "monthly values"});
  rules.push_back({.section = "site",
                   .kind = needs,
                   .keys = {"weather_columns", "station", "fill_gaps"},
                   .other = "weather",
                   .what = "{} belongs to a weather file, but there is none",
                   .remedy = "leave it out"});
  for (const char* section : {"cover", "cover.change"}) {
    rules.push_back({.section = section,
                     .kind = required_with,
                     .keys = {"thickness"},
                     .other = "kind",
                     .choice = "blanket",
                     .what = "a blanket needs a {}",
                     .remedy = "add thickness = \"15 cm\""});
    rules.push_back({.section = section,
                     .kind = only_with,
                     .keys = {"thickness", "conductivity"},
                     .other = "kind",
                     .choice = "blanket",
                     .what = "only a blanket has a {}",
                     .remedy = "leave it out, or write kind = \"blanket\""});
  }
  rules.push_back({.section = "air",
                   .kind = needs,
                   .keys = {"on_minutes", "on_above"},
                   .other = "fan",
                   .what = "{} is given, but there is no fan",
                   .remedy = "add fan = \"20 m3/h\", or leave it out"});
  rules.push_back(
      {.section = "use",
       .kind = required_with,
       .keys = {"criteria"},
       .other = "for",
       .choice = "own",
       .what = "a use of your own has no {}",
       .remedy = "add criteria = [\"oxygen_uptake <= 15 mmol O2/kg/h\"], or name a use"});
  rules.push_back({.section = "use",
                   .kind = only_with,
                   .keys = {"name", "criteria"},
                   .other = "for",
                   .choice = "own",
                   .what = "only a use of your own has {}",
                   .remedy = "leave {} out, or write for = \"own\""});
  rules.push_back({.section = "variant",
                   .kind = at_least_one,
                   .keys = {"set", "without"},
                   .what = "{} changes nothing",
                   .remedy = "give set = { \"turning.every\" = \"3 days\" } or without = "
                             "[\"turning\"]"});
  rules.push_back({.section = "pile",
                   .kind = only_with,
                   .keys = {"walls"},
                   .other = "shape",
                   .choice = "bin",
                   .what = "only a bin has {}",
                   .remedy = "leave out [pile.walls], or write shape = \"bin\""});
  // Dimensions that no pile of a shape has; what else decides is in pile_file.cpp.
  const auto foreign = [&](const char* shape, std::vector<std::string> dimensions, const char* what,
                           const char* remedy) {
    rules.push_back({.section = "pile",
                     .kind = never_with,
                     .keys = std::move(dimensions),
                     .other = "shape",
                     .choice = shape,
                     .what = what,
                     .remedy = remedy});
  };
  foreign("heap", {"width", "length"}, "a heap has no {}", "give its diameter");
  foreign("heap", {"top_width"}, "a heap has no {}", "leave it out");
  foreign("windrow", {"diameter"}, "a windrow has no {}", "give width and length");
  foreign("bin", {"top_width"}, "a bin has no {}", "leave it out");
  foreign("one_cell", {"height", "width", "length", "diameter", "top_width"},
          "a pile of one cell has no {}", "leave it out");
  return rules;
}

Keys all_keys() {
  Keys keys = top_keys();
  append(keys, site_keys());
  append(keys, pile_section_keys());
  append(keys, material_keys("material"));
  append(keys, tending_keys());
  append(keys, labour_keys());
  append(keys, run_keys());
  return keys;
}

} // namespace

std::span<const Key> pile_keys() {
  static const Keys keys = all_keys();
  return keys;
}

std::span<const KeyRule> pile_rules() {
  static const std::vector<KeyRule> rules = all_rules();
  return rules;
}

std::vector<const Key*> keys_of(std::span<const Key> keys, std::string_view section) {
  std::vector<const Key*> rows;
  for (const Key& key : keys) {
    if (key.section == section) {
      rows.push_back(&key);
    }
  }
  return rows;
}

} // namespace heapcast::cli
