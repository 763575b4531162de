#pragma once

#include "cli/input/units.hpp"
#include "engine/errors.hpp"
#include "models/materials/library.hpp"

#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

namespace heapcast::cli {

/// Reads one material data file (the format is in models/materials/library/README.md).
///
/// `file_name` is for messages. Throws InputError with every fault of the file, each with line and
/// column: what toml++ cannot parse, unknown keys (with the nearest one), missing properties, wrong
/// units, values out of range, a C:N that does not follow from carbon and nitrogen, and materials
/// that cannot be (`models::material_faults`).
[[nodiscard]] models::MaterialRecord read_material(std::string_view text,
                                                   const std::string& file_name);

/// Reads a material of the user's own, from a file beside the pile file. Either it is written as a
/// data file of the library, or in short: `name`, and if wanted `title`, `group` and `like`, the
/// library's material that it is taken for where nothing else is said; then quantities with their
/// unit as in a pile file (see `apply_overrides`). Without `like` it must be given in full
/// (see `material_given_in_full`). Throws InputError with every fault, as `read_material` does.
[[nodiscard]] models::Material read_own_material(std::string_view text,
                                                 const std::string& file_name,
                                                 const models::MaterialLibrary& library);

/// Whether a text is a material's file and not a pile file or a study: it has a name and a property
/// at its top, or says what it is like.
[[nodiscard]] bool is_material(std::string_view text);

/// The materials built into the program.
[[nodiscard]] models::MaterialLibrary load_builtin_library();

/// Keys of a `[[material]]` table that `apply_overrides` reads: every property of
/// `models::material_properties()`, and `carbon_to_nitrogen` and `lignin`.
[[nodiscard]] std::vector<std::string> material_override_keys();

/// What such a key is written in: the usual dimension, and another or `Dimension::count`.
struct PropertyDimensions {
  Dimension usual, also;
};
[[nodiscard]] PropertyDimensions property_dimensions(std::string_view key);

/// Sets what `table` gives, as quantities with their unit (`nitrogen = "2.1 % dry"`); other keys
/// are the caller's. Laboratory values override the library's:
/// - carbon, nitrogen and volatile solids may be "% dry" or, as received, "% wet";
/// - `ammoniacal` may be a share of nitrogen or of dry matter ("1200 mg/kg dry");
/// - `carbon_to_nitrogen` sets carbon when nitrogen is given and nitrogen otherwise; with both
/// given
///   it must agree with them within 5 %;
/// - volatile solids without carbon keep the carbon in them;
/// - moisture without bulk density lets it follow (`models::bulk_density_at_moisture_kg_m3`);
/// - carbon pools that are given keep their value and the others shrink or grow to fill 100 %; when
///   all are given they must make 100 % within 1 %; `lignin` in "% of VS" gives all four instead
///   (`models::pools_from_lignin`, humus kept);
/// - chop size does not change bulk density or flow size.
///
/// What cannot be read or cannot be true is added to `faults` with file, line and column; then
/// `material` is unspecified but safe to drop.
void apply_overrides(models::Material& material, const toml::table& table,
                     std::string_view source_name, std::vector<Fault>& faults);

/// A material that is not in the library, given in full by the same keys.
///
/// Needs moisture, volatile_solids, nitrogen, carbon or carbon_to_nitrogen, the four carbon pools
/// or lignin, bulk_density, water_holding, flow_size and chop_size; a fault names each that is
/// missing. The others default to those of `models::Material`, without humus and without loss in
/// waiting.
[[nodiscard]] models::Material material_given_in_full(const std::string& name,
                                                      const toml::table& table,
                                                      std::string_view source_name,
                                                      std::vector<Fault>& faults);

} // namespace heapcast::cli
