// Every published case and every published number that a hygiene rule's clock computes.

#include "models/hygiene/hygiene_clock.hpp"

#include "tests/reference_csv.hpp"

#include <map>
#include <regex>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::expect_row;
using tests::reference_row;
using tests::ReferenceRow;
using tests::within;

/// What a case's text says of a pile.
struct Case {
  double degC = 0.0;
  double hours = 0.0;
  double other_degC = unset; ///< for some hours in the middle
  double other_hours = 0.0;
  double average_degC = unset;
  double moisture = 0.55;
  MixFacts mix{.carbon_nitrogen_ratio = 30.0, .largest_particle_m = 0.01};
  std::vector<double> turn_days;
};

std::vector<std::string> parts_of(const std::string& text) {
  std::vector<std::string> parts;
  std::size_t from = 0;
  for (std::size_t to = text.find(", "); to != std::string::npos; to = text.find(", ", from)) {
    parts.push_back(text.substr(from, to - from));
    from = to + 2;
  }
  parts.push_back(text.substr(from));
  return parts;
}

double hours_of(const std::string& number, const std::string& unit) {
  return std::stod(number) * (unit == "d" ? 24.0 : unit == "min" ? 1.0 / 60.0 : 1.0);
}

/// Reads one part of a case; false when it is not understood.
bool read_part(const std::string& part, Case& c) {
  const std::string n = R"(([0-9.]+))";
  std::smatch m;
  const auto is = [&](const std::string& pattern) {
    return std::regex_match(part, m, std::regex(pattern));
  };
  if (is("(?:constant )?" + n + " C for " + n + " (d|h|min)(?: only)?")) {
    c.degC = std::stod(m[1]);
    c.hours = hours_of(m[2], m[3]);
  } else if (is(n + " C for " + n + " d with " + n + " h at (?:exactly )?" + n + " C")) {
    c.degC = std::stod(m[1]);
    c.hours = hours_of(m[2], "d");
    c.other_hours = std::stod(m[3]);
    c.other_degC = std::stod(m[4]);
  } else if (is("one " + n + " h dip to " + n + " C")) {
    c.other_hours = std::stod(m[1]);
    c.other_degC = std::stod(m[2]);
  } else if (is(n + " d all at " + n + " C or more")) {
    c.hours = hours_of(m[1], "d");
    c.degC = std::stod(m[2]);
  } else if (is("average " + n + " C")) {
    c.average_degC = std::stod(m[1]);
  } else if (is("C:N0 " + n)) {
    c.mix.carbon_nitrogen_ratio = std::stod(m[1]);
  } else if (is("water " + n + " %")) {
    c.moisture = std::stod(m[1]) / 100.0;
  } else if (is(n + " mm")) {
    c.mix.largest_particle_m = std::stod(m[1]) / 1000.0;
  } else if (is("turns (?:on days|at day) ([0-9.,]+)")) {
    const std::string list = m[1];
    const std::regex number(n);
    for (auto i = std::sregex_iterator(list.begin(), list.end(), number);
         i != std::sregex_iterator{}; ++i) {
      c.turn_days.push_back(std::stod(i->str()));
    }
  } else {
    return false;
  }
  return true;
}

/// Lives through a case hour by hour. The hours at another temperature lie in the middle; an
/// average is reached by a first half at the lowest temperature and a hotter second half.
HygieneClock lived_through(const HygieneRule& rule, const Case& c) {
  HygieneClock clock(rule, c.mix);
  const double other_from = std::floor(0.5 * (c.hours - c.other_hours));
  const auto temperature = [&](double hour) {
    if (!std::isnan(c.other_degC) && hour >= other_from && hour < other_from + c.other_hours) {
      return c.other_degC;
    }
    return std::isnan(c.average_degC) || hour < 0.5 * c.hours ? c.degC
                                                              : 2.0 * c.average_degC - c.degC;
  };
  std::size_t turns = 0;
  const int hours = static_cast<int>(std::ceil(c.hours));
  for (int begun = 0; begun < hours; ++begun) {
    const double hour = begun;
    const double t = temperature(hour);
    while (turns < c.turn_days.size() && 24.0 * c.turn_days[turns] <= hour) {
      clock.turn(t);
      ++turns;
    }
    clock.pass({.hours = std::min(1.0, c.hours - hour),
                .lowest_degC = t,
                .highest_degC = t,
                .mean_degC = t,
                .moisture_wet_basis = c.moisture});
  }
  return clock;
}

