#include "cli/input/unlikely.hpp"

#include "cli/joined.hpp"
#include "models/operations/build.hpp"
#include "models/properties/moist_air.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string_view>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::Ingredient;
using models::PileDescription;
using models::ShapeKind;

constexpr std::string_view practice = "common practice, no source";
constexpr std::string_view handbook = "Rynk (ed.) 2022, The Composting Handbook, table 4.2";

/// What is judged, worked out once.
struct Figures {
  double wet_kg = 0, water_kg = 0, carbon_kg = 0, nitrogen_kg = 0, solids_kg = 0;
  double volume_m3 = 0;
  models::Shape shape; ///< complete; without dimensions for one cell
  double height_m = models::unset;

  [[nodiscard]] double dry_kg() const { return wet_kg - water_kg; }
  [[nodiscard]] double moisture() const { return water_kg / wet_kg; }
  [[nodiscard]] double density_kg_m3() const { return wet_kg / volume_m3; }
};

Figures figures_of(const PileDescription& pile) {
  Figures f;
  for (const Ingredient& ingredient : pile.ingredients) {
    const models::Material& material = ingredient.material;
    const double dry_kg = ingredient.wet_mass_kg * (1 - material.moisture_wet_basis);
    f.wet_kg += ingredient.wet_mass_kg;
    f.water_kg += ingredient.wet_mass_kg - dry_kg;
    f.carbon_kg += dry_kg * material.carbon_dry_basis;
    f.nitrogen_kg += dry_kg * material.nitrogen_dry_basis;
    f.solids_kg += dry_kg * material.volatile_solids_dry_basis;
  }
  f.volume_m3 = models::ingredients_volume_m3(pile);
  if (pile.shape.kind == ShapeKind::windrow || pile.shape.kind == ShapeKind::heap) {
    f.shape = models::complete_shape(pile.shape, f.volume_m3);
    f.height_m = f.shape.height_m;
  }
  return f;
}

/// Water brought to the build: as it lies, or wetted to what the file asks.
double moisture_at_build(const PileDescription& pile, const Figures& f) {
  return std::isnan(pile.build_water_to_moisture)
             ? f.moisture()
             : std::max(f.moisture(), pile.build_water_to_moisture);
}

bool within(double value, double low, double high) {
  return value >= low && value <= high;
}

class Finder {
public:
  explicit Finder(const PileDescription& pile) : pile_(pile), f_(figures_of(pile)) {}

  std::vector<Unlikely> find() {
    mix();
    structure();
    amounts();
    size();
    slope();
    turning();
    watering();
    fan();
    layers();
    season();
    return std::move(all_);
  }

private:
  void add(std::string brief, std::string what, std::string remedy) {
    all_.push_back({std::move(brief), std::move(what), std::move(remedy)});
  }

  void mix() {
    const double ratio = f_.carbon_kg / f_.nitrogen_kg;
    // recipe.csv opt_hb_cn_ilo, opt_hb_cn_ihi
    if (!within(ratio, 15, 50)) {
      const bool low = ratio < 15;
      add(fmt::format("C:N {:.0f}", ratio),
          fmt::format("the mix has a C:N of {:.0f}, {}", ratio,
                      low ? "which loses much nitrogen as ammonia" : "which is short of nitrogen"),
          fmt::format("25 to 40 is usual ({}); {}", handbook,
                      low ? "more straw, leaves or wood chips raise it"
                          : "more greens or manure lower it"));
    }
    const double moisture = moisture_at_build(pile_, f_);
    // recipe.csv opt_hb_m_ilo, opt_hb_m_ihi, opt_hb_m_hi
    if (!within(moisture, 0.40, 0.70)) {
      const bool dry = moisture < 0.40;
      add(fmt::format("{:.0f} % moisture", 100 * moisture),
          fmt::format("the mix has {:.0f} % moisture, {}", 100 * moisture,
                      dry ? "which is too dry to rot fast" : "which leaves little air in it"),
          fmt::format("50 to 60 % is usual, up to 65 % goes ({}); {}", handbook,
                      dry ? "water it as it is built" : "add something dry and coarse"));
    }
  }

