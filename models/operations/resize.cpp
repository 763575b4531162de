#include "models/operations/resize.hpp"

#include "engine/errors.hpp"
#include "models/operations/build.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace heapcast::models {

namespace {

Shape complete(const PileDescription& pile) {
  return complete_shape(pile.shape, ingredients_volume_m3(pile));
}

double bin_volume_m3(const Shape& s) {
  const double plan =
      s.round ? 0.25 * std::numbers::pi * s.width_m * s.width_m : s.width_m * s.length_m;
  return plan * s.height_m;
}

void refuse(const char* size, const char* shape) {
  throw InputError("size.by", std::string(shape) + " has no " + size + " to change",
                   "use \"height\" or \"volume\", or give it the shape of a windrow");
}

} // namespace

double size_of(const PileDescription& pile, SizeBy by) {
  const Shape shape = complete(pile);
  switch (by) {
  case SizeBy::height:
    if (shape.kind == ShapeKind::one_cell) {
      refuse("height", "a pile of one cell");
    }
    return shape.height_m;
  case SizeBy::length:
    if (shape.kind != ShapeKind::windrow) {
      refuse("length", "this shape");
    }
    return shape.length_m;
  case SizeBy::volume:
    return shape.kind == ShapeKind::bin ? bin_volume_m3(shape) : ingredients_volume_m3(pile);
  }
  return unset;
}

PileDescription resized(const PileDescription& pile, SizeBy by, double size) {
  assert(size > 0.0);
  const double ratio = size / size_of(pile, by);
  Shape shape = complete(pile);
  const bool windrow = shape.kind == ShapeKind::windrow;
  double volumes = ratio;
  double section = 1.0; // of the lengths of the section
  if (by == SizeBy::height) {
    section = ratio;
    volumes = std::pow(ratio, windrow ? 2.0 : 3.0);
  } else if (by == SizeBy::volume) {
    section = windrow ? std::sqrt(ratio) : std::cbrt(ratio);
  }

  PileDescription other = pile;
  shape.height_m *= section;
  shape.width_m *= section;
  shape.top_width_m *= section;
  if (windrow) {
    shape.length_m = unset; // follows from the volume, which holds the materials exactly
  } else if (shape.kind == ShapeKind::heap) {
    shape.height_m = unset;
  } else {
    shape.length_m *= section;
  }
  other.shape = shape;
  const auto scale = [volumes](std::vector<Ingredient>& ingredients) {
    for (Ingredient& ingredient : ingredients) {
      ingredient.wet_mass_kg *= volumes;
    }
  };
  scale(other.ingredients);
  for (Addition& addition : other.additions) {
    scale(addition.ingredients);
  }
  if (other.watering) {
    other.watering->litres *= volumes;
  }
  other.aeration.fan_m3_h *= volumes;
  return other;
}

double mix_moisture(const PileDescription& pile) {
  double wet = 0.0;
  double water = 0.0;
  for (const Ingredient& ingredient : pile.ingredients) {
    wet += ingredient.wet_mass_kg;
    water += ingredient.wet_mass_kg * ingredient.material.moisture_wet_basis;
  }
  return water / wet;
}

PileDescription at_moisture(const PileDescription& pile, double moisture) {
  assert(moisture > 0.0 && moisture < 1.0);
  const auto per_dry = [](double wet_basis) { return wet_basis / (1.0 - wet_basis); };
  const double factor = per_dry(moisture) / per_dry(mix_moisture(pile));
  PileDescription other = pile;
  for (Ingredient& ingredient : other.ingredients) {
    Material& material = ingredient.material;
    const double dry = ingredient.wet_mass_kg * (1.0 - material.moisture_wet_basis);
    const double water = factor * per_dry(material.moisture_wet_basis);
    const double before = material.moisture_wet_basis;
    constexpr double driest = 0.02;
    constexpr double wettest = 0.95;
    material.moisture_wet_basis = std::clamp(water / (1.0 + water), driest, wettest);
    ingredient.wet_mass_kg = dry / (1.0 - material.moisture_wet_basis);
    // The same dry matter in the same space: only the water in it is another.
    material.bulk_density_wet_kg_m3 *= (1.0 - before) / (1.0 - material.moisture_wet_basis);
  }
  return other;
}

} // namespace heapcast::models
