#include "models/properties/inactivation.hpp"

#include "tests/reference_csv.hpp"
#include "tests/steps.hpp"

namespace heapcast::models {
namespace {

double log10_reduction(Organism organism, double celsius, double hours) {
  return log_kill_rate_1_s(organism, freezing_K + celsius) * 3600.0 * hours / std::numbers::ln10;
}

Organism organism_at(std::size_t index) {
  return static_cast<Organism>(index);
}

TEST(Inactivation, TableHoldsTheReferenceValues) {
  const tests::CsvTable table("pathogens.csv");
  ASSERT_EQ(table.size(), organism_count);
  for (const auto& organism : inactivation_table) {
    const auto row = table.find("organism", std::string(organism.name));
    EXPECT_EQ(organism.decimal_time_55_h, std::stod(table.field(row, "D55_h")));
    EXPECT_EQ(organism.z_K, std::stod(table.field(row, "z_K")));
    EXPECT_EQ(organism.threshold_C, std::stod(table.field(row, "T_threshold_C")));
    EXPECT_EQ(organism.ambient_decay_per_day, std::stod(table.field(row, "ambient_decay_per_d")));
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
    EXPECT_DOUBLE_EQ(log_kill_rate_1_s(organism_at(i), freezing_K + 20.0) * 86400.0,
                     inactivation_table[i].ambient_decay_per_day);
  }
}

TEST(Inactivation, RateIsContinuousAndNeverFallsWithWarming) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    for (const double t : tests::steps(-20.0, 89.99, 0.01)) {
      const double colder = log_kill_rate_1_s(organism_at(i), freezing_K + t);
      const double warmer = log_kill_rate_1_s(organism_at(i), freezing_K + t + 0.01);
      EXPECT_GE(warmer, colder);
      // The steepest is the clubroot blend: ln(0.338/0.001)/5 K = 1.16 1/K, 1.2 % in 0.01 K.
      EXPECT_LE(warmer, colder * 1.013);
    }
  }
}

TEST(Inactivation, VeryHotIsFiniteAndNoFasterThanAt75) {
  for (std::size_t i = 0; i < organism_count; ++i) {
    EXPECT_EQ(log_kill_rate_1_s(organism_at(i), 1e4),
              log_kill_rate_1_s(organism_at(i), freezing_K + 75.0));
    EXPECT_TRUE(std::isfinite(log_kill_rate_1_s(organism_at(i), 1e4)));
  }
}

TEST(Inactivation, BacteriaDieNoFasterThanInTheLaboratory) {
  // The table claims to be slower than published death in moist compost; these are its rows in
  // inactivation.csv (Jiang et al. 2003, Singh et al. 2010).
  const tests::CsvTable table("inactivation.csv");
  const auto published = [&](const char* id) { return tests::reference_row(table, id).value; };
  EXPECT_LE(log10_reduction(Organism::e_coli, 60.0, published("ec_auto_D60") / 60.0), 1.0);
  EXPECT_LE(log10_reduction(Organism::e_coli, 65.0, published("ec_auto_D65") / 60.0), 1.0);
  EXPECT_LE(log10_reduction(Organism::e_coli, 50.0, published("ec_4log_50")), 4.0);
  EXPECT_LE(log10_reduction(Organism::e_coli, 60.0, published("ec_4log_60") / 60.0), 4.0);
  EXPECT_LE(log10_reduction(Organism::e_coli, 50.0, 4.0), published("s10_ec_50_h"));
  EXPECT_LE(log10_reduction(Organism::e_coli, 55.0, 1.0), published("s10_ec_55_c"));
  EXPECT_LE(log10_reduction(Organism::salmonella, 50.0, 4.0), published("s10_salm_50_c"));
  EXPECT_LE(log10_reduction(Organism::salmonella, 55.0, 1.0), published("s10_salm_55_h"));
  EXPECT_LE(log10_reduction(Organism::listeria, 50.0, 4.0), published("s10_lm_50_c"));
  EXPECT_LE(log10_reduction(Organism::listeria, 55.0, 1.0), published("s10_lm_55_h"));
}

} // namespace
} // namespace heapcast::models
