// Moisture and C:N of mixes, from the amounts that the program gives its ingredients, against
// recipe.csv. The program searches for no amounts: where a row asks for a mass, the test solves the
// linear balance of water, carbon and nitrogen with the program's amounts per kilogram.

#include "models/operations/build.hpp"

#include "models/properties/moist_air.hpp"
#include "tests/reference_csv.hpp"

#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

using tests::CsvTable;
using tests::reference_row;
using tests::ReferenceRow;
using tests::within;
using tests::within_relative;

ReferenceRow recipe_row(const std::string& id) {
  static const CsvTable table("recipe.csv");
  return reference_row(table, id);
}

/// As the sources write a material: per cent of wet, of dry, of dry.
struct Percent {
  double moisture, carbon, nitrogen;
};

Ingredient portion(double kg, const Percent& percent) {
  Ingredient i;
  i.material.moisture_wet_basis = percent.moisture / 100.0;
  i.material.carbon_dry_basis = percent.carbon / 100.0;
  i.material.nitrogen_dry_basis = percent.nitrogen / 100.0;
  i.wet_mass_kg = kg;
  return i;
}

/// What the program makes of ingredients mixed.
struct Mix {
  double water_kg, dry_kg, carbon_kgC, nitrogen_kgN;

  [[nodiscard]] double carbon_nitrogen_ratio() const { return carbon_kgC / nitrogen_kgN; }
  [[nodiscard]] double moisture_percent() const { return 100.0 * water_kg / (water_kg + dry_kg); }
  /// Zero at 60 % moisture.
  [[nodiscard]] double water_missing_kg() const { return 0.6 * (water_kg + dry_kg) - water_kg; }
  /// Zero at a C:N of 30.
  [[nodiscard]] double carbon_missing_kgC() const { return 30.0 * nitrogen_kgN - carbon_kgC; }
};

Mix mixed(const std::vector<Ingredient>& ingredients) {
  const Parcel p = mixed_parcel(ingredients, Coefficients(ParameterSet{}), freezing_K + 20.0, 0.0);
  return {p[CellField::water], parcel_dry_mass_kg(p), parcel_carbon_kgC(p),
          p[CellField::organic_nitrogen] + p[CellField::ammonium_nitrogen] +
              p[CellField::nitrate_nitrogen]};
}

struct TwoMasses {
  double first_kg, second_kg;
};

/// Masses of two further ingredients with which 60 % moisture and a C:N of 30 are reached.
TwoMasses solved(const Ingredient& given, const Percent& first, const Percent& second) {
  const Mix c = mixed({given});
  const Mix a = mixed({portion(1.0, first)});
  const Mix b = mixed({portion(1.0, second)});
  const double determinant =
      a.water_missing_kg() * b.carbon_missing_kgC() - b.water_missing_kg() * a.carbon_missing_kgC();
  return {(-c.water_missing_kg() * b.carbon_missing_kgC() +
           b.water_missing_kg() * c.carbon_missing_kgC()) /
              determinant,
          (-a.water_missing_kg() * c.carbon_missing_kgC() +
           c.water_missing_kg() * a.carbon_missing_kgC()) /
              determinant};
}

constexpr Percent grass{77.0, 45.0, 2.4};
constexpr Percent leaves{35.0, 50.0, 0.75};
constexpr Percent straw{12.0, 56.0, 0.7};
constexpr Percent legume_hay{10.0, 40.0, 2.5};
constexpr Percent food_waste{69.0, 36.0, 2.4};
constexpr Percent leaves_of_simulw{38.0, 48.6, 0.9};
constexpr Percent water{100.0, 0.0, 0.0};

TEST(MixReference, LeavesThatBringGrassToThirtyAreThoseOfTheExample) {
  const ReferenceRow row = recipe_row("cn_Q2");
  const double kg = -mixed({portion(10.0, grass)}).carbon_missing_kgC() /
                    mixed({portion(1.0, leaves)}).carbon_missing_kgC();
  // "prints 3.5": half a unit of the last digit; the row's value has five digits.
  expect_row(row, kg, within(row, 5e-5));
  EXPECT_NEAR(mixed({portion(10.0, grass), portion(kg, leaves)}).carbon_nitrogen_ratio(), 30.0,
              1e-9);
}

TEST(MixReference, CarbonToNitrogenOfThreeMaterialsByWetShares) {
  // 50 lb of 40 % C and 1 % N, 10 lb of 10 and 1 %, 2 lb of 25 and 1 %, all of the wet mass:
  // written as dry, the shares are the same.
  expect_row(recipe_row("cn_wet_basis"),
             mixed({portion(50.0, {0.0, 40.0, 1.0}), portion(10.0, {0.0, 10.0, 1.0}),
                    portion(2.0, {0.0, 25.0, 1.0})})
                 .carbon_nitrogen_ratio(),
             within(recipe_row("cn_wet_basis"), 0.05)); // absolute: the last digit is 0.1
}

TEST(MixReference, BothRowsOfDairyManureWithSawdustAreOfOneMix) {
  // The file does not tell the masses. Those that give the first row, with the impossible 106 % of
  // carbon that its averages imply, must give the second, with 50 %.
  const ReferenceRow given = recipe_row("mix_dairy_saw_CN");
  const Percent manure{0.0, 2.4 * 19.0, 2.4};
  const auto with = [&](double sawdust_kg, double carbon) {
    return mixed({portion(1.0, manure), portion(sawdust_kg, {0.0, carbon, 0.24})})
        .carbon_nitrogen_ratio();
  };
  double low = 0.1;
  double high = 10.0;
  while (high - low > 1e-9) {
    const double middle = 0.5 * (low + high);
    (with(middle, 0.24 * 442.0) < given.value ? low : high) = middle;
  }
  const ReferenceRow row = recipe_row("mix_dairy_saw_CN50");
  // 0.001, the row's, as a bound on the ratio: it is printed to that digit.
  expect_row(row, with(low, 50.0), within(row, 1e-3),
             "masses from mix_dairy_saw_CN, which the file does not tell");
}

TEST(MixReference, MoistureAndCarbonToNitrogenTogetherAskForThePublishedMasses) {
  // The rows' 1e-5 is taken as a share: they are printed to six digits.
  const auto expect_mass = [](const char* id, double kg) {
    expect_row(recipe_row(id), kg, within_relative(recipe_row(id), 1e-5));
  };
  const Ingredient ten_of_grass = portion(10.0, grass);
  const TwoMasses three_solids = solved(ten_of_grass, straw, legume_hay);
  expect_mass("simuls_Q2", three_solids.first_kg);
  expect_mass("simuls_Q3", three_solids.second_kg);
  expect_mass("simulw_Q2", solved(portion(10.0, food_waste), leaves_of_simulw, water).first_kg);
  // No mix: less than nothing of leaves.
  expect_mass("simul_Q2", solved(ten_of_grass, leaves, straw).first_kg);

  const Mix check = mixed({ten_of_grass, portion(three_solids.first_kg, straw),
                           portion(three_solids.second_kg, legume_hay)});
  expect_row(recipe_row("simul_chkM"), check.moisture_percent());
  EXPECT_NEAR(check.carbon_nitrogen_ratio(), 30.0, 1e-9);
}

} // namespace
} // namespace heapcast::models
