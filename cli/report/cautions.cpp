#include "cli/report/cautions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>
#include <set>
#include <sstream>

namespace heapcast::cli {

namespace {

/// Judgement, no source: microbes barely work above, so a pile this hot deserves watching.
constexpr double hot_degC = 70.0;
/// reference/field.csv sc_moist_hi, from memory of Buggeln & Rynk 2002.
constexpr double dry_percent = 45.0;
/// Judgement, no source: a pile that dries while it is this hot.
constexpr double warm_degC = 60.0;
/// reference/field.csv sc_height: 12 ft.
constexpr double tall_m = 3.66;
/// Judgement, no source: steam is plain to see when a pile this hot is opened.
constexpr double steaming_degC = 50.0;

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

const std::vector<double>& high_end(const Curve& curve) {
  return curve.high.empty() ? curve.mid : curve.high;
}

const std::vector<double>& low_end(const Curve& curve) {
  return curve.low.empty() ? curve.mid : curve.low;
}

/// Largest value a curve reaches, of several runs their 90 % point; NaN without the curve.
double peak(const ResultsReader& results, const std::string& name) {
  const auto curve = results.curve(name);
  return curve ? largest(high_end(*curve)) : unknown;
}

/// Of several runs the 90 % point; NaN where there is none.
double number_or_nan(const ResultsReader& results, const std::string& name) {
  const auto number = results.number(name);
  return number && std::isfinite(number->high) ? number->high : unknown;
}

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
  std::string text;
  for (const auto& part : parts) {
    text += (text.empty() ? "" : between) + part;
  }
  return text;
}

/// The parts that are there.
std::string finding(std::vector<std::string> parts) {
  std::erase(parts, std::string());
  return joined(parts, "; ");
}

std::string names_words(const std::vector<std::string>& named) {
  return named.empty() ? std::string() : "the pile file names " + joined(named, ", ");
}

/// The text with the value in it, or nothing for NaN.
std::string with_value(fmt::format_string<double> text, double value) {
  return std::isfinite(value) ? fmt::vformat(fmt::string_view(text), fmt::make_format_args(value))
                              : std::string();
}

/// "260 g of nitrogen" and what becomes of it; nothing for NaN and for less than can be weighed.
std::string nitrogen(double kgN, const std::string& fate) {
  constexpr double g_per_kg = 1000.0;
  constexpr double smallest_g = 0.1;
  const double g = kgN * g_per_kg;
  if (!(g >= smallest_g)) {
    return {};
  }
  const auto amount =
      g < g_per_kg ? fmt::format("{:.{}f} g", g, g < 10.0 ? 1 : 0) : fmt::format("{:.1f} kg", kgN);
  return amount + " of nitrogen" + fate;
}

std::string turn_count(double turns) {
  return turns == 1.0 ? "1 turn" : with_value("{:.0f} turns", turns);
}

/// Hottest core at the moment of a turn, NaN without turns or core temperature.
double hottest_turn(const ResultsReader& results) {
  const auto core = results.curve("core_temperature");
  const auto* days = results.data().variable("event_day");
  const auto* kinds = results.data().variable("event_kind");
  std::vector<double> at_turns;
  if (core && days != nullptr && kinds != nullptr && days->values.size() == kinds->texts.size()) {
    const auto& time_h = results.time_h();
    for (std::size_t i = 0; i < days->values.size(); ++i) {
      if (kinds->texts[i] == "turn") {
        // The last value up to the turn: the pile as it is when the fork goes in.
        const auto after = std::upper_bound(time_h.begin(), time_h.end(), 24.0 * days->values[i]);
        const auto index = std::max<std::ptrdiff_t>(0, after - time_h.begin() - 1);
        at_turns.push_back(high_end(*core)[static_cast<std::size_t>(index)]);
      }
    }
  }
  return largest(at_turns);
}

/// Lowest moisture where the pile is at least `warm_degC` at the same time: cell by cell when the
/// file has pictures of both, else of the whole pile. NaN when it is never that warm.
double driest_while_warm(const ResultsReader& results) {
  auto temperature = results.field("temperature");
  auto moisture = results.field("moisture_wet_basis_field");
  if (temperature.empty() || temperature.size() != moisture.size()) {
    const auto hottest = results.curve("max_temperature");
    const auto mean = results.curve("moisture_wet_basis");
    if (!hottest || !mean) {
      return unknown;
    }
    temperature = high_end(*hottest);
    moisture = low_end(*mean);
  }
  std::vector<double> warm;
  for (std::size_t i = 0; i < temperature.size(); ++i) {
    if (temperature[i] >= warm_degC) {
      warm.push_back(moisture[i]);
    }
  }
  return smallest(warm);
}

Caution fire(const ResultsReader& results) {
  const double hottest = peak(results, "max_temperature");
  const double driest = driest_while_warm(results);
  const double height_m = largest(results.field("cell_corner_z"));
  return {
      "Fire",
      finding({with_value("hottest place {:.0f} °C", hottest),
               with_value("moisture down to {:.0f} % where it is above 60 °C", driest),
               height_m > tall_m ? fmt::format("{:.1f} m high", height_m) : ""}),
      "A very hot, dry or very tall pile can go on heating by itself and catch fire; the danger "
      "lies at about 20 to 45 % moisture (Buggeln & Rynk 2002, from memory) and above about "
      "80 °C, where this model no longer holds. Probe it deep and often, keep water at hand and "
      "other piles and buildings at a distance. If it smells of smoke, do not open it: air "
      "feeds the fire. Call the fire service.",
      hottest >= hot_degC || driest < dry_percent || height_m > tall_m};
}

Caution steam_and_ammonia(const ResultsReader& results) {
  const double turned_at = hottest_turn(results);
  const double hottest = peak(results, "core_temperature");
  const double lost_kgN = peak(results, "cumulative_ammonia_nitrogen");
  return {"Steam and ammonia",
          finding({std::isfinite(turned_at)
                       ? fmt::format("turned while the core is at {:.0f} °C", turned_at)
                       : with_value("core up to {:.0f} °C", hottest),
                   nitrogen(lost_kgN, " leaves as ammonia")}),
          "Opening a hot pile lets out steam that scalds and ammonia that burns eyes and lungs. "
          "Stand upwind, wear gloves, step back when it stings, and never bend into a closed bin "
          "or work a pile in a closed shed.",
          hottest >= steaming_degC};
}

Caution dust_and_spores(double turns) {
  return {"Dust and spores", turn_count(turns),
          "Turned compost gives off fungal spores and bacteria: close to the work, workers met 10 "
          "to 1000 times the usual amount (HSE, Great Britain). Wet dry material before moving it "
          "and wear a well-fitting dust mask (FFP2, N95 or better). People with asthma, lung "
          "disease or weak immunity should keep away.",
          turns > 0.0};
}

Caution manure(const ResultsReader& results, const std::string& pile_file) {
  const auto skin = results.curve("skin_temperature");
  const auto named =
      words_in_pile_file(pile_file, {"manure", "slurry", "dung", "droppings", "litter", "bedding",
                                     "sludge", "biosolids", "meat", "fish", "carcass", "food"});
  return {"Manure, food waste and edible crops",
          finding({names_words(named), with_value("skin never above {:.0f} °C",
                                                  skin ? largest(low_end(*skin)) : unknown)}),
          "Raw manure and animal or food waste can carry germs and parasites that survive in the "
          "cool skin and spread again when the pile is turned. Keep it off edible crops, above all "
          "those eaten raw, until temperatures were measured throughout; many rules also ask for a "
          "waiting time before harvest. Wash hands; keep children and grazing animals away.",
          !named.empty()};
}

Caution machinery(double turns) {
  return {"Machinery", turn_count(turns),
          "Loaders, turners, shredders and power take-offs maim. Guards on, nobody near a working "
          "machine, engine off before hands go in. Do not climb a steep or undercut face: it can "
          "slide and bury.",
          turns > 0.0};
}

Caution run_off(const ResultsReader& results) {
  const double litres = number_or_nan(results, "leachate");
  const double leached_kgN = peak(results, "cumulative_leachate_nitrogen");
  return {"Run-off",
          finding({with_value("{:.3g} litres drain out", litres), nitrogen(leached_kgN, " in it")}),
          "What drains from a pile carries nitrogen and germs. Keep it away from wells, ditches, "
          "streams and drains, on firm ground that does not flood, and cover it in heavy rain. "
          "Distances to wells and water are set locally.",
          litres > 0.0};
}

Caution herbicide(const std::string& pile_file) {
  const auto named = words_in_pile_file(
      pile_file, {"straw", "hay", "manure", "grass", "lawn", "bedding", "silage", "clippings"});
  return {
      "Herbicide residues", names_words(named),
      "Some weedkillers used on pasture, hay, cereals and lawns pass through animals and "
      "through composting and cripple beans, peas, tomatoes and potatoes. Ask what was sprayed; "
      "sow beans in a pot of the finished compost, and in one without it, before spreading. "
      "The model does not follow residues.",
      !named.empty()};
}

Caution hygiene(const ResultsReader& results) {
  const auto hot = results.number("days_above_55");
  const double hot_days = hot ? hot->low : unknown;
  return {"Hygiene is estimated, not proven",
          results.runs() > 1
              ? with_value("no more than {:.3g} days above 55 °C in one run of ten", hot_days)
              : with_value("{:.3g} days above 55 °C computed", hot_days),
          "Temperatures and times here come from a model. Whether a pile met a hygiene rule is "
          "decided by measuring it, by the rule that holds where you are, and by those licensed to "
          "say so.",
          true};
}

} // namespace

