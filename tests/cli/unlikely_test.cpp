#include "cli/input/unlikely.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <memory>
#include <string>
#include <vector>

namespace heapcast::cli {
namespace {

using models::PileDescription;
using models::ShapeKind;
using testing::HasSubstr;

/// One material that nothing can be said against: 10 m3 of 500 kg/m3, 55 % moisture, C:N 30, on a
/// mild day. Free air space 1 - 500 (0.45 / 1136.4 + 0.55 / 1000) = 0.527 with 80 % volatile
/// solids.
PileDescription usual() {
  PileDescription pile;
  models::Ingredient one;
  one.material.name = "invented_mix";
  one.material.moisture_wet_basis = 0.55;
  one.material.volatile_solids_dry_basis = 0.8;
  one.material.carbon_dry_basis = 0.45;
  one.material.nitrogen_dry_basis = 0.015;
  one.material.bulk_density_wet_kg_m3 = 500;
  one.wet_mass_kg = 5000;
  pile.ingredients = {one};
  pile.shape.kind = ShapeKind::windrow;
  auto weather = std::make_shared<models::Weather>();
  weather->air_temperature_K.assign(24UL * 61UL, 285.0);
  weather->wind_m_s.assign(24UL * 61UL, 2.0);
  pile.weather = weather;
  return pile;
}

std::string said_of(const PileDescription& pile) {
  std::string text;
  for (const Unlikely& one : unlikely(pile)) {
    text += one.what + " - " + one.remedy + "\n";
  }
  return text;
}

/// Nothing is said of `inside`; of `outside` one thing, with `words` in it.
void expect_limit(const PileDescription& inside, const PileDescription& outside,
                  const std::string& words) {
  EXPECT_EQ(said_of(inside), "");
  EXPECT_THAT(said_of(outside), HasSubstr(words));
  EXPECT_EQ(unlikely(outside).size(), 1U) << said_of(outside);
}

template <class Change> PileDescription changed(Change change) {
  PileDescription pile = usual();
  change(pile);
  return pile;
}

PileDescription of_ratio(double ratio) {
  return changed(
      [&](PileDescription& p) { p.ingredients[0].material.nitrogen_dry_basis = 0.45 / ratio; });
}

PileDescription of_moisture(double moisture) {
  return changed(
      [&](PileDescription& p) { p.ingredients[0].material.moisture_wet_basis = moisture; });
}

PileDescription of_density(double kg_m3) {
  return changed([&](PileDescription& p) {
    p.ingredients[0].material.bulk_density_wet_kg_m3 = kg_m3;
    p.ingredients[0].wet_mass_kg = 10 * kg_m3;
  });
}

/// A windrow of `volume_m3`; without dimensions as high as its section gives.
PileDescription of_volume(double volume_m3) {
  return changed([&](PileDescription& p) {
    p.ingredients[0].wet_mass_kg = 500 * volume_m3;
    p.shape.height_m = 1.0;
    p.shape.width_m = 2.0;
  });
}

TEST(Unlikely, NothingIsSaidOfAUsualPile) {
  EXPECT_EQ(said_of(usual()), "");
  EXPECT_EQ(unlikely_in_brief(unlikely(usual())), "");
}

TEST(Unlikely, CarbonToNitrogenOutside15To50) {
  expect_limit(of_ratio(15.1), of_ratio(14.9), "C:N of 15, which loses much nitrogen");
  expect_limit(of_ratio(49.9), of_ratio(50.1), "C:N of 50, which is short of nitrogen");
  EXPECT_THAT(said_of(of_ratio(9)), HasSubstr("C:N of 9"));
  EXPECT_THAT(said_of(of_ratio(9)), HasSubstr("25 to 40 is usual (Rynk (ed.) 2022"));
}

TEST(Unlikely, MoistureOutside40To70Percent) {
  expect_limit(of_moisture(0.405), of_moisture(0.395), "moisture, which is too dry");
  expect_limit(of_moisture(0.695), of_moisture(0.705), "moisture, which leaves little air");
  EXPECT_THAT(said_of(of_moisture(0.85)), HasSubstr("the mix has 85 % moisture"));
  // Water at the build makes up for it.
  PileDescription wetted = of_moisture(0.30);
  wetted.build_water_to_moisture = 0.55;
  EXPECT_EQ(said_of(wetted), "");
}

TEST(Unlikely, DensityOutside100To800) {
  expect_limit(of_density(101), of_density(99), "very loose");
  // Ash is dense: 1 - 801 (0.45 / 2500 + 0.55 / 1000) = 0.415 of it is air all the same.
  const auto heavy = [](double kg_m3) {
    PileDescription pile = of_density(kg_m3);
    pile.ingredients[0].material.volatile_solids_dry_basis = 0.0;
    return pile;
  };
  expect_limit(heavy(799), heavy(801), "very dense");
}

TEST(Unlikely, FreeAirSpaceUnder30Percent) {
  // recipe.csv fas_ex: 600 kg/m3 at 60 % moisture with solids of 1500 kg/m3 has 48 % air. Solids of
  // 1500 = 1000 / (VS + (1 - VS) / 2.5) have VS = (2.5 / 1.5 - 1) / 1.5.
  EXPECT_NEAR(free_air_share({600, 0.60, (2.5 / 1.5 - 1) / 1.5}), 0.48, 1e-12);
  // With 80 % volatile solids and 55 % moisture air is 1 - rho 0.000946: 30 % at 740 kg/m3.
  expect_limit(of_density(735), of_density(745), "free air space, too little to breathe");
}

TEST(Unlikely, HigherThan12Feet) {
  const auto of_height = [](double height_m) {
    return changed([&](PileDescription& p) {
      p.shape.height_m = height_m;
      p.shape.width_m = 2 * height_m;
      p.ingredients[0].wet_mass_kg = 200000;
    });
  };
  expect_limit(of_height(3.65), of_height(3.67), "the pile is 3.7 m high");
  EXPECT_THAT(said_of(of_height(5)), HasSubstr("less than 3.66 m (waste360"));
}

TEST(Unlikely, TinyAndGiantVolumes) {
  const auto tiny = [](double m3) {
    PileDescription pile = of_volume(m3);
    pile.shape = {};
    return pile;
  };
  expect_limit(tiny(0.31), tiny(0.29), "the materials fill only 0.29 m3");
  expect_limit(of_volume(1990), of_volume(2010), "fill 2010 m3 in one pile");
  // A bin is as small as it is, and what is fed grows.
  PileDescription fed = tiny(0.29);
  fed.additions.emplace_back();
  EXPECT_EQ(said_of(fed), "");
}

TEST(Unlikely, SidesSteeperThanLooseMaterialStands) {
  // tan 55 = 1.428: 1 m high on 2 / 1.428 = 1.40 m.
  const auto on_base = [](double width_m) {
    PileDescription pile = of_volume(10);
    pile.shape.width_m = width_m;
    return pile;
  };
  expect_limit(on_base(1.41), on_base(1.39), "the sides rise at 55 degrees");
  EXPECT_THAT(said_of(on_base(0.5)), HasSubstr("rise at 76 degrees"));
  PileDescription bin = on_base(0.5);
  bin.shape.kind = ShapeKind::bin;
  EXPECT_EQ(said_of(bin), "");
}

TEST(Unlikely, TurnedMoreOftenThanEveryOtherDay) {
  const auto every = [](double days) {
    return changed([&](PileDescription& p) { p.turning.emplace().schedule.every_days = days; });
  };
  expect_limit(every(2), every(1), "it is turned every day");
  const auto on = [](std::vector<double> days) {
    return changed([&](PileDescription& p) { p.turning.emplace().schedule.on_days = days; });
  };
  expect_limit(on({3, 4, 9}), on({3, 3.5, 9}), "on day 3.00 and again on day 3.50");
}

TEST(Unlikely, HardlyAnyOfAMaterial) {
  const auto with_little = [](double kg) {
    return changed([&](PileDescription& p) {
      p.ingredients.push_back(p.ingredients[0]);
      p.ingredients[1].material.name = "a_pinch";
      p.ingredients[1].wet_mass_kg = kg;
    });
  };
  expect_limit(with_little(5.1), with_little(4.9), "a_pinch is 0.098 % of the mass");
}

TEST(Unlikely, MoreThanAFifthOfThePileAtOnceInWater) {
  const auto litres = [](double each) {
    return changed([&](PileDescription& p) { p.watering.emplace().litres = each; });
  };
  expect_limit(litres(990), litres(1010), "each watering brings 1010 litres");
}

TEST(Unlikely, AGaleFromTheFan) {
  const auto fan = [](double m3_h) {
    return changed([&](PileDescription& p) {
      p.aeration.fan_m3_h = m3_h;
      p.aeration.on_minutes_h = 30;
    });
  };
  // Half an hour each hour through 10 m3: 60 m3/h per m3 from 1200 m3/h on.
  expect_limit(fan(1190), fan(1210), "the fan blows 60 m3/h");
}

TEST(Unlikely, LayersThatAreNeverMixed) {
  const auto layered = [](bool turned) {
    return changed([&](PileDescription& p) {
      p.layered = true;
      if (turned) {
        p.turning.emplace().schedule.every_days = 7;
      }
    });
  };
  expect_limit(layered(true), layered(false), "never turned, so they never mix");
}

TEST(Unlikely, BuiltInFrostOrInAGale) {
  const auto in_weather = [](double air_degC, double wind_m_s) {
    return changed([&](PileDescription& p) {
      auto weather = std::make_shared<models::Weather>(*p.weather);
      weather->air_temperature_K.assign(weather->air_temperature_K.size(), 273.15 + air_degC);
      weather->wind_m_s.assign(weather->wind_m_s.size(), wind_m_s);
      p.weather = weather;
    });
  };
  expect_limit(in_weather(0.1, 2), in_weather(-0.1, 2), "it is built in frost: -0.1 degC");
  expect_limit(in_weather(10, 5.9), in_weather(10, 6.1), "the wind at 2 m is 6.1 m/s");
  PileDescription warm = in_weather(-5, 2);
  warm.build_temperature_K = 288;
  EXPECT_EQ(said_of(warm), "");
}

TEST(Unlikely, IsSaidInBriefToThoseWhoDidNotAsk) {
  EXPECT_EQ(unlikely_in_brief(unlikely(of_ratio(9))), "one thing is unlikely (C:N 9)");
  PileDescription both = of_ratio(9);
  both.layered = true;
  EXPECT_EQ(unlikely_in_brief(unlikely(both)), "2 things are unlikely (C:N 9, never mixed)");
}

} // namespace
} // namespace heapcast::cli
