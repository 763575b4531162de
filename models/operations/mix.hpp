#pragma once

#include "engine/mesh.hpp"
#include "models/coefficients.hpp"
#include "models/parcel.hpp"
#include "models/pile.hpp"
#include "models/surface/forcing.hpp"

namespace heapcast::models {

/// What an operation took from or brought to the pile, for the ledger.
struct Exchange {
  double water_in_kg = 0.0;
  double water_out_kg = 0.0; ///< evaporated
  double leachate_kg = 0.0;
  double carbon_in_kgC = 0.0;
  double nitrogen_in_kgN = 0.0;
  double ammonia_out_kgN = 0.0;
  double ash_in_kg = 0.0;
  double heat_in_J = 0.0;
  double heat_out_J = 0.0;
};

/// Share of the material that a method mixes through; the rest stays together (parameters.csv).
[[nodiscard]] double mixing_share(TurnMethod method);

/// Turns the pile: mixes a share through all cells; with a fork the rest changes places, outside to
/// inside; undoes part of the settling; breaks particles; loses heat above ambient (70 % of it as
/// evaporated water) and a puff of ammonia. Mass, water, nitrogen and ash are kept exactly, heat
/// but for what the exposure takes.
[[nodiscard]] Exchange turn_pile(const engine::Mesh& mesh, const Coefficients& k, TurnMethod method,
                                 const Forcing& air, PileState& state);

/// Adds water so that every cell drier than `to_moisture` reaches it (mixed in, at a turn).
[[nodiscard]] Exchange water_to_moisture(double to_moisture, double water_temperature_K,
                                         PileState& state);

/// Litres wanted to bring the whole pile to a moisture; 0 when it is wetter.
[[nodiscard]] double litres_to_moisture(double to_moisture, const PileState& state);

/// Adds litres from above: spread over the surface cells by plan area; drainage carries it down.
[[nodiscard]] Exchange water_from_above(double litres, const engine::Mesh& mesh,
                                        double water_temperature_K, PileState& state);

/// Lays new material on the pile: over each column of a container, around a free-standing body.
[[nodiscard]] Exchange add_material(const std::vector<Ingredient>& ingredients,
                                    const engine::Mesh& mesh, const Coefficients& k,
                                    double temperature_K, PileState& state);

} // namespace heapcast::models
