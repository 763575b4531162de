#include "models/readiness/use.hpp"

#include "engine/errors.hpp"
#include "models/pile.hpp"
#include "models/readiness/respiration.hpp"

#include <algorithm>
#include <array>
#include <string>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

using enum Measure;

// What several rows share.
constexpr std::string_view usual = "no source";
constexpr std::string_view practice = "common practice";
constexpr double ccqc_mature = Respiration::from_mgO2_g_h(1.3).mmolO2_kg_h();
constexpr double ccqc_very_mature = Respiration::from_mgO2_g_h(0.4).mmolO2_kg_h();
constexpr double pas100 = Respiration::from_mgCO2_g_d(16.0).mgC_g_d();

constexpr std::array<UseRow, 23> rows = {{
    {"mulch", "mulch", oxygen_uptake, ccqc_mature,
     "1.3 mg O2/g OM/h, CCQC 2001: immature above [ccqc_our_m]", "memory"},
    {"mulch", "mulch", self_heating, 40.0,
     "class II: fresh compost may be of class II or III, BGK/RAL-GZ 251 [dewar_I]", "memory"},
    {"mulch", "mulch", above_air, 30.0,
     "the active phase is over below about 40 degC in cool weather, NRAES-54", "memory"},

    {"field", "field before sowing", oxygen_uptake, 25.0,
     "Regulation (EU) 2019/1009, annex II, CMC 3 [our25_mg]", "memory"},
    {"field", "field before sowing", carbon_dioxide, 15.0,
     "TMECC 05.08-B: raw compost above [tmecc_u]", "memory"},
    {"field", "field before sowing", self_heating, 30.0,
     "class III, Regulation (EU) 2019/1009, annex II, CMC 3 [dewar_III]", "memory"},
    {"field", "field before sowing", reheating, 15.0, usual, practice},
    {"field", "field before sowing", above_air, 25.0, usual, practice},
    {"field", "field before sowing", carbon_nitrogen_ratio, 30.0,
     "above it soil nitrogen is tied up for weeks; no source", practice},

    {"garden_bed", "garden bed", oxygen_uptake, 15.0, "stable, Veeken, de Wilde & Hamelers 2003",
     "memory"},
    {"garden_bed", "garden bed", carbon_dioxide, 8.0,
     "CCQC 2001: immature above; TMECC 05.08-B: stable up to [ccqc_co2_m, tmecc_s]", "memory"},
    {"garden_bed", "garden bed", self_heating, 20.0,
     "class IV; CCQC 2001: immature above [dewar_IV, ccqc_dewar_m]", "memory"},
    {"garden_bed", "garden bed", reheating, 10.0, usual, practice},
    {"garden_bed", "garden bed", above_air, 20.0, usual, practice},
    {"garden_bed", "garden bed", carbon_nitrogen_ratio, 25.0, "CCQC 2001 [ccqc_cn]", "memory"},
    {"garden_bed", "garden bed", ammonium_nitrate_ratio, 3.0,
     "CCQC 2001: immature above [ccqc_ratio_m]", "memory"},

    {"potting_mix", "potting mix", oxygen_uptake, ccqc_very_mature,
     "0.4 mg O2/g OM/h, CCQC 2001: very mature below [ccqc_our_vm]", "memory"},
    {"potting_mix", "potting mix", carbon_dioxide, pas100,
     "16 mg CO2/g OM/d, PAS 100 (2005) [pas100_co2]", "read"},
    {"potting_mix", "potting mix", self_heating, 10.0,
     "class V; CCQC 2001: very mature below [dewar_V, ccqc_dewar_vm]", "memory"},
    {"potting_mix", "potting mix", reheating, 5.0, usual, practice},
    {"potting_mix", "potting mix", above_air, 10.0, usual, practice},
    {"potting_mix", "potting mix", carbon_nitrogen_ratio, 20.0, usual, practice},
    {"potting_mix", "potting mix", ammonium_nitrate_ratio, 0.5, "CCQC 2001: very mature below",
     "memory"},
}};

bool manure_or_food(const std::vector<Ingredient>& ingredients) {
  return std::ranges::any_of(ingredients, [](const Ingredient& one) {
    return one.material.group == "manure" || one.material.group == "food";
  });
}

} // namespace

std::span<const UseRow> use_table() {
  return rows;
}

HeatTreatment heat_treatment(const PileDescription& pile) {
  return pile.shape.kind == ShapeKind::bin || pile.aeration.fan_m3_h > 0.0 ? HeatTreatment::vessel
                                                                           : HeatTreatment::windrow;
}

std::string_view hygiene_rule_of(std::string_view use, HeatTreatment treatment) {
  if (use == "mulch") {
    return "";
  }
  if (use == "field") {
    return "us503_psrp";
  }
  if (use == "garden_bed") {
    return "eu1009_cmc3";
  }
  return treatment == HeatTreatment::vessel ? "us503_pfrp_vessel" : "us503_pfrp_windrow";
}

Use built_in_use(std::string_view name, HeatTreatment treatment) {
  Use use{std::string(name), {}, std::string(hygiene_rule_of(name, treatment)), true};
  for (const UseRow& row : rows) {
    if (row.name == name) {
      use.criteria.push_back({row.measure, row.limit});
    }
  }
  if (use.criteria.empty()) {
    throw InputError("use", fmt::format("there is no use \"{}\"", name),
                     "name one of mulch, field, garden_bed, potting_mix");
  }
  return use;
}

double built_in_limit(std::string_view use, Measure measure) {
  const auto row = std::ranges::find_if(
      rows, [&](const UseRow& one) { return one.name == use && one.measure == measure; });
  return row == rows.end() ? unset : row->limit;
}

std::string use_title(const Use& use) {
  const auto row = std::ranges::find(rows, std::string_view(use.name), &UseRow::name);
  return row == rows.end() ? use.name : std::string(row->title);
}

Use judged_use(const PileDescription& pile) {
  return pile.use.name.empty() ? built_in_use(default_use, heat_treatment(pile)) : pile.use;
}

bool holds_manure_or_food(const PileDescription& pile) {
  return manure_or_food(pile.ingredients) ||
         std::ranges::any_of(pile.additions, [](const Addition& addition) {
           return manure_or_food(addition.ingredients);
         });
}

bool asks_for_hygiene(const Use& use, const PileDescription& pile) {
  return !use.hygiene_rule.empty() && (!use.hygiene_if_needed || holds_manure_or_food(pile));
}

const MeasureRow& measure_row(Measure measure) {
  static constexpr std::array<MeasureRow, static_cast<std::size_t>(Measure::count)> measures = {
      {{"oxygen_uptake", "oxygen uptake at 30 degC", "mmol O2/kg OM/h"},
       {"carbon_dioxide", "carbon dioxide evolution at 37 degC", "mg CO2-C/g OM/d"},
       {"self_heating", "self-heating in the vessel", "K"},
       {"reheating", "warming of the core after a turn", "K"},
       {"above_air", "core above the air of five days", "K"},
       {"carbon_nitrogen_ratio", "C:N", "1"},
       {"ammonium_nitrate_ratio", "ammonium over nitrate nitrogen", "1"}}};
  return measures.at(static_cast<std::size_t>(measure));
}

} // namespace heapcast::models
