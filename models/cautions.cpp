#include "models/cautions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

namespace heapcast::models {

namespace {

/// Above it the model no longer holds and a pile can go on heating by itself (memory of Buggeln &
/// Rynk 2002, reference/field.csv sc_*).
constexpr double fire_degC = 80.0;
/// Judgement, no source: a pile this hot and dry is on the way there.
constexpr double dry_fire_degC = 70.0;
constexpr double dry_percent = 45.0;   ///< reference/field.csv sc_moist_hi
constexpr double tall_m = 3.66;        ///< reference/field.csv sc_height: 12 ft
constexpr double warm_degC = 60.0;     ///< judgement, no source: dry places count from here
constexpr double steaming_degC = 50.0; ///< judgement, no source: steam is plain to see when opened
constexpr double wet_percent = 70.0;   ///< common practice, no source
constexpr double airless_percent = 20.0; ///< free air space; common practice, no source

std::string listed(const std::vector<std::string>& parts, std::string_view between = ", ") {
  std::string text;
  for (const std::string& part : parts) {
    if (!part.empty()) {
      text += (text.empty() ? "" : std::string(between)) + part;
    }
  }
  return text;
}

/// "moisture up to 76 %"; nothing for NaN.
std::string with(std::string_view before, double value, std::string_view unit, int digits = 0) {
  return std::isfinite(value) ? fmt::format("{}{:.{}f} {}", before, value, digits, unit)
                              : std::string();
}

std::string litres(double value) {
  return fmt::format("{:.{}f}", value, value < 10.0 ? 1 : 0);
}

/// "260 g of nitrogen" and what becomes of it; nothing for less than can be weighed.
std::string nitrogen(double kgN, std::string_view fate) {
  constexpr double smallest_kg = 1e-4;
  if (!(kgN >= smallest_kg)) {
    return {};
  }
  return kgN < 1.0 ? fmt::format("{:.{}f} g of nitrogen {}", 1000.0 * kgN, kgN < 0.01 ? 1 : 0, fate)
                   : fmt::format("{:.1f} kg of nitrogen {}", kgN, fate);
}

std::string turn_count(double turns) {
  return !(turns > 0.0) ? "never turned"
         : turns == 1.0 ? "1 turn"
                        : fmt::format("{:.0f} turns", turns);
}

Caution fire(const CautionFigures& f) {
  const bool dry = f.driest_where_warm_percent < dry_percent;
  return {
      Danger::fire,
      "Fire",
      listed({with("hottest place ", f.hottest_degC, "°C"),
              with("moisture down to ", f.driest_where_warm_percent, "% where it is above 60 °C"),
              f.height_m > tall_m ? with("", f.height_m, "m high", 1) : std::string()}),
      "probe it deep and often, keep water at hand, do not open it when it smells of smoke",
      "A very hot, dry or very tall pile can go on heating by itself and catch fire; the danger "
      "lies at about 20 to 45 % moisture (Buggeln & Rynk 2002, from memory) and above about "
      "80 °C, where this model no longer holds. Probe it deep and often, keep water at hand and "
      "other piles and buildings at a distance. If it smells of smoke, do not open it: air "
      "feeds the fire. Call the fire service.",
      f.hottest_degC >= fire_degC || (f.hottest_degC >= dry_fire_degC && dry) ||
          f.height_m > tall_m};
}

Caution too_wet(const CautionFigures& f) {
  return {
      Danger::run_off,
      "Too wet, run-off",
      listed({with("moisture up to ", f.wettest_percent, "%"),
              with("free air space down to ", f.least_air_percent, "%"),
              f.leachate_L > 0.0 ? litres(f.leachate_L) + " litres drain out" : std::string(),
              nitrogen(f.leached_kgN, "in it")}),
      "cover it in heavy rain; keep what drains away from wells and water",
      "A pile without air goes sour and stinks. What drains from it carries nitrogen and germs. "
      "Keep it away from wells, ditches, streams and drains, on firm ground that does not "
      "flood, and cover it in heavy rain; add dry, coarse stuff when it is soaked. Distances to "
      "wells and water are set locally.",
      f.leachate_L >= 1.0 || f.wettest_percent > wet_percent ||
          f.least_air_percent < airless_percent};
}

Caution manure(const CautionFigures& f) {
  return {Danger::germs,
          "Manure, food waste and edible crops",
          listed({listed(f.animal), with("skin never above ", f.skin_peak_degC, "°C")}, "; "),
          "a forecast is no proof of hygiene: measure, follow local rules before edible crops",
          "Raw manure and animal or food waste can carry germs and parasites that survive in the "
          "cool skin and spread again when the pile is turned. Keep it off edible crops, above all "
          "those eaten raw, until temperatures were measured throughout; many rules also ask for a "
          "waiting time before harvest. Wash hands; keep children and grazing animals away.",
          !f.animal.empty()};
}

Caution dust(const CautionFigures& f) {
  return {Danger::dust,
          "Dust and spores",
          listed({turn_count(f.turns), listed(f.dusty)}),
          "wet dry stuff before moving it, wear a well-fitting dust mask",
          "Turned compost gives off fungal spores and bacteria: close to the work, workers met 10 "
          "to 1000 times the usual amount (HSE, Great Britain). Wet dry material before moving it "
          "and wear a well-fitting dust mask (FFP2, N95 or better). People with asthma, lung "
          "disease or weak immunity should keep away.",
          f.turns > 0.0 || !f.dusty.empty()};
}

Caution ammonia(const CautionFigures& f) {
  return {Danger::ammonia,
          "Steam and ammonia",
          listed({f.turns > 0.0 ? with("turned while the core is at ", f.core_at_turn_degC, "°C")
                                : std::string(),
                  nitrogen(f.ammonia_kgN, "leaves as ammonia")}),
          "stand upwind, step back when it stings, never bend into a closed bin",
          "Opening a hot pile lets out steam that scalds and ammonia that burns eyes and lungs. "
          "Stand upwind, wear gloves, step back when it stings, and never bend into a closed bin "
          "or work a pile in a closed shed.",
          f.turns > 0.0 && f.core_at_turn_degC >= steaming_degC};
}

Caution machinery(const CautionFigures& f) {
  return {Danger::machinery,
          "Machinery",
          f.by_machine ? turn_count(f.turns) + " by machine" : turn_count(f.turns),
          "guards on, nobody near a working machine, keep off steep faces",
          "Loaders, turners, shredders and power take-offs maim. Guards on, nobody near a working "
          "machine, engine off before hands go in. Do not climb a steep or undercut face: it can "
          "slide and bury.",
          f.by_machine && f.turns > 0.0};
}

Caution herbicide(const CautionFigures& f) {
  return {
      Danger::herbicide,
      "Herbicide residues",
      listed(f.sprayed),
      "ask what was sprayed; try beans in a pot of it first",
      "Some weedkillers used on pasture, hay, cereals and lawns pass through animals and "
      "through composting and cripple beans, peas, tomatoes and potatoes. Ask what was sprayed; "
      "sow beans in a pot of the finished compost, and in one without it, before spreading. "
      "The model does not follow residues.",
      !f.sprayed.empty()};
}

Caution hygiene(const CautionFigures& f) {
  return {Danger::unproven_hygiene,
          "Hygiene is estimated, not proven",
          with("", f.days_above_55, "days above 55 °C at the core, computed", 1),
          "measure, and follow local rules",
          "Temperatures and times here come from a model. Whether a pile met a hygiene rule is "
          "decided by measuring it, by the rule that holds where you are, and by those licensed to "
          "say so.",
          true};
}

double largest(const std::vector<double>& values) {
  double result = unset;
  for (const double value : values) {
    result = std::isfinite(value) && !(value <= result) ? value : result;
  }
  return result;
}

double smallest(const std::vector<double>& values) {
  double result = unset;
  for (const double value : values) {
    result = std::isfinite(value) && !(value >= result) ? value : result;
  }
  return result;
}

double largest_of(const ForecastResult& result, const char* name) {
  const Series* series = result.find_series(name);
  return series == nullptr ? unset : largest(series->values);
}

double number_of(const ForecastResult& result, const char* name) {
  const Scalar* scalar = result.find_scalar(name);
  return scalar == nullptr ? unset : scalar->value;
}

/// Lowest moisture of a place while it is above `warm_degC`, from the pictures of the section.
double driest_where_warm(const ForecastResult& result) {
  const auto values = [&](std::string_view name) -> std::vector<double> {
    const auto found = std::ranges::find(result.fields, name, &Field::name);
    return found == result.fields.end() ? std::vector<double>{} : found->values;
  };
  const std::vector<double> temperature = values("temperature");
  const std::vector<double> moisture = values("moisture_wet_basis_field");
  double driest = unset;
  for (std::size_t i = 0; i < std::min(temperature.size(), moisture.size()); ++i) {
    if (temperature[i] >= warm_degC && !(moisture[i] >= driest)) {
      driest = moisture[i];
    }
  }
  return driest;
}

double core_at_turns(const ForecastResult& result) {
  const Series* core = result.find_series("core_temperature");
  double hottest = unset;
  for (const EventRecord& event : result.events) {
    if (core == nullptr || event.kind != "turn") {
      continue;
    }
    // The last value up to the turn: the pile as it is when the fork goes in.
    const auto after =
        std::upper_bound(result.time_h.begin(), result.time_h.end(), 24.0 * event.day - 1e-6);
    const auto index = std::max<std::ptrdiff_t>(0, after - result.time_h.begin() - 1);
    const double value = core->values[static_cast<std::size_t>(index)];
    hottest = !(value <= hottest) ? value : hottest;
  }
  return hottest;
}

/// Words in the names of materials that may have been sprayed, or are dusty.
bool names_one(const Material& material, std::initializer_list<std::string_view> words) {
  return std::ranges::any_of(
      words, [&](std::string_view word) { return material.name.find(word) != std::string::npos; });
}

void name_materials(const PileDescription& pile, CautionFigures& f) {
  const auto add = [](std::vector<std::string>& titles, const Material& material) {
    const std::string& title = material.title.empty() ? material.name : material.title;
    if (std::ranges::find(titles, title) == titles.end()) {
      titles.push_back(title);
    }
  };
  const auto look = [&](const std::vector<Ingredient>& ingredients) {
    for (const Ingredient& one : ingredients) {
      const Material& m = one.material;
      if (m.group == "manure" || m.group == "food") {
        add(f.animal, m);
      }
      if (m.group == "manure" || names_one(m, {"straw", "hay", "grass", "clippings"})) {
        add(f.sprayed, m);
      }
      constexpr double dusty_moisture = 0.25; // judgement, no source
      if (m.moisture_wet_basis < dusty_moisture && m.group != "mineral") {
        add(f.dusty, m);
      }
    }
  };
  look(pile.ingredients);
  for (const Addition& addition : pile.additions) {
    look(addition.ingredients);
  }
}

} // namespace

CautionFigures caution_figures(const PileDescription& pile, const ForecastResult& result) {
  CautionFigures f;
  f.hottest_degC = largest_of(result, "max_temperature");
  f.driest_where_warm_percent = driest_where_warm(result);
  f.height_m = largest_of(result, "height");
  f.wettest_percent = largest_of(result, "moisture_wet_basis");
  if (const Series* air = result.find_series("free_air_space")) {
    f.least_air_percent = smallest(air->values);
  }
  f.core_at_turn_degC = core_at_turns(result);
  f.skin_peak_degC = largest_of(result, "skin_temperature");
  f.ammonia_kgN = largest_of(result, "cumulative_ammonia_nitrogen");
  f.leached_kgN = largest_of(result, "cumulative_leachate_nitrogen");
  f.leachate_L = number_of(result, "leachate");
  f.days_above_55 = number_of(result, "days_above_55");
  f.turns = number_of(result, "turns");
  f.by_machine = pile.turning && pile.turning->method != TurnMethod::fork;
  name_materials(pile, f);
  return f;
}

CautionFigures caution_figures(const PileDescription& pile, const EnsembleResult& result) {
  CautionFigures f = caution_figures(pile, result.central);
  const auto band = [&](std::string_view name) -> const Band* {
    const auto found = std::ranges::find(result.bands, name, &Band::name);
    return found == result.bands.end() ? nullptr : &*found;
  };
  const auto high = [&](std::string_view name, double& figure) {
    if (const Band* found = band(name)) {
      figure = std::max(figure, largest(found->high));
    }
  };
  high("max_temperature", f.hottest_degC);
  high("moisture_wet_basis", f.wettest_percent);
  high("cumulative_ammonia_nitrogen", f.ammonia_kgN);
  high("cumulative_leachate_nitrogen", f.leached_kgN);
  if (const Band* air = band("free_air_space")) {
    f.least_air_percent = std::min(f.least_air_percent, smallest(air->low));
  }
  if (const RunValues* leachate = result.find("leachate")) {
    f.leachate_L = std::max(f.leachate_L, spread(leachate->values).high);
  }
  return f;
}

std::vector<Caution> cautions(const CautionFigures& figures) {
  std::vector<Caution> all = {fire(figures),      manure(figures),  ammonia(figures),
                              dust(figures),      too_wet(figures), machinery(figures),
                              herbicide(figures), hygiene(figures)};
  std::stable_partition(all.begin(), all.end(), [](const Caution& one) { return one.applies; });
  return all;
}

} // namespace heapcast::models
