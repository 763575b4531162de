// --set options on a sound pile file.

#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"
#include "tests/fuzz/fuzz.hpp"

#include <string>

using heapcast::tests::require;

namespace {

constexpr std::string_view sound_pile = R"([site]
latitude = "47.5 deg"
start = "2013-10-05"
[site.normals]
tmin = "-3 -2 1 4 8 11 13 13 9 6 1 -2 degC"
tmax = "3 5 10 14 19 22 24 24 19 14 7 4 degC"
rain = "60 55 60 70 85 95 90 95 75 65 65 65 mm"
wet_days = [13, 11, 12, 12, 13, 13, 12, 12, 10, 10, 11, 13]
[measures]
barrow = "90 L"
[pile]
shape = "heap"
[[material]]
name = "grass_clippings"
amount = "350 kg"
[[material]]
name = "wheat_straw"
amount = "80 kg"
[turning]
every = "2 days"
[run]
days = 2
)";

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  heapcast::cli::PileFileOptions options;
  options.folder = "/no_such_folder";
  options.overrides = {std::string(heapcast::tests::text_of(data, size))};
  try {
    const heapcast::cli::PileFile file = heapcast::cli::parse_pile_file(sound_pile, options);
    require(file.pile != nullptr, "what is accepted is a pile");
  } catch (const heapcast::InputError& error) {
    require(!error.faults().empty(), "an error has a fault");
  } catch (const heapcast::FileError&) {
    // a weather file that is not there
  }
  return 0;
}
