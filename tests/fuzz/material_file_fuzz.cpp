// Material data files.

#include "cli/input/material_file.hpp"
#include "engine/errors.hpp"
#include "models/materials/material.hpp"
#include "tests/fuzz/fuzz.hpp"

using heapcast::tests::require;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  try {
    const heapcast::models::MaterialRecord record =
        heapcast::cli::read_material(heapcast::tests::text_of(data, size), "material.toml");
    const heapcast::models::Material& m = record.material;
    require(m.moisture_wet_basis >= 0.0 && m.moisture_wet_basis < 1.0, "moisture is a share");
    require(m.bulk_density_wet_kg_m3 > 0.0 && std::isfinite(m.bulk_density_wet_kg_m3),
            "bulk density is positive");
    require(m.carbon_dry_basis > 0.0 && m.carbon_dry_basis < m.volatile_solids_dry_basis,
            "carbon is below the organic matter");
    require(m.nitrogen_dry_basis > 0.0 && m.nitrogen_dry_basis < 1.0, "nitrogen is a share");
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  }
  return 0;
}
