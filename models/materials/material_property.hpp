#pragma once

#include "engine/errors.hpp"
#include "models/materials/material.hpp"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::models {

/// One number that describes a material: how a data file names it, in which unit, what is allowed.
/// `material_properties()` is the only place where this is written; parsing, range checks, listings
/// and documentation come from it.
struct MaterialProperty {
  std::string_view key;  ///< as in data files and overrides, e.g. `nitrogen`
  std::string_view unit; ///< as in data files, e.g. "% dry"
  double factor;         ///< number in `unit` times `factor` is the member's value
  double low;            ///< allowed range, in `unit`, ends included
  double high;
  std::string_view meaning;
  double Material::*member;
};

[[nodiscard]] std::span<const MaterialProperty> material_properties();

/// The row with this key, or null.
[[nodiscard]] const MaterialProperty* find_material_property(std::string_view key);

/// The member of `material` that `property` describes, in the property's unit.
[[nodiscard]] double value_in_unit(const Material& material, const MaterialProperty& property);

/// kg C per kg N; infinite when there is no nitrogen.
[[nodiscard]] double carbon_to_nitrogen(const Material& material);

/// Largest carbon content of organic matter that a material may claim, kg C per kg volatile solids.
/// 0.58 is the usual ratio for humified matter (common practice, no source); fresh plant matter has
/// 0.44 to 0.53. Fats and pure lignin have more, but no everyday material is made of them alone.
inline constexpr double plain_carbon_limit_kgC_kgVS = 0.58;
/// The same of char, which is nearly pure carbon (judgement; char made hot has up to 0.95).
inline constexpr double char_carbon_limit_kgC_kgVS = 0.95;
/// Char is what has this share of its carbon in the pool that does not decay.
inline constexpr double charred_humus_fraction = 0.95;

/// The one of the two that holds for this material.
[[nodiscard]] double carbon_limit_kgC_kgVS(const Material& material);

/// Largest organic nitrogen, kg N per kg volatile solids: that of the protein richest in it,
/// collagen, which has 0.18 to 0.19 (memory, no source). Urea has more and counts as ammoniacal.
inline constexpr double nitrogen_limit_kgN_kgVS = 0.19;

/// Everything that cannot be true of this material: a number out of its range or NaN, carbon pools
/// that do not sum to 1 (within 1e-6), more carbon or organic nitrogen than the volatile solids
/// hold, more solids and water in a cubic metre than fit. `where` begins each fault. Empty for a
/// sound material.
[[nodiscard]] std::vector<Fault> material_faults(const Material& material,
                                                 const std::string& where);

/// Shares of organic carbon.
struct PoolShares {
  double fast, medium, slow, resistant;
};

/// Pool split where nothing but lignin is known.
///
/// Degradable share B = 0.830 - 2.8 L with L in kg lignin per kg volatile solids (Chandler et al.
/// 1980, from memory; reference ids chandler_0 to chandler_4), at least 0. B is split 1 : 3 into
/// fast and medium; 1.25 L is resistant, because lignin holds about 1.25 times the carbon of the
/// rest (63 % against 50 %); slow is what remains (split: judgement).
/// Valid for L from 0 to 0.5; throws InputError outside.
[[nodiscard]] PoolShares pools_from_lignin(double lignin_kg_kgVS);

} // namespace heapcast::models
