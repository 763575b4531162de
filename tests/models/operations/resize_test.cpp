#include "models/operations/resize.hpp"

#include "engine/errors.hpp"
#include "models/operations/build.hpp"
#include "tests/models/pile_fixture.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace heapcast::models {
namespace {

/// The materials of the fixture in another shape.
PileDescription pile_of(ShapeKind kind) {
  PileDescription pile;
  pile.ingredients = {tests::ingredient(tests::grass(), 350.0),
                      tests::ingredient(tests::horse_manure(), 500.0),
                      tests::ingredient(tests::straw(), 60.0)};
  pile.shape.kind = kind;
  return pile;
}

Shape shape_of(const PileDescription& pile) {
  return complete_shape(pile.shape, ingredients_volume_m3(pile));
}

// Sums and products of a few numbers: rounding.
constexpr double rounding = 1e-12;

TEST(Resize, AHigherWindrowIsWiderAndAsLongSoThatVolumeGrowsWithTheSquare) {
  const PileDescription pile = pile_of(ShapeKind::windrow);
  const Shape before = shape_of(pile);
  const PileDescription other = resized(pile, SizeBy::height, 2.0 * before.height_m);
  const Shape after = shape_of(other);
  EXPECT_NEAR(after.height_m, 2.0 * before.height_m, rounding);
  EXPECT_NEAR(after.width_m, 2.0 * before.width_m, rounding);
  EXPECT_NEAR(after.length_m, before.length_m, 1e-9);
  EXPECT_NEAR(other.ingredients[1].wet_mass_kg, 4.0 * 500.0, 1e-9);
  EXPECT_NEAR(size_of(other, SizeBy::height), 2.0 * before.height_m, rounding);
}

TEST(Resize, ALongerWindrowKeepsItsSection) {
  const PileDescription pile = pile_of(ShapeKind::windrow);
  const double before = size_of(pile, SizeBy::length);
  const PileDescription other = resized(pile, SizeBy::length, 3.0 * before);
  EXPECT_NEAR(size_of(other, SizeBy::length), 3.0 * before, 1e-9);
  EXPECT_NEAR(shape_of(other).height_m, shape_of(pile).height_m, rounding);
  EXPECT_NEAR(ingredients_volume_m3(other), 3.0 * ingredients_volume_m3(pile), 1e-9);
}

TEST(Resize, AHigherHeapAndBinGrowInAllWays) {
  for (const ShapeKind kind : {ShapeKind::heap, ShapeKind::bin}) {
    const PileDescription pile = pile_of(kind);
    const Shape before = shape_of(pile);
    const PileDescription other = resized(pile, SizeBy::height, 0.5 * before.height_m);
    EXPECT_NEAR(shape_of(other).height_m, 0.5 * before.height_m, 1e-9);
    EXPECT_NEAR(shape_of(other).width_m, 0.5 * before.width_m, 1e-9);
    EXPECT_NEAR(ingredients_volume_m3(other), ingredients_volume_m3(pile) / 8.0, 1e-9);
  }
}

TEST(Resize, ABinsVolumeIsWhatItHoldsNotWhatIsInIt) {
  PileDescription pile = pile_of(ShapeKind::bin);
  pile.shape.height_m = 2.0;
  pile.shape.width_m = pile.shape.length_m = 2.0;
  EXPECT_NEAR(size_of(pile, SizeBy::volume), 8.0, rounding);
  const PileDescription other = resized(pile, SizeBy::volume, 1.0);
  EXPECT_NEAR(other.shape.length_m, 1.0, rounding);
  EXPECT_NEAR(other.shape.height_m, 1.0, rounding);
  EXPECT_NEAR(other.ingredients[0].wet_mass_kg, 350.0 / 8.0, 1e-9);
}

TEST(Resize, WhatIsGivenByTheLitreOrBlownGrowsWithTheVolume) {
  PileDescription pile = pile_of(ShapeKind::heap);
  pile.watering.emplace().litres = 30.0;
  pile.aeration.fan_m3_h = 10.0;
  pile.additions.push_back({{}, {tests::ingredient(tests::grass(), 7.0)}});
  const double volume = size_of(pile, SizeBy::volume);
  const PileDescription other = resized(pile, SizeBy::volume, 2.0 * volume);
  EXPECT_NEAR(other.watering->litres, 60.0, 1e-9);
  EXPECT_NEAR(other.aeration.fan_m3_h, 20.0, 1e-9);
  EXPECT_NEAR(other.additions[0].ingredients[0].wet_mass_kg, 14.0, 1e-9);
  EXPECT_EQ(other.horizon_days, pile.horizon_days);
}

TEST(Resize, RefusesASizeThatTheShapeDoesNotHave) {
  EXPECT_THROW((void)size_of(pile_of(ShapeKind::heap), SizeBy::length), InputError);
  EXPECT_THROW((void)resized(pile_of(ShapeKind::bin), SizeBy::length, 1.0), InputError);
  EXPECT_THROW((void)size_of(pile_of(ShapeKind::one_cell), SizeBy::height), InputError);
}

TEST(Resize, ADrierMixHasTheSameDryMatterAndTheMoistureAskedFor) {
  const PileDescription pile = pile_of(ShapeKind::heap);
  const PileDescription drier = at_moisture(pile, 0.5);
  EXPECT_NEAR(mix_moisture(drier), 0.5, rounding);
  for (std::size_t i = 0; i < pile.ingredients.size(); ++i) {
    const auto dry = [](const Ingredient& one) {
      return one.wet_mass_kg * (1.0 - one.material.moisture_wet_basis);
    };
    const auto space = [](const Ingredient& one) {
      return one.wet_mass_kg / one.material.bulk_density_wet_kg_m3;
    };
    EXPECT_NEAR(dry(drier.ingredients[i]), dry(pile.ingredients[i]), 1e-9);
    EXPECT_NEAR(space(drier.ingredients[i]), space(pile.ingredients[i]), 1e-9);
  }
}

} // namespace
} // namespace heapcast::models
