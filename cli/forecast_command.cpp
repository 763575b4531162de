#include "cli/forecast_command.hpp"

#include "cli/console.hpp"
#include "cli/ensemble_options.hpp"
#include "cli/input/pile_file.hpp"
#include "cli/joined.hpp"
#include "cli/output/csv.hpp"
#include "cli/output/forecast_dataset.hpp"
#include "cli/output/summary_json.hpp"
#include "cli/report/report.hpp"
#include "cli/summary.hpp"
#include "engine/atomic_file.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/forecast.hpp"

#include <filesystem>
#include <system_error>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

/// Refuses to write over the pile file, or two things to one file.
void check_targets(const ForecastOptions& options) {
  const std::vector<std::pair<std::string, std::string>> targets = {{"--output", options.output},
                                                                    {"--report", options.report}};
  for (const auto& [option, path] : targets) {
    std::error_code not_there;
    if (!path.empty() && std::filesystem::equivalent(path, options.pile, not_there)) {
      throw InputError(fmt::format("{} {}", option, path), "is the pile file itself",
                       "write to another name");
    }
  }
  if (!options.output.empty() && options.output == options.report) {
    throw InputError(fmt::format("--report {}", options.report), "is the file of --output too",
                     "write to another name");
  }
}

/// What was computed: `central` alone, or with the others around it.
struct Computed {
  models::EnsembleResult result;
  bool several = false;
};

/// Writes what was asked for and returns the names.
std::vector<std::string> save(const ForecastOptions& options, const PileFile& file,
                              const Computed& computed, const OutputContext& context,
                              const std::string& stopped) {
  std::vector<std::string> saved;
  if (!options.output.empty() || !options.report.empty()) {
    engine::Dataset data = computed.several
                               ? forecast_dataset(*file.pile, computed.result, context)
                               : forecast_dataset(*file.pile, computed.result.central, context);
    if (!stopped.empty()) {
      data.attributes.emplace_back("stopped", "stopped by the user after " + stopped);
    }
    if (!options.output.empty()) {
      engine::write_results_file(options.output, data);
      saved.push_back(options.output);
    }
    if (!options.report.empty()) {
      engine::write_file_atomically(options.report, html_report(data, options.units));
      saved.push_back(options.report);
    }
  }
  if (!options.csv_folder.empty()) {
    if (computed.several) {
      write_csv(options.csv_folder, computed.result, *file.pile);
    } else {
      write_csv(options.csv_folder, computed.result.central, file.pile->start);
    }
    saved.push_back(options.csv_folder);
  }
  return saved;
}

/// One run, or several.
Computed compute(const ForecastOptions& options, const PileFile& file, std::uint64_t seed) {
  ProgressLine line(!options.quiet);
  const models::Progress progress = [&line](double share) {
    line.show(share);
    return interrupt() == 0;
  };
  Computed computed;
  if (options.runs < 2) {
    computed.result.central = models::run_forecast(*file.pile, progress);
    return computed;
  }
  const models::EnsembleOptions ensemble =
      ensemble_options(file, {options.runs, seed, options.threads});
  computed.result = std::move(models::run_ensembles({&file.pile, 1}, ensemble, progress).front());
  computed.several = !computed.result.stopped;
  return computed;
}

/// "12 of 60 days", and what became of the other runs; empty when it was not interrupted.
std::string how_far(const ForecastOptions& options, const PileFile& file,
                    const Computed& computed) {
  const std::vector<double>& time_h = computed.result.central.time_h;
  const double days = time_h.empty() ? 0.0 : time_h.back() / 24.0;
  return interrupt() == 0 || computed.several
             ? ""
             : fmt::format("{:.4g} of {:.4g} days{}", days, file.pile->horizon_days,
                           options.runs < 2
                               ? ""
                               : fmt::format(" of the pile's own run; the {} others are dropped",
                                             options.runs));
}

} // namespace

int forecast_command(const ForecastOptions& options) {
  check_targets(options);
  PileFile file = read_pile_file(options.pile, options.overrides, options.seed);
  if (options.seed && !file.seed && options.runs < 2) {
    file.notes.push_back({fmt::format("--seed {}", *options.seed),
                          "changes nothing: the weather comes from a file", "leave it out"});
  }
  if (!options.quiet) {
    write_notes(notes_in_brief(options.pile, file), options.units);
  }
  const std::uint64_t seed = options.seed.value_or(file.seed.value_or(1));
  note_interrupts();
  const Computed computed = compute(options, file, seed);
  const models::ForecastResult& central = computed.result.central;
  const std::string stopped = how_far(options, file, computed);

  OutputContext context;
  context.program_version = options.program_version;
  context.seed = static_cast<std::int64_t>(computed.several ? seed : file.seed.value_or(0));
  context.command_options = command_options(options.overrides, options.seed, options.runs);
  const std::vector<std::string> saved = save(options, file, computed, context, stopped);

  if (!stopped.empty()) {
    write_stderr(fmt::format("stopped after {}; what is computed so far is {}\n", stopped,
                             saved.empty() ? "shown" : fmt::format("in {}", joined(saved))));
  }
  if (options.json) {
    const auto json = computed.several ? summary_json(*file.pile, computed.result, context)
                                       : summary_json(*file.pile, central, context);
    write_stdout(json.dump(2) + "\n");
  } else if (!options.quiet) {
    const SummaryStyle style{.utf8 = locale_is_utf8(),
                             .stopped = !stopped.empty(),
                             .saved = saved,
                             .units = options.units};
    write_stdout(computed.several ? summary(*file.pile, computed.result, style)
                                  : summary(*file.pile, central, style));
  }
  return stopped.empty() ? 0 : 128 + interrupt();
}

} // namespace heapcast::cli