  void structure() {
    const double moisture = f_.moisture();
    const double density = f_.density_kg_m3();
    // recipe.csv opt_lsu_bd_lo, opt_lsu_bd_hi: 800 to 1200 lb/yd3. Leafy piles are lighter and rot
    // all the same.
    if (!within(density, 100, 800)) {
      add(fmt::format("{:.0f} kg/m3", density),
          fmt::format("the mix weighs {:.0f} kg/m3 as it is heaped, which is {}", density,
                      density < 100 ? "very loose" : "very dense"),
          "475 to 712 kg/m3 is usual (LSU AgCenter 3838-D after NRAES-54), leafy piles are "
          "lighter; "
          "check the amounts and bulk densities");
    }
    const double air = free_air_share(
        {.bulk_density_kg_m3 = density,
         .moisture_wet_basis = moisture,
         .volatile_solids_dry_basis = f_.dry_kg() > 0 ? f_.solids_kg / f_.dry_kg() : 1.0});
    if (!(air >= 0.30)) {
      add(fmt::format("{:.0f} % free air space", 100 * air),
          fmt::format("the mix has {:.0f} % free air space, too little to breathe", 100 * air),
          fmt::format("30 % or more is usual ({}); add something dry and coarse", practice));
    }
  }

  void amounts() {
    for (const Ingredient& ingredient : pile_.ingredients) {
      const double share = ingredient.wet_mass_kg / f_.wet_kg;
      if (!(share >= 0.001)) {
        add(fmt::format("hardly any {}", ingredient.material.name),
            fmt::format("{} is {:.2g} % of the mass and makes no difference",
                        ingredient.material.name, 100 * share),
            "check its amount and unit, or leave it out");
      }
    }
  }

  void size() {
    const bool free_standing = !std::isnan(f_.height_m);
    // field.csv sc_height
    if (free_standing && !(f_.height_m <= 3.66)) {
      add(fmt::format("{:.1f} m high", f_.height_m),
          fmt::format("the pile is {:.1f} m high: heat can hardly leave it, it may catch fire, and "
                      "few loaders or turners reach its top",
                      f_.height_m),
          "1 to 2.5 m is usual (common practice, no source), and fire guidance wants less than "
          "3.66 "
          "m (waste360, What causes compost fires?); build several lower ones");
    }
    if (free_standing && !(f_.volume_m3 >= 0.3) && pile_.additions.empty()) {
      // recipe.csv min_pile
      add(fmt::format("{:.2g} m3", f_.volume_m3),
          fmt::format("the materials fill only {:.2g} m3, which seldom gets hot", f_.volume_m3),
          fmt::format("about 1 m3 is the smallest pile that holds heat, 0.7 to 1.5 m3 ({}); check "
                      "the amounts",
                      practice));
    }
    if (!(f_.volume_m3 <= 2000)) {
      add(fmt::format("{:.0f} m3", f_.volume_m3),
          fmt::format("the materials fill {:.0f} m3 in one pile", f_.volume_m3),
          fmt::format(
              "a windrow of 100 m seldom holds more than 500 m3 ({}); check the amounts and "
              "units",
              practice));
    }
  }

  void slope() {
    const models::Shape& shape = f_.shape;
    if (std::isnan(f_.height_m)) {
      return;
    }
    const double top_m = shape.profile == models::Profile::trapezoidal ? shape.top_width_m : 0.0;
    const double degrees =
        std::atan2(2 * shape.height_m, shape.width_m - top_m) * 180 / std::numbers::pi;
    if (!(degrees <= 55)) {
      add(fmt::format("sides of {:.0f} degrees", degrees),
          fmt::format("{:.2g} m high on a base of {:.2g} m the sides rise at {:.0f} degrees on "
                      "average: loose material slides",
                      shape.height_m, shape.width_m, degrees),
          fmt::format("35 to 50 degrees is usual ({}); make it lower or wider, or use a bin",
                      practice));
    }
  }

  void turning() {
    if (!pile_.turning) {
      return;
    }
    const models::Schedule& schedule = pile_.turning->schedule;
    if (schedule.every_days < 2) {
      const std::string often = schedule.every_days == 1
                                    ? "turned every day"
                                    : fmt::format("turned every {:.2g} days", schedule.every_days);
      add(often, fmt::format("it is {}, which keeps it cool and drives off ammonia", often),
          fmt::format("every 3 to 14 days is usual ({})", practice));
    }
    for (std::size_t i = 1; i < schedule.on_days.size(); ++i) {
      const double apart = schedule.on_days[i] - schedule.on_days[i - 1];
      if (apart < 1) {
        add("turned twice a day",
            fmt::format("it is turned on day {:.2f} and again on day {:.2f}",
                        schedule.on_days[i - 1], schedule.on_days[i]),
            fmt::format("every 3 to 14 days is usual ({})", practice));
        return;
      }
    }
  }

