#include "models/hygiene/hygiene_rule.hpp"

#include <algorithm>
#include <cmath>

namespace heapcast::models {

namespace {

constexpr double days = 24.0; ///< hours
constexpr double fahrenheit_170_degC = (170.0 - 32.0) / 1.8;

constexpr std::string_view us503 = "40 CFR 503 App. B, as restated in Wyoming Water Quality ch. 15 "
                                   "App. B and 40 CFR 257 App. II";
constexpr std::string_view nop = "7 CFR 205.203(c)(2), as quoted in the OMRI generic list";
constexpr std::string_view bioabfv = "BioAbfV (Germany) Anhang 2";
constexpr std::string_view wales =
    "SI (Wales) 2006/1293 Sch. 1 Part II, national rule for catering waste";
constexpr std::string_view efsa = "EFSA BIOHAZ 2020 (EFSA J 18:6226) and 2024 (22:e8745)";
constexpr std::string_view canada = "CCME guideline, as given by Wichuk & McCartney";
constexpr std::string_view australia = "Australian code for compliant compost, turned windrows";

/// Cooler time after a turn that neither counts nor breaks: turning itself cools the probe.
/// Judgement; the rules are silent on it.
constexpr double recovery = 24.0;

constexpr HotProfile hot(double degC, double hours) {
  return {.degC = degC, .hours = hours};
}

// Particle limits, moisture and turns stand in the rule, not in the profile: no rule has two.
constexpr std::array rules = {
    HygieneRule{.key = "us503_pfrp_vessel",
                .title = "US 503 PFRP, vessel or static aerated pile",
                .asks = "55 degC or more without a break for 3 days, in a vessel or a static "
                        "aerated pile",
                .source = us503,
                .provenance = "read",
                .scope = RuleScope::vessel_or_static,
                .profiles = {hot(55.0, 3.0 * days)}},
    HygieneRule{.key = "us503_pfrp_windrow",
                .title = "US 503 PFRP, windrow",
                .asks = "55 degC or more for 15 days, with 5 turns or more while it lasts",
                .source = us503,
                .provenance = "read",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(55.0, 15.0 * days)},
                .turns = {.least = 5, .recovery_hours = recovery}},
    HygieneRule{.key = "us503_psrp",
                .title = "US 503 PSRP",
                .asks = "40 degC or more without a break for 5 days, and above 55 degC for 4 hours "
                        "of them",
                .source = us503,
                .provenance = "read",
                .profiles = {hot(40.0, 5.0 * days)},
                .spell = {.above_degC = 55.0, .hours = 4.0, .within_hours = 5.0 * days}},
    HygieneRule{.key = "us503_var5",
                .title = "US 503 vector attraction reduction, option 5",
                .asks = "above 40 degC without a break for 14 days, on average above 45 degC",
                .source = "40 CFR 503.33, as reproduced in EPA's table of options",
                .provenance = "read",
                .profiles = {HotProfile{.degC = 40.0, .hours = 14.0 * days, .above = true}},
                .average_above_degC = 45.0},
    HygieneRule{
        .key = "us503_eq1",
        .title = "US 503 time and temperature equation 1, an equivalence",
        .asks =
            "131 700 000 / 10^(0.14 T) days, T in Celsius, at 50 degC or more and no less than 20 "
            "minutes, added up over the temperatures there were",
        .source = "40 CFR 503.32(a)(3), as restated in 15A NCAC 02T .1106; a rule for "
                  "heated sludge, carried over to varying temperatures by this model",
        .provenance = "read",
        .line = {.hours = 131.7e6 * days,
                 .degC = 0.0,
                 .slope_1_K = 0.14,
                 .from_degC = 50.0,
                 .least_hours = 20.0 / 60.0}},
    HygieneRule{.key = "nop_vessel",
                .title = "US organic (NOP), vessel or static aerated pile",
                .asks = "C:N of the mix 25 to 40; 55.0 to 76.7 degC without a break "
                        "for 3 days",
                .source = nop,
                .provenance = "read",
                .scope = RuleScope::vessel_or_static,
                .profiles = {hot(55.0, 3.0 * days)},
                .highest_degC = fahrenheit_170_degC,
                .lowest_carbon_nitrogen = 25.0,
                .highest_carbon_nitrogen = 40.0},
    HygieneRule{.key = "nop_windrow",
                .title = "US organic (NOP), windrow",
                .asks = "C:N of the mix 25 to 40; 55.0 to 76.7 degC for 15 days, "
                        "with 5 turns or more while it lasts",
                .source = nop,
                .provenance = "read",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(55.0, 15.0 * days)},
                .turns = {.least = 5, .recovery_hours = recovery},
                .highest_degC = fahrenheit_170_degC,
                .lowest_carbon_nitrogen = 25.0,
                .highest_carbon_nitrogen = 40.0},
    HygieneRule{.key = "eu1009_cmc3",
                .title = "EU 2019/1009, compost (CMC 3)",
                .asks = "one of: 70 degC or more for 3 days, 65 degC for 5, 60 degC for 7, 55 degC "
                        "for 14, in all "
                        "parts of a turned or ventilated pile",
                .source = "Regulation (EU) 2019/1009 Annex II Part II CMC 3",
                .provenance = "memory",
                .profiles = {hot(70.0, 3.0 * days), hot(65.0, 5.0 * days), hot(60.0, 7.0 * days),
                             hot(55.0, 14.0 * days)},
                .turns = {.recovery_hours = recovery}},
    HygieneRule{.key = "abp",
                .title = "EU animal by-products standard treatment",
                .asks = "particles of 12 mm or less, all at 70 degC or more for 60 minutes without "
                        "interruption",
                .source = "Regulation (EU) 142/2011 Annex V",
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(70.0, 1.0)},
                .largest_particle_m = 0.012},
    HygieneRule{.key = "efsa_alt_55",
                .title = "EFSA, alternative tunnel treatment at 55 degC",
                .asks = "particles of 200 mm or less at 55 degC or more for 72 hours without a "
                        "break",
                .source = efsa,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(55.0, 72.0)},
                .largest_particle_m = 0.2},
    HygieneRule{.key = "efsa_alt_60",
                .title = "EFSA, alternative tunnel treatment at 60 degC",
                .asks = "particles of 200 mm or less at 60 degC or more for 48 hours without a "
                        "break",
                .source = efsa,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(60.0, 48.0)},
                .largest_particle_m = 0.2},
    HygieneRule{.key = "de_bioabfv",
                .title = "Germany, BioAbfV thermophilic composting",
                .asks =
                    "one of: 55 degC or more for 14 days, as continuous as can be, 60 degC for 6, "
                    "65 degC for 3, in the whole material, with 40 % water or more",
                .source = bioabfv,
                .provenance = "read",
                .profiles = {hot(65.0, 3.0 * days), hot(60.0, 6.0 * days), hot(55.0, 14.0 * days)},
                .turns = {.recovery_hours = recovery},
                .least_moisture_wet_basis = 0.40},
    HygieneRule{.key = "de_pasteurisation",
                .title = "Germany, BioAbfV pasteurisation",
                .asks = "particles of 12 mm or less, all at 70 degC or more for 1 hour without a "
                        "break",
                .source = bioabfv,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(70.0, 1.0)},
                .largest_particle_m = 0.012},
    HygieneRule{.key = "uk_closed60",
                .title = "UK catering waste, closed reactor at 60 degC",
                .asks = "particles of 40 cm or less at 60 degC or more for 2 days without a break",
                .source = wales,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(60.0, 2.0 * days)},
                .largest_particle_m = 0.4},
    HygieneRule{.key = "uk_closed70",
                .title = "UK catering waste, closed reactor at 70 degC",
                .asks = "particles of 6 cm or less at 70 degC or more for 1 hour without a break",
                .source = wales,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {hot(70.0, 1.0)},
                .largest_particle_m = 0.06},
    HygieneRule{.key = "uk_windrow60",
                .title = "UK catering waste, housed windrow",
                .asks = "particles of 40 cm or less at 60 degC or more for 8 days, with 3 turns or "
                        "more while it lasts, 2 days or more apart",
                .source = wales,
                .provenance = "read",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(60.0, 8.0 * days)},
                .turns = {.least = 3, .gap_hours = 2.0 * days, .recovery_hours = recovery},
                .largest_particle_m = 0.4},
    HygieneRule{.key = "ca_windrow",
                .title = "Canada (CCME), windrow",
                .asks = "55 degC or more for 15 days, with 5 turns or more while it lasts",
                .source = canada,
                .provenance = "read",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(55.0, 15.0 * days)},
                .turns = {.least = 5, .recovery_hours = recovery}},
    HygieneRule{.key = "ca_static",
                .title = "Canada (CCME), vessel or static pile",
                .asks = "55 degC or more without a break for 3 days",
                .source = canada,
                .provenance = "read",
                .scope = RuleScope::vessel_or_static,
                .profiles = {hot(55.0, 3.0 * days)}},
    HygieneRule{.key = "au_windrow",
                .title = "Australia, compliant compost, windrow",
                .asks = "55 degC or more for 15 days, with 5 turns or more while it lasts",
                .source = australia,
                .provenance = "read",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(55.0, 15.0 * days)},
                .turns = {.least = 5, .recovery_hours = recovery}},
    HygieneRule{.key = "au_vessel",
                .title = "Australia, compliant compost, vessel",
                .asks = "above 55 degC without a break for 3 days; longer with food waste",
                .source = australia,
                .provenance = "read",
                .scope = RuleScope::vessel,
                .profiles = {HotProfile{.degC = 55.0, .hours = 3.0 * days, .above = true}}},
    HygieneRule{
        .key = "pas100",
        .title = "UK BSI PAS 100, recommended sanitisation",
        .asks = "65 degC or more for 7 days, not necessarily consecutive, with 50 % water "
                "or more and 2 turns or more in them",
        .source = "BSI PAS 100:2011/2018",
        .provenance = "memory",
        .profiles = {HotProfile{.degC = 65.0, .hours = 7.0 * days, .count = HotCount::added_up}},
        .turns = {.least = 2},
        .least_moisture_wet_basis = 0.50},
    HygieneRule{.key = "as4454",
                .title = "Australia AS 4454 pasteurisation, windrow",
                .asks = "3 turns or more, each after 3 days without a break at 55 degC or more",
                .source = "AS 4454-2012",
                .provenance = "memory",
                .scope = RuleScope::turned_windrow,
                .profiles = {HotProfile{
                    .degC = 55.0, .hours = 3.0 * days, .count = HotCount::before_each_turn}},
                .turns = {.least = 3}},
    HygieneRule{.key = "as4454_static",
                .title = "Australia AS 4454 pasteurisation, vessel or static pile",
                .asks = "55 degC or more without a break for 3 days in every part",
                .source = "AS 4454-2012",
                .provenance = "memory",
                .scope = RuleScope::vessel_or_static,
                .profiles = {hot(55.0, 3.0 * days)}},
    HygieneRule{.key = "ch_windrow",
                .title = "Switzerland, windrow",
                .asks = "55 degC or more for 3 weeks, or 65 degC or more for 1 week",
                .source = "Swiss compost guideline (FAC/ASCP 2010)",
                .provenance = "memory",
                .scope = RuleScope::turned_windrow,
                .profiles = {hot(65.0, 7.0 * days), hot(55.0, 21.0 * days)},
                .turns = {.recovery_hours = recovery}},
    HygieneRule{.key = "feachem_ascaris",
                .title = "Feachem's safety zone for Ascaris eggs, an equivalence",
                .asks = "177 x 10^(-0.1922 (T - 45)) hours, T in Celsius, at 45 degC or more, "
                        "added up over the "
                        "temperatures there were",
                .source = "Feachem, Bradley, Garelick & Mara 1983, Sanitation and Disease",
                .provenance = "memory",
                .line = {.hours = 177.0, .degC = 45.0, .slope_1_K = 0.1922, .from_degC = 45.0}},
};