TEST(HygieneReference, EveryPublishedCaseHasItsVerdict) {
  const std::map<std::string, std::string> rule_of{
      {"503 PFRP static/vessel", "us503_pfrp_vessel"},
      {"503 PFRP windrow", "us503_pfrp_windrow"},
      {"503 PSRP", "us503_psrp"},
      {"503 VAR option 5", "us503_var5"},
      {"NOP static/vessel", "nop_vessel"},
      {"NOP windrow", "nop_windrow"},
      {"EU CMC3 any-of", "eu1009_cmc3"},
      {"BioAbfV any-of", "de_bioabfv"},
      {"ABP", "abp"},
      {"UK national housed windrow", "uk_windrow60"},
      {"503 equation 1 integral score (sum dt/D(T), T>=50 counted)", "us503_eq1"},
      {"503 equation 1 integral score", "us503_eq1"},
  };
  const CsvTable table("sanitisation_cases.csv");
  ASSERT_GT(table.size(), 0U);
  for (std::size_t i = 0; i < table.size(); ++i) {
    const ReferenceRow row = reference_row(table, i);
    const std::string before = "expected verdict 1=pass 0=fail: ";
    const std::string& quantity = table.field(i, "quantity");
    ASSERT_EQ(quantity.rfind(before, 0), 0U) << row.id << ": " << quantity;
    const auto key = rule_of.find(quantity.substr(before.size()));
    ASSERT_NE(key, rule_of.end()) << row.id << ": no rule for \"" << quantity << '"';
    const HygieneRule* rule = find_hygiene_rule(key->second);
    ASSERT_NE(rule, nullptr) << key->second;
    Case c;
    for (const std::string& part : parts_of(table.field(i, "inputs"))) {
      ASSERT_TRUE(read_part(part, c)) << row.id << ": \"" << part << "\" is not understood";
    }
    ASSERT_GT(c.hours, 0.0) << row.id;
    expect_row(row, lived_through(*rule, c).met() ? 1.0 : 0.0, within(row, 0.0));
  }
}

const HygieneRule& rule(const std::string& key) {
  const HygieneRule* found = find_hygiene_rule(key);
  if (found == nullptr) {
    throw std::invalid_argument("no rule " + key);
  }
  return *found;
}

/// The profile of a rule with this temperature.
const HotProfile& at(const std::string& key, double degC) {
  for (const HotProfile& profile : rule(key).profiles) {
    if (profile.hours > 0.0 && profile.degC == degC) {
      return profile;
    }
  }
  throw std::invalid_argument(key + " has no such profile");
}

double days_at(const std::string& key, double degC) {
  return at(key, degC).hours / 24.0;
}

