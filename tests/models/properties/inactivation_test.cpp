#include "models/properties/inactivation.hpp"

#include "tests/reference_csv.hpp"
#include "tests/steps.hpp"

#include <string>
#include <utility>

namespace heapcast::models {
namespace {

double kill_rate_1_s(Organism organism, double temperature_K) {
  return KillRate(inactivation_table[static_cast<std::size_t>(organism)])(temperature_K);
}

double log10_reduction(Organism organism, double celsius, double hours) {
  return kill_rate_1_s(organism, freezing_K + celsius) * 3600.0 * hours / std::numbers::ln10;
}

Organism organism_at(std::size_t index) {
  return static_cast<Organism>(index);
}

TEST(Inactivation, TableHoldsTheReferenceValues) {
  const tests::CsvTable table("pathogens.csv");
  ASSERT_EQ(table.size(), organism_count);
  for (const auto& organism : inactivation_table) {
    const std::string name(organism.name);
    const std::size_t record = table.find("organism", name);
    const auto expect_equal = [&](const char* column, double value) {
      const double published = std::stod(table.field(record, column));
      tests::expect_row({name, published, "", "exact", table.name(), column}, value,
                        {published, published});
    };
    expect_equal("D55_h", organism.decimal_time_55_h);
    expect_equal("z_K", organism.z_K);
    expect_equal("T_threshold_C", organism.threshold_C);
    expect_equal("ambient_decay_per_d", organism.ambient_decay_per_day);
  }
}

TEST(Inactivation, OrganismsNameTheirRows) {
  const auto name = [](Organism organism) {
    return inactivation_table[static_cast<std::size_t>(organism)].name;
  };
  EXPECT_EQ(name(Organism::e_coli), "E. coli O157 / generic");
  EXPECT_EQ(name(Organism::ascaris), "Ascaris eggs");
  EXPECT_EQ(name(Organism::weed_seeds), "weed seeds (mesic)");
  EXPECT_EQ(name(Organism::clubroot), "Plasmodiophora/clubroot");
}

TEST(Inactivation, OneDecimalTimeKillsNineTenths) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    const auto& row = inactivation_table[i];
    // 55 °C in kelvin is exact to 6e-14, over z of 6 K and more.
    EXPECT_NEAR(log10_reduction(organism_at(i), 55.0, row.decimal_time_55_h), 1.0, 1e-12);
    EXPECT_NEAR(log10_reduction(organism_at(i), 55.0 + row.z_K, row.decimal_time_55_h), 10.0,
                1e-11);
  }
}

TEST(Inactivation, CoolOrganismsDieAtTheAmbientRate) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    // Through a logarithm of 20 at most, whose rounding the exponential takes as it is.
    EXPECT_NEAR(kill_rate_1_s(organism_at(i), freezing_K + 20.0) * 86400.0,
                inactivation_table[i].ambient_decay_per_day,
                1e-14 * inactivation_table[i].ambient_decay_per_day);
  }
}

TEST(Inactivation, RateIsContinuousAndNeverFallsWithWarming) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    for (const double t : tests::steps(-20.0, 89.99, 0.01)) {
      const double colder = kill_rate_1_s(organism_at(i), freezing_K + t);
      const double warmer = kill_rate_1_s(organism_at(i), freezing_K + t + 0.01);
      EXPECT_GE(warmer, colder);
      // The steepest is the clubroot blend: ln(0.338/0.001)/5 K = 1.16 1/K, 1.2 % in 0.01 K.
      EXPECT_LE(warmer, colder * 1.013);
    }
  }
}

TEST(Inactivation, VeryHotIsFiniteAndNoFasterThanAt75) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    EXPECT_EQ(kill_rate_1_s(organism_at(i), 1e4), kill_rate_1_s(organism_at(i), freezing_K + 75.0));
    EXPECT_TRUE(std::isfinite(kill_rate_1_s(organism_at(i), 1e4)));
  }
}

/// Hours in which all but 1 of 10^logs die, at a steady temperature.
double hours_to_kill(Organism organism, double celsius, double logs) {
  return logs / log10_reduction(organism, celsius, 1.0);
}

const tests::CsvTable& published_deaths() {
  static const tests::CsvTable table("inactivation.csv");
  return table;
}

tests::ReferenceRow death(const std::string& id) {
  return tests::reference_row(published_deaths(), id);
}

constexpr const char* slower_on_purpose =
    "slower than in the laboratory on purpose: heat adaptation, dryness and tails in a real pile "
    "(pathogens.csv); a pile is called safe later, never sooner";

