#include "models/readiness/stability_tests.hpp"

#include "engine/errors.hpp"
#include "models/parcel.hpp"
#include "models/properties/acidity.hpp"
#include "models/properties/oxidation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

namespace heapcast::models {

namespace {

using F = CellField;

constexpr double hour_s = 3600.0;

// Entries of the integrated state.
enum : std::size_t {
  fast,
  medium,
  slow,
  resistant,
  humus,
  biomass,
  organic_n,
  ammonium,
  nitrate,
  sample_temperature,
  respired,
  entries
};
using State = std::array<double, entries>;

State pack(const TestCourse& c) {
  return {c.carbon.fast,      c.carbon.medium,  c.carbon.slow,      c.carbon.resistant,
          c.carbon.humus,     c.carbon.biomass, c.organic_nitrogen, c.ammonium_nitrogen,
          c.nitrate_nitrogen, c.temperature_K,  c.respired_kgC};
}

void unpack(const State& y, TestCourse& c) {
  c.carbon = {y[fast], y[medium], y[slow], y[resistant], y[humus], y[biomass]};
  c.organic_nitrogen = y[organic_n];
  c.ammonium_nitrogen = y[ammonium];
  c.nitrate_nitrogen = y[nitrate];
  c.temperature_K = y[sample_temperature];
  c.respired_kgC = y[respired];
}

/// Rates of a sample in a vessel: what does not change on the way is worked out once.
class TestRates {
public:
  TestRates(const Coefficients& k, const Sample& sample, const Vessel& vessel)
      : k_(k), sample_(sample), vessel_(vessel),
        particle_(particle_size_factor(
            {.particle_size_m = std::min(sample.particle_size_m, test_particle_size_m),
             .exponent = k.particle_exponent})),
        heat_J_kgC_(k.heat_per_oxygen_J_kg * oxygen_per_carbon_kg_kgC) {}