  void watering() {
    if (!pile_.watering || std::isnan(pile_.watering->litres)) {
      return;
    }
    const double share = pile_.watering->litres / f_.wet_kg;
    if (!(share <= 0.20)) {
      add(fmt::format("{:.0f} litres at once", pile_.watering->litres),
          fmt::format("each watering brings {:.0f} litres, {:.0f} % of the pile's mass: most of it "
                      "runs off",
                      pile_.watering->litres, 100 * share),
          fmt::format("up to about 5 % at once soaks in ({}); water less and more often, or as it "
                      "is turned",
                      practice));
    }
  }

  void fan() {
    const double flow = pile_.aeration.fan_m3_h * pile_.aeration.on_minutes_h / 60 / f_.volume_m3;
    if (!(flow <= 60)) {
      add(fmt::format("{:.0f} m3/h of air a m3", flow),
          fmt::format("the fan blows {:.0f} m3/h on average through each cubic metre: it cools and "
                      "dries the pile",
                      flow),
          fmt::format(
              "2 to 20 m3/h for each cubic metre is usual ({}); let it run for some minutes "
              "an hour",
              practice));
    }
  }

  void layers() {
    if (pile_.layered && !pile_.turning) {
      add("never mixed", "the materials lie in layers and are never turned, so they never mix",
          fmt::format("mixing at the build or a first turn within two weeks is usual ({})",
                      practice));
    }
  }

  /// Mean of some of the weather over so many days from the build.
  [[nodiscard]] std::optional<double> mean(const std::vector<double>& hours, double days) const {
    const auto first = static_cast<std::size_t>(pile_.start_hour_in_weather);
    const std::size_t last =
        std::min(hours.size(), first + static_cast<std::size_t>(std::ceil(24 * days)));
    double sum = 0;
    for (std::size_t i = first; i < last; ++i) {
      sum += hours[i];
    }
    return first < last ? std::optional(sum / static_cast<double>(last - first)) : std::nullopt;
  }

  void season() {
    if (!pile_.weather) {
      return;
    }
    const auto air_K = mean(pile_.weather->air_temperature_K, 3);
    if (air_K && *air_K < models::freezing_K && std::isnan(pile_.build_temperature_K)) {
      add("built in frost",
          fmt::format("it is built in frost: {:.1f} degC on average over the first three days, and "
                      "the materials as cold as the air",
                      *air_K - models::freezing_K),
          fmt::format("building in thawed weather, or with materials kept warm, is usual ({}); "
                      "check site.start, or give pile.build_temperature",
                      practice));
    }
    const auto wind_m_s = mean(pile_.weather->wind_m_s, pile_.horizon_days);
    if (wind_m_s && *wind_m_s > 6) {
      add(fmt::format("wind of {:.0f} m/s", *wind_m_s),
          fmt::format("the wind at 2 m is {:.1f} m/s on average, day and night", *wind_m_s),
          fmt::format("1 to 4 m/s is usual ({}); check its unit and site.wind_height", practice));
    }
  }

  const PileDescription& pile_;
  Figures f_;
  std::vector<Unlikely> all_;
};

} // namespace

double free_air_share(const Heaped& mix) {
  const double solids_kg_m3 =
      1000 / (mix.volatile_solids_dry_basis / 1.0 + (1 - mix.volatile_solids_dry_basis) / 2.5);
  return 1 - mix.bulk_density_kg_m3 *
                 ((1 - mix.moisture_wet_basis) / solids_kg_m3 + mix.moisture_wet_basis / 1000);
}

std::vector<Unlikely> unlikely(const PileDescription& pile) {
  return Finder(pile).find();
}

std::string unlikely_in_brief(const std::vector<Unlikely>& all) {
  if (all.empty()) {
    return {};
  }
  std::vector<std::string> briefs;
  briefs.reserve(all.size());
  for (const Unlikely& one : all) {
    briefs.push_back(one.brief);
  }
  return all.size() == 1 ? fmt::format("one thing is unlikely ({})", briefs.front())
                         : fmt::format("{} things are unlikely ({})", all.size(), joined(briefs));
}

} // namespace heapcast::cli
