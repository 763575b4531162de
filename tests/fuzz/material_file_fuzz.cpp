// Material data files of the library and of the user.

#include "cli/input/material_file.hpp"
#include "engine/errors.hpp"
#include "models/materials/material.hpp"
#include "tests/fuzz/fuzz.hpp"

using heapcast::tests::require;

namespace {

void require_sound(const heapcast::models::Material& m) {
  require(m.moisture_wet_basis >= 0.0 && m.moisture_wet_basis < 1.0, "moisture is a share");
  require(m.bulk_density_wet_kg_m3 > 0.0 && std::isfinite(m.bulk_density_wet_kg_m3),
          "bulk density is positive");
  require(m.carbon_dry_basis >= 0.0 && m.carbon_dry_basis <= m.volatile_solids_dry_basis,
          "carbon is within the organic matter");
  require(m.nitrogen_dry_basis >= 0.0 && m.nitrogen_dry_basis < 1.0, "nitrogen is a share");
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const heapcast::models::MaterialLibrary library = heapcast::cli::load_builtin_library();
  const std::string_view text = heapcast::tests::text_of(data, size);
  try {
    require_sound(heapcast::cli::read_material(text, "material.toml").material);
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  }
  try {
    require_sound(heapcast::cli::read_own_material(text, "own.toml", library));
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  }
  return 0;
}
