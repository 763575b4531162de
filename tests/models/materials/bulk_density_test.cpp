#include "models/materials/bulk_density.hpp"

#include "models/materials/material_property.hpp"

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

Material of(double moisture, double bulk_density_kg_m3, double water_holding) {
  Material material;
  material.moisture_wet_basis = moisture;
  material.bulk_density_wet_kg_m3 = bulk_density_kg_m3;
  material.water_holding_kgW_kgDM = water_holding;
  return material;
}

// A few operations on numbers below 2000.
constexpr double rounding_kg_m3 = 1e-9;

TEST(BulkDensityAtMoisture, IsItsOwnAtItsOwnMoisture) {
  for (const Material& material : {of(0.1, 60, 3.8), of(0.96, 1000, 2.5), of(0.81, 865, 3.0)}) {
    EXPECT_NEAR(bulk_density_at_moisture_kg_m3(material, material.moisture_wet_basis),
                material.bulk_density_wet_kg_m3, rounding_kg_m3);
  }
}

TEST(BulkDensityAtMoisture, SoakedStrawKeepsItsDryMassInACubicMetre) {
  // 54 kg dry in a cubic metre: over 0.45 at 55 %, all as dry mass at 0 %.
  EXPECT_NEAR(bulk_density_at_moisture_kg_m3(of(0.1, 60, 3.8), 0.55), 120, rounding_kg_m3);
  EXPECT_NEAR(bulk_density_at_moisture_kg_m3(of(0.1, 60, 3.8), 0), 54, rounding_kg_m3);
}

TEST(BulkDensityAtMoisture, WaterBeyondThePoresAddsItsOwnVolume) {
  // Solids of 10 % ash: 0.9/1450 + 0.1/2500 m3/kg. At 95 % there are 19 kg of water per kg dry, and
  // a tenth is left as air.
  const double volume_m3 = (0.9 / 1450 + 0.1 / 2500 + 19e-3) / 0.9;
  EXPECT_NEAR(bulk_density_at_moisture_kg_m3(of(0.1, 60, 3.8), 0.95), 20 / volume_m3,
              rounding_kg_m3);
}

TEST(BulkDensityAtMoisture, SlurryLosesTheVolumeOfItsFreeWaterAndNoMore) {
  const Material slurry = of(0.96, 1000, 2.5); // 25 L per kg dry, 24 of them water
  // 9 kg of water at 90 %: 15 litres fewer.
  EXPECT_NEAR(bulk_density_at_moisture_kg_m3(slurry, 0.9), 10 / 10e-3, 1e-6);
  // It holds 2.5 kg: 3.5 litres are left, and drying to 1 kg of water leaves air in them.
  EXPECT_NEAR(bulk_density_at_moisture_kg_m3(slurry, 0.5), 2 / 3.5e-3, 1e-6);
}

TEST(BulkDensityAtMoisture, LeavesASoundMaterialAtAnyMoisture) {
  for (const Material& material : {of(0.1, 60, 3.8), of(0.96, 1000, 2.5), of(0.81, 865, 3.0),
                                   of(0.8, 950, 2.5), of(0.18, 1200, 0.4)}) {
    for (int percent = 0; percent <= 98; ++percent) {
      Material other = material;
      other.moisture_wet_basis = percent / 100.0;
      other.bulk_density_wet_kg_m3 =
          bulk_density_at_moisture_kg_m3(material, other.moisture_wet_basis);
      for (const Fault& fault : material_faults(other, "here")) {
        ADD_FAILURE() << percent << " %: " << fault.what;
      }
    }
  }
}

} // namespace
} // namespace heapcast::models
