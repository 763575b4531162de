#include "cli/forecast_command.hpp"

#include "cli/console.hpp"
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

/// Writes what was asked for and returns the names.
std::vector<std::string> save(const ForecastOptions& options, const PileFile& file,
                              const models::ForecastResult& result, const OutputContext& context,
                              bool stopped) {
  std::vector<std::string> saved;
  if (!options.output.empty() || !options.report.empty()) {
    engine::Dataset data = forecast_dataset(*file.pile, result, context);
    if (stopped) {
      data.attributes.emplace_back(
          "stopped", fmt::format("stopped by the user after {:.4g} of {:.4g} days",
                                 result.time_h.empty() ? 0.0 : result.time_h.back() / 24.0,
                                 file.pile->horizon_days));
    }
    if (!options.output.empty()) {
      engine::write_results_file(options.output, data);
      saved.push_back(options.output);
    }
    if (!options.report.empty()) {
      engine::write_file_atomically(options.report, html_report(data));
      saved.push_back(options.report);
    }
  }
  if (!options.csv_folder.empty()) {
    write_csv(options.csv_folder, result, file.pile->start);
    saved.push_back(options.csv_folder);
  }
  return saved;
}

/// The options that change the result, as given.
std::string command_options(const ForecastOptions& options) {
  std::vector<std::string> parts;
  for (const std::string& option : options.overrides) {
    parts.push_back(fmt::format("--set \"{}\"", option));
  }
  if (options.seed) {
    parts.push_back(fmt::format("--seed {}", *options.seed));
  }
  return joined(parts, " ");
}

} // namespace

int forecast_command(const ForecastOptions& options) {
  check_targets(options);
  const PileFile file = read_pile_file(options.pile, options.overrides, options.seed);
  if (!options.quiet) {
    write_notes(file.notes);
  }
  note_interrupts();
  const models::ForecastResult result = [&] {
    ProgressLine progress(!options.quiet);
    return models::run_forecast(*file.pile, [&progress](double share) {
      progress.show(share);
      return interrupt() == 0;
    });
  }();
  const int signal = interrupt();
  const bool stopped = signal != 0;

  OutputContext context;
  context.program_version = options.program_version;
  context.seed = static_cast<std::int64_t>(file.seed.value_or(0));
  context.command_options = command_options(options);
  const std::vector<std::string> saved = save(options, file, result, context, stopped);

  if (stopped) {
    write_stderr(fmt::format("stopped after {:.4g} of {:.4g} days; what is computed so far is {}\n",
                             result.time_h.empty() ? 0.0 : result.time_h.back() / 24.0,
                             file.pile->horizon_days,
                             saved.empty() ? "shown" : fmt::format("in {}", joined(saved))));
  }
  if (options.json) {
    write_stdout(summary_json(*file.pile, result, context).dump(2) + "\n");
  } else if (!options.quiet) {
    write_stdout(summary(*file.pile, result,
                         {.utf8 = locale_is_utf8(), .stopped = stopped, .saved = saved}));
  }
  return stopped ? 128 + signal : 0;
}

} // namespace heapcast::cli
