#include "models/properties/moist_air.hpp"

#include "models/weather/fao56.hpp"
#include "tests/reference_csv.hpp"
#include "tests/steps.hpp"

#include <limits>

namespace heapcast::models {
namespace {

/// Saturation pressure by IAPWS-IF97 region 4 (release of 1997, eq. 30), 273.15..647.096 K, Pa.
double if97_saturation_pressure_Pa(double temperature_K) {
  const double theta = temperature_K - 0.23855557567849 / (temperature_K - 0.65017534844798e3);
  const double a = (theta + 0.11670521452767e4) * theta - 0.72421316703206e6;
  const double b = (-0.17073846940092e2 * theta + 0.12020824702470e5) * theta - 0.32325550322333e7;
  const double c = (0.14915108613530e2 * theta - 0.48232657361591e4) * theta + 0.40511340542057e6;
  return 1e6 * std::pow(2.0 * c / (-b + std::sqrt(b * b - 4.0 * a * c)), 4.0);
}

TEST(MoistAir, SteamFormulaOfTheTestGivesItsPublishedCheckValues) {
  const tests::CsvTable table("physics_water_air.csv");
  tests::expect_row(tests::reference_row(table, "if97_500"),
                    1e-3 * if97_saturation_pressure_Pa(500.0));
  tests::expect_row(tests::reference_row(table, "if97_600"),
                    1e-3 * if97_saturation_pressure_Pa(600.0));
}

TEST(MoistAir, FormOfFao56StraysFromTheSteamFormulaAsPublished) {
  const tests::CsvTable table("physics_water_air.csv");
  for (const int t : {60, 80}) {
    const tests::ReferenceRow row = tests::reference_row(table, "tetens_err" + std::to_string(t));
    const double error_percent = 100.0 * (1e3 * fao56::saturation_pressure_kPa(t) /
                                              if97_saturation_pressure_Pa(freezing_K + t) -
                                          1.0);
    // The row's tolerance, 0.005, is of the error, which is in per cent.
    tests::expect_row(row, error_percent, within(row, 0.005));
  }
}

TEST(MoistAir, SaturationPressureFollowsSteamFormulaFromFreezingToBoiling) {
  // 0.006 % is what the header promises.
  for (const double t : tests::steps(0.0, 100.0, 0.25)) {
    const double steam = if97_saturation_pressure_Pa(freezing_K + t);
    EXPECT_NEAR(saturation_pressure_Pa(freezing_K + t) / steam, 1.0, 0.6e-4) << t << " °C";
  }
}

TEST(MoistAir, SaturationPressureRisesFrom200To400K) {
  for (const double temperature_K : tests::steps(200.0, 399.5, 0.5)) {
    EXPECT_LT(saturation_pressure_Pa(temperature_K), saturation_pressure_Pa(temperature_K + 0.5));
  }
  EXPECT_GT(saturation_pressure_Pa(200.0), 0.0);
}

TEST(MoistAir, SupercooledWaterFollowsMurphyAndKoop) {
  // Murphy & Koop 2005 eq. 10, from memory; 0.2 % is what the header promises down to −30 °C.
  for (const double t : tests::steps(-30.0, 0.0, 1.0)) {
    const double T = freezing_K + t;
    const double published =
        std::exp(54.842763 - 6763.22 / T - 4.21 * std::log(T) + 0.000367 * T +
                 std::tanh(0.0415 * (T - 218.8)) *
                     (53.878 - 1331.22 / T - 9.44523 * std::log(T) + 0.014025 * T));
    EXPECT_NEAR(saturation_pressure_Pa(T) / published, 1.0, 2e-3) << t << " °C";
  }
}

TEST(MoistAir, SaturationPressureIsHeldOutsideItsRangeAndKeepsNaN) {
  EXPECT_EQ(saturation_pressure_Pa(-1e5), saturation_pressure_Pa(200.0));
  EXPECT_EQ(saturation_pressure_Pa(1e5), saturation_pressure_Pa(400.0));
  EXPECT_TRUE(std::isnan(saturation_pressure_Pa(std::numeric_limits<double>::quiet_NaN())));
}

TEST(MoistAir, LatentHeatAgreesWithSlopeOfSaturationPressure) {
  // Clausius–Clapeyron for an ideal vapour, L = R_v T² d ln p/dT, without the liquid's volume:
  // above the true value by the vapour's departure from ideal, 0.06 % at 0 °C and 0.6 % at 60 °C.
  for (const double t : tests::steps(0.0, 60.0, 5.0)) {
    const double T = freezing_K + t;
    const double slope_1_K = log_saturation_pressure(T + 0.5) - log_saturation_pressure(T - 0.5);
    EXPECT_NEAR(gas_constant_vapour_J_kgK * T * T * slope_1_K / latent_heat_J_kg(T), 1.0, 0.01)
        << t << " °C";
  }
}

TEST(MoistAir, VapourEnthalpyIsLiquidHeatPlusLatentHeat) {
  EXPECT_EQ(vapour_enthalpy_J_kg(freezing_K), latent_heat_J_kg(freezing_K));
  EXPECT_DOUBLE_EQ(vapour_enthalpy_J_kg(freezing_K + 50.0),
                   4186.0 * 50.0 + latent_heat_J_kg(freezing_K + 50.0));
}

TEST(MoistAir, DewPointUndoesSaturationPressure) {
  // 1e-9 K: rounding of ln p near 20 is 4e-15, over its smallest slope of 0.02 1/K.
  for (const double T : tests::steps(200.5, 399.5, 0.5)) {
    EXPECT_NEAR(dew_point_K(saturation_pressure_Pa(T)), T, 1e-9);
  }
}

TEST(MoistAir, DewPointOfDryAirAndSteamAreTheLimits) {
  EXPECT_EQ(dew_point_K(0.0), 200.0);
  EXPECT_EQ(dew_point_K(1e7), 400.0);
  EXPECT_TRUE(std::isnan(dew_point_K(std::numeric_limits<double>::quiet_NaN())));
}

TEST(MoistAir, HumidityRatioIsVapourOverDryAirDensity) {
  const MoistAirState air{330.0, 9000.0, 95000.0};
  // Both follow from the ideal gas law; a few roundings apart.
  EXPECT_DOUBLE_EQ(humidity_ratio(air), vapour_density_kg_m3(air) / dry_air_density_kg_m3(air));
}

TEST(MoistAir, BoilingAirStaysFinite) {
  const MoistAirState steam = saturated({freezing_K + 120.0, standard_pressure_Pa});
  EXPECT_GT(steam.vapour_pressure_Pa, steam.pressure_Pa);
  EXPECT_DOUBLE_EQ(dry_air_pressure_Pa(steam), 0.02 * standard_pressure_Pa);
  EXPECT_GT(humidity_ratio(steam), 0.0);
  EXPECT_TRUE(std::isfinite(saturated_enthalpy_J_kg({freezing_K + 120.0, standard_pressure_Pa})));
}

TEST(MoistAir, DampAirIsLighter) {
  const double T = freezing_K + 60.0;
  EXPECT_LT(moist_air_density_kg_m3(saturated({T, standard_pressure_Pa})),
            moist_air_density_kg_m3({T, 0.0, standard_pressure_Pa}));
}

} // namespace
} // namespace heapcast::models