TEST(HygieneReference, TheTableHoldsEveryPublishedNumberThatAClockUses) {
  const CsvTable table("sanitisation.csv");
  const HeatLine eq1 = rule("us503_eq1").line;
  HeatLine eq2 = eq1; // for sludge wetter than any pile: its own numerator, no rule of a pile
  eq2.hours = 24.0 * reference_row(table, std::string("us503_alt1_K2")).value;
  const auto days1 = [&](double degC) { return hours_asked(eq1, degC) / 24.0; };
  const auto days2 = [&](double degC) { return hours_asked(eq2, degC) / 24.0; };
  const HeatLine ascaris = rule("feachem_ascaris").line;

  const std::map<std::string, double> computed{
      {"us503_pfrp_vessel", days_at("us503_pfrp_vessel", 55.0)},
      {"us503_pfrp_windrow_days", days_at("us503_pfrp_windrow", 55.0)},
      {"us503_pfrp_windrow_turns", rule("us503_pfrp_windrow").turns.least},
      {"us503_psrp_T", rule("us503_psrp").profiles[0].degC},
      {"us503_psrp_days", days_at("us503_psrp", 40.0)},
      {"us503_psrp_hot_hours", rule("us503_psrp").spell.hours},
      {"us503_alt1_K1", eq1.hours / 24.0},
      {"us503_alt1_exponent", eq1.slope_1_K},
      {"us503_eq1_D_50", days1(50.0)},
      {"us503_eq1_D_52", days1(52.0)},
      {"us503_eq1_D_55", days1(55.0)},
      {"us503_eq1_D_58", days1(58.0)},
      {"us503_eq1_D_60", days1(60.0)},
      {"us503_eq1_D_62", days1(62.0)},
      {"us503_eq1_D_65", days1(65.0)},
      {"us503_eq1_D_68", days1(68.0)},
      {"us503_eq1_D_70", days1(70.0)},
      {"us503_eq2_D_50", days2(50.0)},
      {"us503_eq2_D_55", days2(55.0)},
      {"us503_eq2_D_60", days2(60.0)},
      {"us503_eq2_D_65", days2(65.0)},
      {"us503_eq1_z", 1.0 / eq1.slope_1_K},
      {"us503_eq1_T20min", eq1.degC + std::log10(eq1.hours / eq1.least_hours) / eq1.slope_1_K},
      {"us503_var5_days", days_at("us503_var5", 40.0)},
      {"us503_var5_Tmin", rule("us503_var5").profiles[0].degC},
      {"us503_var5_Tavg", rule("us503_var5").average_above_degC},
      {"nop_cn_lo", rule("nop_windrow").lowest_carbon_nitrogen},
      {"nop_cn_hi", rule("nop_windrow").highest_carbon_nitrogen},
      {"nop_T_lo", rule("nop_windrow").profiles[0].degC},
      {"nop_T_hi", rule("nop_windrow").highest_degC},
      {"nop_days_vessel", days_at("nop_vessel", 55.0)},
      {"nop_days_windrow", days_at("nop_windrow", 55.0)},
      {"nop_turns_windrow", rule("nop_windrow").turns.least},
      {"eu1009_cmc3_70", days_at("eu1009_cmc3", 70.0)},
      {"eu1009_cmc3_65", days_at("eu1009_cmc3", 65.0)},
      {"eu1009_cmc3_60", days_at("eu1009_cmc3", 60.0)},
      {"eu1009_cmc3_55", days_at("eu1009_cmc3", 55.0)},
      {"abp_particle", 1e3 * rule("abp").largest_particle_m},
      {"abp_T", rule("abp").profiles[0].degC},
      {"abp_min", 60.0 * at("abp", 70.0).hours},
      {"efsa_alt_55", at("efsa_alt_55", 55.0).hours},
      {"efsa_alt_60", at("efsa_alt_60", 60.0).hours},
      {"de_55", days_at("de_bioabfv", 55.0)},
      {"de_60", days_at("de_bioabfv", 60.0)},
      {"de_65", days_at("de_bioabfv", 65.0)},
      {"de_moist", 100.0 * rule("de_bioabfv").least_moisture_wet_basis},
      {"de_past", at("de_pasteurisation", 70.0).hours},
      {"uk_closed60", days_at("uk_closed60", 60.0)},
      {"uk_closed70", at("uk_closed70", 70.0).hours},
      {"uk_windrow60", days_at("uk_windrow60", 60.0)},
      {"ca_windrow", days_at("ca_windrow", 55.0)},
      {"ca_static", days_at("ca_static", 55.0)},
      {"au_windrow", days_at("au_windrow", 55.0)},
      {"au_vessel", days_at("au_vessel", 55.0)},
      {"pas100_T", rule("pas100").profiles[0].degC},
      {"as4454", days_at("as4454", 55.0)},
      {"ch_windrow", days_at("ch_windrow", 55.0)},
      {"feachem_ascaris", hours_asked(ascaris, 50.0)},
      {"feachem_ascaris55", hours_asked(ascaris, 55.0)},
  };
  std::vector<std::string> checked{"eu1009_our", "eu1009_rotte"}; // UseTable
  for (const auto& [id, value] : computed) {
    const ReferenceRow row = reference_row(table, id);
    if (row.tolerance.starts_with("exact")) {
      expect_row(row, value, within(row, 1e-12 * row.value)); // rounding of h to d, m to mm
    } else {
      expect_row(row, value);
    }
    checked.push_back(id);
  }
  tests::expect_every_row_named(table, checked);
}

TEST(HygieneReference, SaysFromMemoryWhatTheFileSaysFromMemory) {
  const CsvTable table("sanitisation.csv");
  const auto expect_like = [&](const std::string& key, const std::string& id) {
    EXPECT_EQ(rule(key).provenance, table.field(table.find("id", id), "provenance")) << key;
  };
  for (const char* same : {"us503_pfrp_vessel", "uk_closed60", "uk_closed70", "uk_windrow60",
                           "ca_windrow", "ca_static", "au_windrow", "au_vessel", "efsa_alt_55",
                           "efsa_alt_60", "as4454", "ch_windrow", "feachem_ascaris"}) {
    expect_like(same, same);
  }
  expect_like("us503_pfrp_windrow", "us503_pfrp_windrow_days");
  expect_like("us503_psrp", "us503_psrp_T");
  expect_like("us503_var5", "us503_var5_days");
  expect_like("us503_eq1", "us503_alt1_K1");
  expect_like("nop_vessel", "nop_days_vessel");
  expect_like("nop_windrow", "nop_days_windrow");
  expect_like("eu1009_cmc3", "eu1009_cmc3_55");
  expect_like("abp", "abp_T");
  expect_like("de_bioabfv", "de_55");
  expect_like("de_pasteurisation", "de_past");
  expect_like("pas100", "pas100_T");
  expect_like("as4454_static", "as4454");
}

} // namespace
} // namespace heapcast::models
