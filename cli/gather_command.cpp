#include "cli/console.hpp"
#include "cli/joined.hpp"
#include "cli/study/study_identity.hpp"
#include "cli/study/study_results.hpp"
#include "cli/sweep_command.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <system_error>
#include <variant>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using engine::Attributes;

/// A results file of consecutive runs, not kept in memory.
struct Part {
  std::string path;
  std::size_t first = 0, count = 0;
};

std::int64_t number_attribute(const Attributes& attributes, std::string_view name) {
  const auto found = std::ranges::find(attributes, name, &Attributes::value_type::first);
  const auto* number =
      found == attributes.end() ? nullptr : std::get_if<std::int64_t>(&found->second);
  return number == nullptr ? -1 : *number;
}

/// Puts the design of a part behind that of the parts before it, and checks that it belongs there.
void append(StudyRuns& all, const Part& part, const StudyRuns& runs,
            const std::string& first_path) {
  if (const std::string changed =
          difference(identity_of(all.attributes), identity_of(runs.attributes));
      !changed.empty()) {
    throw InputError(
        part.path,
        fmt::format("is not of the same study as {}; these differ:\n  {}\n ", first_path, changed),
        "give the shards of one study");
  }
  for (std::size_t i = 0; i < all.design.size(); ++i) {
    DesignColumn& column = all.design[i];
    const DesignColumn& more = runs.design.at(i);
    column.numbers.insert(column.numbers.end(), more.numbers.begin(), more.numbers.end());
    column.texts.insert(column.texts.end(), more.texts.begin(), more.texts.end());
  }
  all.count += runs.count;
}

/// Faults of parts that do not follow one on the other from the first run to the last.
void check_complete(const std::vector<Part>& parts, std::size_t runs) {
  std::vector<std::string> missing;
  std::size_t next = 0;
  const auto lack = [&](std::size_t from, std::size_t to) {
    missing.push_back(fmt::format("{} to {}", from, to - 1));
  };
  for (const Part& part : parts) {
    if (part.first < next) {
      throw InputError(part.path, "holds runs that another of the files holds too",
                       "give each shard once");
    }
    if (part.first > next) {
      lack(next, part.first);
    }
    next = part.first + part.count;
  }
  if (next < runs) {
    lack(next, runs);
  }
  if (!missing.empty()) {
    throw InputError("the shards", fmt::format("lack the runs {} of {}", joined(missing), runs),
                     "make the missing shards, and give all of them");
  }
}

} // namespace

int gather_command(const GatherOptions& options) {
  std::vector<Part> parts;
  std::size_t runs = 0;
  for (const std::string& path : options.shards) {
    std::error_code not_there;
    if (std::filesystem::equivalent(options.output, path, not_there)) {
      throw InputError(fmt::format("--output {}", options.output), "is one of the shards",
                       "write to another name");
    }
    const StudyRuns read = read_study_results(path);
    parts.push_back({path, read.first, read.count});
    runs = static_cast<std::size_t>(
        std::max<std::int64_t>(number_attribute(read.attributes, "study_runs"), 0));
  }
  std::ranges::sort(parts, {}, &Part::first);
  StudyRuns all;
  for (const Part& part : parts) {
    const StudyRuns read = read_study_results(part.path);
    if (&part == &parts.front()) {
      all = read;
      all.record = {};
      std::erase_if(all.attributes, [](const auto& one) { return one.first == "shard"; });
    } else {
      append(all, part, read, parts.front().path);
    }
  }
  check_complete(parts, runs);
  // One shard in memory at a time.
  std::optional<StudyRuns> open;
  all.record = [&](std::size_t run) {
    if (!open || run < open->first || run >= open->first + open->count) {
      open.reset();
      const auto part =
          std::ranges::find_if(parts, [&](const Part& one) { return run < one.first + one.count; });
      open = read_study_results(part->path);
    }
    return open->record(run);
  };
  write_study_results(options.output, all);
  if (!options.quiet) {
    write_stdout(
        fmt::format("{} runs of {} shards\nSaved      {}\n", runs, parts.size(), options.output));
  }
  return 0;
}

} // namespace heapcast::cli
