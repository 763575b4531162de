#pragma once

#include "models/coefficients.hpp"
#include "models/pile_state.hpp"
#include "models/processes/decomposition_law.hpp"
#include "models/readiness/respiration.hpp"

namespace heapcast::models {

/// What is larger is sieved off or broken before the tests.
inline constexpr double test_particle_size_m = 0.010;

/// A well-mixed sample of the whole pile, per kg organic matter.
struct Sample {
  CarbonPools carbon{}; ///< kg C per kg organic matter
  double organic_nitrogen = 0.0;
  double ammonium_nitrogen = 0.0;
  double nitrate_nitrogen = 0.0; ///< kg N per kg organic matter
  double ash = 0.0;              ///< kg per kg organic matter
  double start_fast = 0.0;       ///< kg C in the fast pool when the pile was built
  double start_ph = 7.0;
  double particle_size_m = 0.01;

  [[nodiscard]] double total_carbon() const;
  [[nodiscard]] double total_nitrogen() const;
  [[nodiscard]] double dry_mass() const { return 1.0 + ash; }
};

/// The sample that equal shares of every cell make. Reads the state, changes nothing.
/// Throws std::invalid_argument for a pile without organic matter.
[[nodiscard]] Sample mixed_sample(const PileState& state);

/// What the sample is put into. The temperature is held, or follows from the sample's own heat.
struct Vessel {
  double temperature_K;           ///< of the sample at the start, and of what stands around it
  bool nutrients = false;         ///< nitrogen in plenty is given with the water
  double heat_capacity_J_kgK = 0; ///< per kg organic matter; 0: the temperature is held
  double heat_loss_W_kgK = 0;     ///< per kg organic matter
};

/// A sample on its way through a test; amounts per kg organic matter at the start.
struct TestCourse {
  CarbonPools carbon{};
  double organic_nitrogen = 0.0, ammonium_nitrogen = 0.0, nitrate_nitrogen = 0.0;
  double temperature_K = 0.0;
  double respired_kgC = 0.0;          ///< since the start
  double largest_rate_mol_kg_s = 0.0; ///< of respiration, so far
  double highest_temperature_K = 0.0; ///< so far
};

/// The sample as it goes into the vessel.
[[nodiscard]] TestCourse start_test(const Sample& sample, const Vessel& vessel);

/// Follows the sample through `hours` more.
///
/// The biology is that of the pile (decomposition_law.hpp) without its limits: the sample is wetted
/// and aired, and what is larger than 10 mm is sieved off or broken. The acids of a fresh sample
/// act as in the pile. Ammonia does not leave, and nothing is nitrified: the oxygen test stops it
/// with an inhibitor, and in the others it would add less than 1 mmol O2/kg/h (0.08/d of 1 g
/// ammoniacal nitrogen per kg, 2 mol O2 per mol N).
///
///   C dT/dt = q sum respired - U (T - T_around)
///
/// with a heat capacity C that stays as at the start. Bogacki-Shampine 3(2) with error control.
/// Throws NumericsError when the state is not finite.
void continue_test(const Coefficients& k, const Sample& sample, const Vessel& vessel, double hours,
                   TestCourse& course);

/// Oxygen uptake at 30 degC: the largest rate within 5 days, stirred in water with nutrients and an
/// inhibitor of nitrification (EN 16087-1, memory).
[[nodiscard]] Respiration oxygen_uptake_test(const Coefficients& k, const Sample& sample);

/// Carbon dioxide given off at 37 degC: the mean of days 2 to 4. The course is measured daily for
/// four days (CCQC Compost Maturity Index 2001, read); the first day, in which microbes still grow,
/// is left out (judgement).
[[nodiscard]] Respiration carbon_dioxide_test(const Coefficients& k, const Sample& sample);

/// Peak rise, K, of a sample that heats itself within 10 days in a 1.5 L vacuum vessel that stands
/// at 20 degC (BGK Methodenbuch, Brinton et al. 1995). The vessel is `self_heating_vessel`.
[[nodiscard]] double self_heating_test(const Coefficients& k, const Sample& sample);

/// The self-heating vessel filled with a sample: 0.9 kg at 50 % moisture (a squeezed handful that
/// gives no water), that is 600 kg/m3 (judgement). Its heat loss of 0.047 W/K is judgement: a
/// vacuum flask that cools from 95 to 79 degC in 6 h at 20 degC (common practice, no source) loses
/// 4186 ln(75/59)/21600 = 0.047 W/K per litre. With it a class III rise of 30 K needs 1.4 W, and
/// that is what 25 mmol O2/kg/h at 30 degC gives at 50 degC: the two limits that Regulation (EU)
/// 2019/1009 takes for each other.
[[nodiscard]] Vessel self_heating_vessel(const Coefficients& k, const Sample& sample);

} // namespace heapcast::models