std::vector<std::string> words_in_pile_file(const std::string& pile_file,
                                            const std::vector<std::string>& words) {
  std::set<std::string> present;
  std::istringstream lines(pile_file);
  for (std::string line; std::getline(lines, line);) {
    std::string word;
    // A '#' inside a quoted text ends the line too early at worst: a caution then rests on fewer
    // words of it.
    for (const char c : line.substr(0, line.find('#')) + ' ') {
      if (std::isalpha(static_cast<unsigned char>(c)) != 0) {
        word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
        continue;
      }
      present.insert(word);
      if (word.ends_with('s')) {
        present.insert(word.substr(0, word.size() - 1));
      }
      word.clear();
    }
  }
  std::vector<std::string> found;
  std::copy_if(words.begin(), words.end(), std::back_inserter(found),
               [&](const auto& word) { return present.contains(word); });
  return found;
}

std::vector<Caution> cautions(const ResultsReader& results) {
  const double turns = number_or_nan(results, "turns");
  const auto pile_file = results.text("pile_file");
  std::vector<Caution> all = {fire(results),
                              steam_and_ammonia(results),
                              manure(results, pile_file),
                              dust_and_spores(turns),
                              machinery(turns),
                              run_off(results),
                              herbicide(pile_file),
                              hygiene(results)};
  std::stable_partition(all.begin(), all.end(), [](const auto& one) { return one.applies; });
  return all;
}

} // namespace heapcast::cli
