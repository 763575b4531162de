// Pile files: from TOML to the description of a pile.

#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"
#include "tests/fuzz/fuzz.hpp"

using heapcast::tests::require;

namespace {

void check(const heapcast::models::PileDescription& pile) {
  require(pile.weather != nullptr, "a pile has weather");
  require(!pile.ingredients.empty(), "a pile is made of something");
  for (const heapcast::models::Ingredient& ingredient : pile.ingredients) {
    require(ingredient.wet_mass_kg > 0.0 && std::isfinite(ingredient.wet_mass_kg),
            "an ingredient weighs something");
  }
  require(pile.horizon_days > 0.0 && std::isfinite(pile.horizon_days), "a horizon is finite");
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  heapcast::cli::PileFileOptions options;
  options.folder = "/no_such_folder"; // a weather file that an input names is not there
  const std::string_view text = heapcast::tests::text_of(data, size);
  try {
    const heapcast::cli::PileFile file = heapcast::cli::parse_pile_file(text, options);
    check(*file.pile);
    for (const std::string& name : file.variants) {
      options.variant = name;
      check(*heapcast::cli::parse_pile_file(text, options).pile);
    }
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  } catch (const heapcast::FileError&) {
    // the weather file that is not there
  }
  return 0;
}