  State operator()(const State& y) const {
    const CarbonPools carbon{y[fast], y[medium], y[slow], y[resistant], y[humus], y[biomass]};
    const double t = y[sample_temperature];
    const double mineral = std::max(y[ammonium], 0.0) + std::max(y[nitrate], 0.0);
    NitrogenSupply supply =
        nitrogen_supply(k_, carbon, {.organic = y[organic_n], .mineral = mineral});
    if (vessel_.nutrients) {
      supply.factor = 1.0;
    }
    const double f_t = temperature_factor(k_, t);
    const double ph = pile_ph({.start_ph = sample_.start_ph,
                               .fast_left = y[fast] / (sample_.start_fast + 1e-300),
                               .ammonium_dry_basis = y[ammonium] / sample_.dry_mass()});
    const double f_ph = acid_inhibition({.ph = ph, .temperature_K = t, .ph_half = k_.ph_half});
    const double g = f_t * supply.factor * f_ph * contois_factor(k_, carbon);
    const CarbonFlows flow =
        carbon_flows(k_, {.fast = k_.fast_rate_1_s * g * y[fast],
                          .medium = k_.medium_rate_1_s * g * particle_ * y[medium],
                          .slow = k_.slow_rate_1_s * g * particle_ * y[slow],
                          .resistant = k_.resistant_rate_1_s * f_t * y[resistant],
                          .decay = biomass_decay_kgC_s(k_, carbon, t),
                          .growth_yield = k_.biomass_yield * supply.factor,
                          .nitrogen_per_carbon = supply.per_carbon});
    State d{};
    d[fast] = flow.fast;
    d[medium] = flow.medium;
    d[slow] = flow.slow;
    d[resistant] = flow.resistant;
    d[humus] = flow.humus;
    d[biomass] = flow.biomass;
    d[respired] = flow.respired + flow.respired_decay;
    d[organic_n] = -flow.mineralised;
    if (!vessel_.nutrients) {
      const double from_nitrate =
          flow.mineralised < 0.0 && mineral > 0.0 ? std::max(y[nitrate], 0.0) / mineral : 0.0;
      d[ammonium] = (1.0 - from_nitrate) * flow.mineralised;
      d[nitrate] = from_nitrate * flow.mineralised;
    }
    if (vessel_.heat_capacity_J_kgK > 0.0) {
      d[sample_temperature] =
          (heat_J_kgC_ * d[respired] - vessel_.heat_loss_W_kgK * (t - vessel_.temperature_K)) /
          vessel_.heat_capacity_J_kgK;
    }
    return d;
  }

private:
  const Coefficients& k_;
  const Sample& sample_;
  const Vessel& vessel_;
  double particle_;
  double heat_J_kgC_;
};

/// y + h (a d1 + b d2 + c d3 ...)
template <class... Terms> State stepped(const State& y, double h, const Terms&... terms) {
  State out = y;
  for (std::size_t i = 0; i < entries; ++i) {
    out[i] += h * ((terms.second * (*terms.first)[i]) + ...);
  }
  return out;
}

/// Largest error over what is allowed: 1 % of the microbes, which grow from little; 0.02 % of the
/// organic matter as carbon, 0.05 K and 10 mg N/kg, each a tenth or less of what is told apart.
double error_of(const State& y, double h, const State& d1, const State& d2, const State& d3,
                const State& d4) {
  constexpr double pool_kgC = 2e-4;
  constexpr double kelvin = 0.05;
  constexpr double nitrogen_kgN = 1e-5;
  const double microbes = 0.01 * std::abs(y[biomass]) + 1e-6;
  const auto error = [&](std::size_t i) {
    return std::abs(
        h * (-5.0 / 72.0 * d1[i] + 1.0 / 12.0 * d2[i] + 1.0 / 9.0 * d3[i] - 1.0 / 8.0 * d4[i]));
  };
  return std::max({error(fast) / pool_kgC, error(medium) / pool_kgC, error(biomass) / microbes,
                   error(ammonium) / nitrogen_kgN, error(nitrate) / nitrogen_kgN,
                   error(sample_temperature) / kelvin});
}

/// The highest value of a curve seen at points in time: between them it bends like the parabola
/// through three.
class Highest {
public:
  explicit Highest(double value) : value_(value) {}
  void see(double t, double y) {
    value_ = std::max(value_, y);
    if (seen_ >= 2 && y1_ > y0_ && y1_ > y) {
      const double before = (y1_ - y0_) / (t1_ - t0_);
      const double after = (y - y1_) / (t - t1_);
      const double bend = (after - before) / (t - t0_);
      const double slope = before + bend * (t1_ - t0_); // at the middle point
      value_ = std::max(value_, y1_ - 0.25 * slope * slope / bend);
    }
    t0_ = t1_;
    y0_ = y1_;
    t1_ = t;
    y1_ = y;
    ++seen_;
  }
  [[nodiscard]] double value() const { return value_; }

private:
  double value_;
  double t0_ = 0.0, y0_ = 0.0, t1_ = 0.0, y1_ = 0.0; ///< the last two points
  int seen_ = 0;
};

} // namespace

double Sample::total_carbon() const {
  return carbon.degradable() + carbon.resistant + carbon.humus + carbon.biomass;
}

double Sample::total_nitrogen() const {
  return organic_nitrogen + ammonium_nitrogen + nitrate_nitrogen;
}

Sample mixed_sample(const PileState& state) {
  Parcel all;
  for (const Parcel& parcel : take_apart(state)) {
    all.add(parcel, 1.0);
  }
  const double organic = all[F::volatile_per_carbon]; // of a parcel: the volatile solids
  if (!(organic > 0.0)) {
    throw std::invalid_argument("a sample needs organic matter");
  }
  const double dry = parcel_dry_mass_kg(all);
  return {.carbon = {all[F::fast] / organic, all[F::medium] / organic, all[F::slow] / organic,
                     all[F::resistant] / organic, all[F::humus] / organic,
                     all[F::biomass] / organic},
          .organic_nitrogen = all[F::organic_nitrogen] / organic,
          .ammonium_nitrogen = all[F::ammonium_nitrogen] / organic,
          .nitrate_nitrogen = all[F::nitrate_nitrogen] / organic,
          .ash = all[F::ash] / organic,
          .start_fast = all[F::start_fast] / organic,
          .start_ph = all[F::start_ph] / dry,
          .particle_size_m = std::exp(all[F::log_particle_size] / dry)};
}

TestCourse start_test(const Sample& sample, const Vessel& vessel) {
  return {.carbon = sample.carbon,
          .organic_nitrogen = sample.organic_nitrogen,
          .ammonium_nitrogen = sample.ammonium_nitrogen,
          .nitrate_nitrogen = sample.nitrate_nitrogen,
          .temperature_K = vessel.temperature_K,
          .highest_temperature_K = vessel.temperature_K};
}

void continue_test(const Coefficients& k, const Sample& sample, const Vessel& vessel, double hours,
                   TestCourse& course) {
  constexpr double first_step_s = 0.25 * hour_s;
  constexpr double largest_step_s = 3.0 * hour_s; // peaks are then found to 0.15 K and 0.03 %
  constexpr double smallest_step_s = 1.0;
  const TestRates rates(k, sample, vessel);
  const double end_s = hours * hour_s;
  State y = pack(course);
  State d1 = rates(y);
  double t_s = 0.0;
  Highest rate(course.largest_rate_mol_kg_s * molar_mass_carbon_kg_mol);
  Highest temperature(course.highest_temperature_K);
  const auto seen = [&] {
    rate.see(t_s, d1[respired]);
    temperature.see(t_s, y[sample_temperature]);
  };
  seen();
  double wanted_s = first_step_s;
  while (t_s < end_s) {
    const double h = std::min(wanted_s, end_s - t_s);
    const State d2 = rates(stepped(y, h, std::pair{&d1, 0.5}));
    const State d3 = rates(stepped(y, h, std::pair{&d2, 0.75}));
    const State next = stepped(y, h, std::pair{&d1, 2.0 / 9.0}, std::pair{&d2, 1.0 / 3.0},
                               std::pair{&d3, 4.0 / 9.0});
    const State d4 = rates(next);
    const double error = error_of(y, h, d1, d2, d3, d4);
    if (!std::isfinite(error)) {
      throw NumericsError(fmt::format(
          "the laboratory test of a sample: the state is not finite after {:.3g} h", t_s / hour_s));
    }
    const double factor = std::clamp(0.9 / std::cbrt(error + 1e-9), 0.2, 4.0);
    if (error <= 1.0 || h <= smallest_step_s) {
      t_s = h < wanted_s ? end_s : t_s + h;
      y = next;
      d1 = d4;
      seen();
    }
    wanted_s = std::clamp(h * factor, smallest_step_s, largest_step_s);
  }
  unpack(y, course);
  course.largest_rate_mol_kg_s = rate.value() / molar_mass_carbon_kg_mol;
  course.highest_temperature_K = temperature.value();
}

Respiration oxygen_uptake_test(const Coefficients& k, const Sample& sample) {
  const Vessel vessel{.temperature_K = freezing_K + 30.0, .nutrients = true};
  TestCourse course = start_test(sample, vessel);
  continue_test(k, sample, vessel, 5.0 * 24.0, course);
  return Respiration::from_mol_kg_s(course.largest_rate_mol_kg_s);
}

Respiration carbon_dioxide_test(const Coefficients& k, const Sample& sample) {
  const Vessel vessel{.temperature_K = freezing_K + 37.0};
  TestCourse course = start_test(sample, vessel);
  continue_test(k, sample, vessel, 24.0, course);
  const double first_day_kgC = course.respired_kgC;
  continue_test(k, sample, vessel, 72.0, course);
  return Respiration::from_mgC_g_d(1e3 * (course.respired_kgC - first_day_kgC) / 3.0);
}

double self_heating_test(const Coefficients& k, const Sample& sample) {
  const Vessel vessel = self_heating_vessel(k, sample);
  TestCourse course = start_test(sample, vessel);
  continue_test(k, sample, vessel, 10.0 * 24.0, course);
  return course.highest_temperature_K - vessel.temperature_K;
}

Vessel self_heating_vessel(const Coefficients& k, const Sample& sample) {
  constexpr double dry_kg = 0.45;
  constexpr double water_kg = 0.45;
  constexpr double heat_loss_W_K = 0.047;
  const double organic_kg = dry_kg / sample.dry_mass();
  return {.temperature_K = freezing_K + 20.0,
          .heat_capacity_J_kgK =
              (dry_kg * k.solids_heat_capacity_J_kgK + water_kg * heat_capacity_water_J_kgK) /
              organic_kg,
          .heat_loss_W_kgK = heat_loss_W_K / organic_kg};
}

} // namespace heapcast::models