/// Least share of its lot's dry matter with which an ingredient's length counts.
constexpr double least_dry_share = 0.01;

double dry_mass_kg(const Ingredient& i) {
  return i.wet_mass_kg * (1.0 - i.material.moisture_wet_basis);
}

double longest_m(const std::vector<Ingredient>& lot) {
  double dry = 0.0;
  for (const Ingredient& i : lot) {
    dry += dry_mass_kg(i);
  }
  double longest = 0.0;
  for (const Ingredient& i : lot) {
    if (dry_mass_kg(i) >= least_dry_share * dry) {
      longest = std::max(longest, i.material.chop_size_m);
    }
  }
  return longest;
}

} // namespace

double hours_asked(const HeatLine& line, double temperature_degC) {
  return std::max(line.hours * std::pow(10.0, -line.slope_1_K * (temperature_degC - line.degC)),
                  line.least_hours);
}

std::span<const HygieneRule> hygiene_rules() {
  return rules;
}

const HygieneRule* find_hygiene_rule(std::string_view key) {
  const auto found = std::find_if(rules.begin(), rules.end(),
                                  [&](const HygieneRule& rule) { return rule.key == key; });
  return found == rules.end() ? nullptr : &*found;
}

MixFacts mix_facts(const PileDescription& pile) {
  double carbon = 0.0;
  double nitrogen = 0.0;
  for (const Ingredient& i : pile.ingredients) {
    carbon += dry_mass_kg(i) * i.material.carbon_dry_basis;
    nitrogen += dry_mass_kg(i) * i.material.nitrogen_dry_basis;
  }
  MixFacts facts{carbon / nitrogen, longest_m(pile.ingredients)};
  for (const Addition& addition : pile.additions) {
    facts.largest_particle_m = std::max(facts.largest_particle_m, longest_m(addition.ingredients));
  }
  return facts;
}

} // namespace heapcast::models
