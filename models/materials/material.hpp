#pragma once

#include <string>
#include <vector>

namespace heapcast::models {

/// What one material is made of and how it lies, in SI units.
///
/// Every member that a data file can set is one row of `material_properties()`; that row holds the
/// unit, the allowed range and the meaning. Fractions say their basis in their name. The carbon
/// pool fractions are of total organic carbon and sum to 1.
struct Material {
  std::string name;  ///< key in the library, e.g. `wheat_straw`
  std::string title; ///< what people call it, e.g. "Wheat straw"
  std::string group; ///< `green`, `brown`, `manure`, `food`, `wood`, `mineral` or `compost`
  std::vector<std::string> words; ///< other names a search should find

  double moisture_wet_basis = 0.6;        ///< kg water per kg wet, 0..0.98
  double volatile_solids_dry_basis = 0.9; ///< kg per kg dry matter, 0..1
  double carbon_dry_basis = 0.45;         ///< kg C per kg dry matter
  double nitrogen_dry_basis = 0.01;       ///< kg N per kg dry matter
  double fast_fraction = 0.15;            ///< sugars, starch, protein, fat; of organic C
  double medium_fraction = 0.35;          ///< hemicellulose-like; of organic C
  double slow_fraction = 0.3;             ///< cellulose, ligno-protected; of organic C
  double resistant_fraction = 0.2;        ///< lignin; of organic C
  double humus_fraction = 0.0;            ///< already humified; of organic C
  double bulk_density_wet_kg_m3 = 300.0;  ///< as received, loosely heaped
  double water_holding_kgW_kgDM = 2.6;    ///< water held against drainage
  double flow_size_m = 0.8e-3;            ///< effective flow size d_e of the Ergun law
  double chop_size_m = 0.03;              ///< characteristic particle length as supplied
  double ph = 7.0;
  double active_biomass_fraction = 0.005; ///< living microbial C, of organic C
  double ammoniacal_fraction = 0.03;      ///< TAN, of total N
  double free_ammonia_share = 0.3;        ///< TAN not sorbed; lower on wood and peat
  double settling_fraction = 0.25;        ///< volume lost by settling at constant mass
  double ageing_nitrogen_1_d = 0.0;       ///< first-order loss of N while it waits
  double ageing_fast_1_d = 0.0;           ///< first-order loss of fast carbon while it waits
  double ageing_water_1_d = 0.0;          ///< first-order loss of water while it waits
};

} // namespace heapcast::models
