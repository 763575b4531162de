#include "cli/check_command.hpp"

#include "cli/console.hpp"
#include "cli/goal.hpp"
#include "cli/input/material_file.hpp"
#include "cli/input/pile_file.hpp"
#include "cli/input/read_file.hpp"
#include "cli/study/study_plan.hpp"
#include "engine/errors.hpp"

#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

std::string contents(const PileFile& file, DisplayUnits units) {
  const models::PileDescription& pile = *file.pile;
  double kg = 0;
  double m3 = 0;
  for (const models::Ingredient& ingredient : pile.ingredients) {
    kg += ingredient.wet_mass_kg;
    m3 += ingredient.wet_mass_kg / ingredient.material.bulk_density_wet_kg_m3;
  }
  const DisplayUnit mass = display_unit("kg", units);
  const DisplayUnit volume = display_unit("m3", units);
  return fmt::format("{} material{}, {:.0f} {}, {:.3g} {}; {:.4g} days from {}",
                     pile.ingredients.size(), pile.ingredients.size() == 1 ? "" : "s", mass(kg),
                     mass.name, volume(m3), volume.name, pile.horizon_days, pile.start);
}

void check_extension(const std::string& path) {
  const std::string extension = std::filesystem::path(path).extension().string();
  if (extension == ".csv" || extension == ".epw" || extension == ".h5") {
    throw InputError(
        path, "is no pile file",
        extension == ".h5"
            ? "results are read by `heapcast report`"
            : "check the pile file that names this weather; both are checked together");
  }
}

/// The notes and each thing that is unlikely.
std::vector<Fault> all_notes(const std::string& path, const PileFile& file) {
  std::vector<Fault> notes = file.notes;
  for (const Unlikely& one : file.unlikely) {
    notes.push_back({path, one.what, one.remedy});
  }
  return notes;
}

/// A variant may be wrong where the pile as written is not.
PileFile read_variant(const std::string& path, const std::vector<std::string>& overrides,
                      const std::string& name) {
  try {
    PileFile file = read_pile_file(path, overrides, {}, name);
    (void)read_goals(file);
    return file;
  } catch (const InputError& error) {
    throw InputError(in_variant(name, error.faults()));
  }
}

std::string contents(const StudyPlan& plan) {
  const Study& study = plan.study();
  std::string text =
      fmt::format("a {} study of {}: {} factor{}, {} run{}", study.kind_name, study.pile_path,
                  study.factors.size(), study.factors.size() == 1 ? "" : "s", plan.runs(),
                  plan.runs() == 1 ? "" : "s");
  if (study.weather_years > 1) {
    text += fmt::format(" in {} years of weather", study.weather_years);
  }
  if (plan.points_left_out() > 0) {
    text += fmt::format("; {} points left out by constraints", plan.points_left_out());
  }
  return text;
}

/// Reads a study and tries every value of its factors; what it holds.
std::string check_study(const std::string& path, const CheckOptions& options) {
  const Study study = read_study_file(path, options.overrides);
  const StudyPlan plan(study);
  if (!options.quiet) {
    write_notes(all_notes(study.pile_path, study.pile), options.units);
  }
  return contents(plan);
}

/// The same for a pile file and its variants.
std::string check_pile(const std::string& path, const CheckOptions& options) {
  const PileFile file = read_pile_file(path, options.overrides);
  (void)read_goals(file);
  std::vector<Fault> notes = all_notes(path, file);
  for (const std::string& name : file.variants) {
    // What is so in the pile as written is told once.
    const PileFile variant = read_variant(path, options.overrides, name);
    for (const Fault& note : in_variant(name, all_notes(path, variant))) {
      const bool told = std::ranges::any_of(
          notes, [&](const Fault& one) { return note.what.ends_with(": " + one.what); });
      if (!told) {
        notes.push_back(note);
      }
    }
  }
  if (!options.quiet) {
    write_notes(notes, options.units);
  }
  return contents(file, options.units);
}

/// The same for a material of one's own.
std::string check_material(const std::string& path) {
  const models::Material material =
      read_own_material(read_file(path), path, load_builtin_library());
  return fmt::format("a material: {}", material.title);
}

std::string check_file(const std::string& path, const CheckOptions& options) {
  const std::string text = read_file(path);
  return is_study(text)      ? check_study(path, options)
         : is_material(text) ? check_material(path)
                             : check_pile(path, options);
}

} // namespace

int check_command(const CheckOptions& options) {
  bool faulty = false;
  bool unreadable = false;
  for (const std::string& path : options.files) {
    std::string in_order;
    try {
      check_extension(path);
      const std::string held = check_file(path, options);
      if (!options.quiet) {
        in_order = fmt::format("{}: in order: {}\n", path, held);
      }
    } catch (const InputError& error) {
      faulty = true;
      write_stderr(fmt::format("{}\n", error.what()));
    } catch (const FileError& error) {
      unreadable = true;
      write_stderr(fmt::format("{}\n", error.what()));
    }
    write_stdout(in_order);
  }
  return faulty ? 2 : unreadable ? 4 : 0;
}

} // namespace heapcast::cli
