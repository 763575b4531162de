#pragma once

#include "cli/input/unlikely.hpp"
#include "engine/errors.hpp"
#include "models/ensemble/ensemble.hpp"
#include "models/operations/resize.hpp"
#include "models/pile.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace heapcast::cli {

class SiteWeatherCache;

/// What `heapcast size` is asked, as `[size]` says it.
struct SizeRequest {
  models::SizeBy by = models::SizeBy::height;
  double from = models::unset, to = models::unset; ///< m or m3; unset where not given
  std::string goal, limit;                         ///< formulas, read when their names are known
  double probability = 0.9;
  std::string goal_where, limit_where; ///< for their faults
};

/// What a pile file says.
struct PileFile {
  std::shared_ptr<const models::PileDescription> pile;
  std::vector<Fault> notes; ///< of what has no effect, or another than meant: where, what, remedy
  std::vector<Unlikely> unlikely;    ///< of the pile as a whole
  std::optional<std::uint64_t> seed; ///< of weather made from monthly normals
  /// Another year of such weather for each run of several; empty for a weather file and where the
  /// pile keeps to the year of its start.
  std::function<models::WeatherYear(std::size_t run)> year;
  SizeRequest size;
  std::vector<std::string> variants; ///< names of the `[[variant]]` tables
};

/// Where a pile file comes from and what is changed in it.
struct PileFileOptions {
  std::string name = "pile.toml";      ///< for messages
  std::string folder = ".";            ///< the weather file's path is relative to it
  std::vector<std::string> overrides;  ///< `--set` options, see `apply_override`
  std::optional<std::uint64_t> seed;   ///< in place of `site.normals.seed`
  std::string variant;                 ///< name of the `[[variant]]` to read; empty: as written
  SiteWeatherCache* weather = nullptr; ///< for reading the same file again and again
};

/// Reads the text of a pile file, by the table `pile_keys()`.
///
/// Beside what that table says of each key it checks what keys say together: dimensions that fit
/// the shape; a volume of the materials that fits the dimensions (a windrow or heap with all
/// dimensions given must enclose it within 5 %, a bin must hold it within 5 %); schedules that say
/// when; dates and days in order; weather from the build to the horizon. One dimension is left to
/// follow from the volume even when all are given, so that the mesh holds the materials exactly.
///
/// Throws InputError with every fault, each with line and column; FileError when nothing is wrong
/// but that the weather file cannot be read.
[[nodiscard]] PileFile parse_pile_file(std::string_view text, const PileFileOptions& options);

/// The notes, and in one more what is unlikely, for those who did not ask for a check.
[[nodiscard]] std::vector<Fault> notes_in_brief(const std::string& path, const PileFile& file);

/// The faults of a variant, each saying which.
[[nodiscard]] std::vector<Fault> in_variant(const std::string& name, std::vector<Fault> faults);

/// `parse_pile_file` of a file on disk. Throws FileError as well when it cannot be read.
[[nodiscard]] PileFile read_pile_file(const std::string& path,
                                      const std::vector<std::string>& overrides = {},
                                      std::optional<std::uint64_t> seed = {},
                                      const std::string& variant = {});

} // namespace heapcast::cli
