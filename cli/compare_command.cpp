#include "cli/compare_command.hpp"

#include "cli/comparison.hpp"
#include "cli/console.hpp"
#include "cli/input/pile_file.hpp"
#include "cli/output/comparison_output.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"

#include <algorithm>
#include <filesystem>
#include <system_error>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

struct Piles {
  std::string title;
  std::vector<ComparedPile> compared;
  std::vector<PileFile> files;
  std::vector<std::string> paths; ///< of each
};

void add(Piles& piles, std::string name, const std::string& path, PileFile file) {
  piles.paths.push_back(path);
  piles.compared.push_back({std::move(name), file.pile, {}});
  piles.files.push_back(std::move(file));
}

/// The variants of one file; with fewer than two of them the pile as written comes first.
Piles variants_of(const std::string& path, const CompareOptions& options) {
  PileFile base = read_pile_file(path, options.overrides, options.seed);
  if (base.variants.empty()) {
    throw InputError(path, "has nothing to compare",
                     "add [[variant]] tables, each with a name and what it changes, or give "
                     "several pile files");
  }
  const std::vector<std::string> names = base.variants;
  Piles piles;
  piles.title = base.pile->title;
  if (names.size() < 2) {
    add(piles, "as written", path, std::move(base));
  }
  std::vector<Fault> faults;
  for (const std::string& name : names) {
    try {
      add(piles, name, path, read_pile_file(path, options.overrides, options.seed, name));
    } catch (const InputError& error) {
      const std::vector<Fault> of_variant = in_variant(name, error.faults());
      faults.insert(faults.end(), of_variant.begin(), of_variant.end());
    }
  }
  if (!faults.empty()) {
    throw InputError(std::move(faults));
  }
  return piles;
}

Piles files_of(const CompareOptions& options) {
  if (options.files.size() == 1) {
    return variants_of(options.files.front(), options);
  }
  Piles piles;
  piles.title = fmt::format("{} piles compared", options.files.size());
  for (const std::string& path : options.files) {
    add(piles, std::filesystem::path(path).stem().string(), path,
        read_pile_file(path, options.overrides, options.seed));
  }
  // Files of the same name lie in folders of their own: example/one/pile.toml.
  for (std::size_t i = 0; i < piles.compared.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (piles.compared[i].name == piles.compared[j].name) {
        for (std::size_t k = 0; k < piles.compared.size(); ++k) {
          piles.compared[k].name = piles.files[k].pile->title;
        }
        return piles;
      }
    }
  }
  return piles;
}

void check_target(const CompareOptions& options) {
  for (const std::string& path : options.files) {
    std::error_code not_there;
    if (!options.output.empty() && std::filesystem::equivalent(options.output, path, not_there)) {
      throw InputError(fmt::format("--output {}", options.output), "is a pile file itself",
                       "write to another name");
    }
  }
}

/// What is to be noted of all of them, each note once: variants share most of theirs.
std::vector<Fault> notes_of(const Piles& piles) {
  std::vector<Fault> notes;
  for (std::size_t i = 0; i < piles.files.size(); ++i) {
    for (const Fault& note : notes_in_brief(piles.paths[i], piles.files[i])) {
      if (std::ranges::none_of(notes, [&](const Fault& noted) {
            return noted.where == note.where && noted.what == note.what;
          })) {
        notes.push_back(note);
      }
    }
  }
  return notes;
}

/// Every pile as often as asked; once means with its own parameters and weather.
std::vector<models::EnsembleResult>
run(const std::vector<std::shared_ptr<const models::PileDescription>>& piles,
    const models::EnsembleOptions& options, bool quiet) {
  ProgressLine line(!quiet);
  if (options.runs > 1) {
    return models::run_ensembles(piles, options, [&line](double share) {
      line.show(share);
      return interrupt() == 0;
    });
  }
  std::vector<models::EnsembleResult> results(piles.size());
  const auto count = static_cast<double>(piles.size());
  for (std::size_t i = 0; i < piles.size(); ++i) {
    results[i].central = models::run_forecast(*piles[i], [&](double share) {
      line.show((static_cast<double>(i) + share) / count);
      return interrupt() == 0;
    });
  }
  return results;
}

} // namespace

int compare_command(const CompareOptions& options) {
  check_target(options);
  Piles piles = files_of(options);
  if (!options.quiet) {
    write_notes(notes_of(piles), options.units);
  }
  std::vector<std::shared_ptr<const models::PileDescription>> descriptions;
  for (const ComparedPile& pile : piles.compared) {
    descriptions.push_back(pile.pile);
  }
  models::EnsembleOptions ensemble;
  ensemble.runs = options.runs;
  ensemble.seed = options.seed.value_or(piles.files.front().seed.value_or(1));
  ensemble.threads = options.threads;
  note_interrupts();
  if (std::ranges::any_of(piles.files, [](const PileFile& file) { return bool(file.year); })) {
    ensemble.year = [&piles](std::size_t pile, std::size_t run) {
      const PileFile& file = piles.files[pile];
      return file.year ? file.year(run) : models::WeatherYear{};
    };
  }
  std::vector<models::EnsembleResult> results = run(descriptions, ensemble, options.quiet);
  if (const int signal = interrupt(); signal != 0) {
    write_stderr("stopped; nothing is shown or written, for the piles were not all computed\n");
    return 128 + signal;
  }
  for (std::size_t i = 0; i < results.size(); ++i) {
    piles.compared[i].result = std::move(results[i]);
  }

  const ComparisonInfo info{
      piles.title,
      {.program_version = options.program_version,
       .seed = static_cast<std::int64_t>(ensemble.seed),
       .command_options = command_options(options.overrides, options.seed, options.runs)}};
  std::vector<std::string> saved;
  if (!options.output.empty()) {
    engine::write_results_file(options.output, comparison_dataset(piles.compared, info));
    saved.push_back(options.output);
  }
  if (options.json) {
    write_stdout(comparison_json(piles.compared, info).dump(2) + "\n");
  } else if (!options.quiet) {
    write_stdout(
        comparison_text(piles.title, piles.compared, saved, locale_is_utf8(), options.units));
  }
  return 0;
}

} // namespace heapcast::cli
