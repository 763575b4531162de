// Pile files, and the first hours of the pile where one is in order: every curve and picture is
// finite, whatever legal numbers it is made of.

#include "cli/input/pile_file.hpp"
#include "engine/errors.hpp"
#include "models/operations/build.hpp"
#include "models/pile_run.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace heapcast;

namespace {

constexpr int hours = 4;

void start(models::PileDescription pile) {
  pile.resolution = models::Resolution::coarse;
  models::PileRun run(pile);
  for (int hour = 0; hour < hours && hour < 24.0 * pile.horizon_days; ++hour) {
    run.do_events();
    run.advance_hour();
  }
  const models::ForecastResult result = run.finish();
  for (const models::Series& series : result.series) {
    tests::require_finite(series.values, series.name.c_str());
  }
  for (const models::Field& field : result.fields) {
    tests::require_finite(field.values, field.name.c_str());
  }
  for (const double closure : run.closure()) {
    tests::require(closure <= 1e-6, "the balances close");
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  cli::PileFileOptions options;
  options.folder = "/no_such_folder"; // a weather file that an input names is not there
  try {
    start(*cli::parse_pile_file(tests::text_of(data, size), options).pile);
  } catch (const InputError& error) {
    tests::require(!error.faults().empty(), "an error has a fault");
  } catch (const FileError&) {
    // the weather file that is not there
  } catch (const NumericsError& error) {
    tests::require(*error.what() != '\0', "the numerics say why they failed");
  }
  return 0;
}