TEST(Inactivation, BacteriaDieNoFasterThanInTheLaboratory) {
  // Published death in moist compost (Jiang et al. 2003, Singh et al. 2010), to the digits printed.
  // None is met, all on the safe side: that is what the table claims.
  const auto takes_longer = [](const char* id, double computed, double allowance) {
    EXPECT_GE(computed, death(id).value) << id;
    expect_miss(death(id), computed, within(death(id), allowance), slower_on_purpose);
  };
  takes_longer("ec_auto_D60", 60.0 * hours_to_kill(Organism::e_coli, 60.0, 1.0), 0.05);
  takes_longer("ec_auto_D65", 60.0 * hours_to_kill(Organism::e_coli, 65.0, 1.0), 0.05);
  takes_longer("ec_4log_50", hours_to_kill(Organism::e_coli, 50.0, 4.0), 0.5);
  takes_longer("ec_4log_60", 60.0 * hours_to_kill(Organism::e_coli, 60.0, 4.0), 0.5);
  const double all_min = 60.0 * hours_to_kill(Organism::e_coli, 60.0, 4.0);
  expect_miss(death("avery60"), all_min, {0.0, 10.0}, slower_on_purpose);
  const auto kills_less = [](const char* id, double computed) {
    EXPECT_LE(computed, death(id).value) << id;
    expect_miss(death(id), computed, within(death(id), 0.1), slower_on_purpose);
  };
  kills_less("s10_ec_50_c", log10_reduction(Organism::e_coli, 50.0, 4.0));
  kills_less("s10_ec_50_h", log10_reduction(Organism::e_coli, 50.0, 4.0));
  kills_less("s10_ec_55_c", log10_reduction(Organism::e_coli, 55.0, 1.0));
  kills_less("s10_salm_50_c", log10_reduction(Organism::salmonella, 50.0, 4.0));
  kills_less("s10_salm_55_c", log10_reduction(Organism::salmonella, 55.0, 1.0));
  kills_less("s10_salm_55_h", log10_reduction(Organism::salmonella, 55.0, 1.0));
  kills_less("s10_lm_50_c", log10_reduction(Organism::listeria, 50.0, 4.0));
  kills_less("s10_lm_55_c", log10_reduction(Organism::listeria, 55.0, 1.0));
  kills_less("s10_lm_55_h", log10_reduction(Organism::listeria, 55.0, 1.0));
}

TEST(Inactivation, TemperatureSensitivityLiesBetweenTheLaboratorysTwo) {
  // 6.5 K from 50 to 60 degC and 15.5 K, with tails, from 60 to 70 degC: one z for both.
  const double z_K = inactivation_table[static_cast<std::size_t>(Organism::e_coli)].z_K;
  for (const char* id : {"ec_auto_z", "ec_raw_z"}) {
    EXPECT_GT(z_K, death(id).value);
    expect_miss(death(id), z_K, within(death(id), 0.05),
                "one z for all temperatures, between those measured below and above 60 degC");
  }
  EXPECT_LT(z_K, death("ec_auto_z_hot").value);
  expect_miss(death("ec_auto_z_hot"), z_K, within(death("ec_auto_z_hot"), 0.1),
              "one z for all temperatures, between those measured below and above 60 degC; above, "
              "the model's death quickens more than the tails of the laboratory");
}

TEST(Inactivation, OldDeathTimesAreMetToAnOrderOfMagnitudeOrLate) {
  // Death of all is taken for 4 log, about what can be counted; "order" for a factor of ten.
  const auto minutes = [](Organism organism, double celsius) {
    return 60.0 * hours_to_kill(organism, celsius, 4.0);
  };
  const auto order = [](const char* id) {
    return tests::Allowed{0.1 * death(id).value, 10.0 * death(id).value};
  };
  for (const auto& [id, computed] : {std::pair{"gotaas_ecoli55", minutes(Organism::e_coli, 55.0)},
                                     {"gotaas_ecoli60", minutes(Organism::e_coli, 60.0)},
                                     {"gotaas_salm60", minutes(Organism::salmonella, 60.0)},
                                     {"weed_50h", minutes(Organism::weed_seeds, 50.0) / 60.0}}) {
    expect_row(death(id), computed, order(id), "death of all taken for 4 log");
  }
  for (const auto& [id, computed] :
       {std::pair{"gotaas_styphi55", minutes(Organism::salmonella, 55.0)},
        {"gotaas_ascaris", minutes(Organism::ascaris, 50.0)}}) {
    EXPECT_GT(computed, death(id).value) << id;
    expect_miss(death(id), computed, order(id), slower_on_purpose);
  }
}

TEST(Inactivation, EggsOutliveSecondsOfHeat) {
  // Suspended eggs die in seconds at 60 to 80 degC; in the pile the fastest rate is that of 75
  // degC.
  const auto viable_percent = [](double celsius, double seconds) {
    return 100.0 * std::pow(10.0, -log10_reduction(Organism::ascaris, celsius, seconds / 3600.0));
  };
  EXPECT_GT(viable_percent(70.0, 5.0), 0.0);
  expect_miss(death("ascaris_70_5s"), viable_percent(70.0, 5.0), {0.0, 0.5}, slower_on_purpose);
  EXPECT_GT(viable_percent(60.0, 240.0), death("ascaris_60_max").value);
  expect_miss(death("ascaris_60_max"), viable_percent(60.0, 240.0), {0.0, 10.0}, slower_on_purpose);
}

TEST(Inactivation, EveryPublishedDeathIsComputedOrNamed) {
  tests::expect_every_row_named(published_deaths(),
                                {"ec_", "avery60", "s10_ec_5", "s10_salm_", "s10_lm_5",
                                 "gotaas_ecoli", "gotaas_salm60", "gotaas_styphi55",
                                 "gotaas_ascaris", "weed_50h", "ascaris_70_5s", "ascaris_60_max"});
}

} // namespace
} // namespace heapcast::models
