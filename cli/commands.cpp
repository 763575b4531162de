#include "cli/commands.hpp"

#include "cli/check_command.hpp"
#include "cli/command_table.hpp"
#include "cli/compare_command.hpp"
#include "cli/console.hpp"
#include "cli/forecast_command.hpp"
#include "cli/joined.hpp"
#include "cli/manual_page.hpp"
#include "cli/materials_command.hpp"
#include "cli/output/output_context.hpp"
#include "cli/parameters_command.hpp"
#include "cli/report/report.hpp"
#include "cli/schema_command.hpp"
#include "cli/shell_completion.hpp"
#include "cli/size_command.hpp"
#include "cli/sweep_command.hpp"
#include "cli/text_layout.hpp"
#include "engine/atomic_file.hpp"
#include "engine/errors.hpp"
#include "engine/nearest.hpp"
#include "engine/results_file.hpp"

#include <algorithm>
#include <charconv>
#include <csignal>
#include <cstdint>
#include <exception>
#include <filesystem>
#include <limits>
#include <new>
#include <sstream>
#include <string>
#include <system_error>
#include <variant>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

namespace heapcast::cli {

namespace {

enum ExitCode : int { done = 0, user_can_fix = 2, computation_failed = 3, file_failed = 4 };

std::vector<ExitCodeRow> exit_codes() {
  return {{done, "done"},
          {user_can_fix, "something to be put right in the input"},
          {computation_failed, "the computation failed"},
          {file_failed, "a file could not be read or written"},
          {128 + SIGINT, "stopped by Ctrl-C"},
          {128 + SIGTERM, "stopped by SIGTERM"}};
}

/// A text about the program itself was asked for in place of a command.
struct TextAsked {
  std::string text;
};

struct ReportOptions {
  std::string results;
  std::string output;
  DisplayUnits units = DisplayUnits::metric;
};

struct ListingOptions {
  std::vector<std::string> words;
  bool json = false;
  DisplayUnits units = DisplayUnits::metric;
};

/// Refuses a file in another schema than the report reads.
void check_schema(const std::string& path, const engine::Dataset& data) {
  const engine::AttributeValue* version = data.attribute("schema_version");
  const bool compared = data.dimension("variant") != nullptr;
  if (compared || version == nullptr || data.dimension("time") == nullptr) {
    throw FileError(
        fmt::format("{}: holds {} - give a file that `heapcast forecast -o` has written", path,
                    compared ? "a comparison, of which there is no report" : "no forecast"));
  }
  const auto* number = std::get_if<std::int64_t>(version);
  if (number == nullptr || *number != results_schema_version) {
    throw FileError(fmt::format("{}: is in schema {} of results, this program reads {} - make the "
                                "report with the version that wrote the file",
                                path, number == nullptr ? 0 : *number, results_schema_version));
  }
}

int report_command(const ReportOptions& options) {
  const std::string output =
      options.output.empty()
          ? std::filesystem::path(options.results).replace_extension(".html").string()
          : options.output;
  std::error_code not_there;
  if (std::filesystem::equivalent(output, options.results, not_there)) {
    throw InputError(output, "is the results file itself", "write the report to another name");
  }
  const engine::Dataset results = engine::read_results_file(options.results);
  check_schema(options.results, results);
  engine::write_file_atomically(output, html_report(results, options.units));
  write_stdout(fmt::format("{}\n", output));
  return done;
}

int list_materials(const ListingOptions& options) {
  std::ostringstream out;
  const int code = materials_command(out, joined(options.words, " "), options.json, options.units);
  write_stdout(out.str());
  return code;
}

int print_schema(const std::string& kind) {
  std::ostringstream out;
  const int code = schema_command(out, kind);
  write_stdout(out.str());
  return code;
}

int list_parameters(const ListingOptions& options) {
  std::ostringstream out;
  const int code = parameters_command(out, joined(options.words, " "), options.json);
  write_stdout(out.str());
  return code;
}

/// The arguments and what they ask for.
class Program {
public:
  Program() : app_("Forecasts a compost pile: heat, moisture, oxygen, carbon and nitrogen.") {
    app_.name("heapcast");
    app_.set_version_flag("--version", "heapcast " HEAPCAST_VERSION, "print the version");
    app_.add_option_function<std::string>(
            "--completion",
            [this](const std::string& shell) {
              throw TextAsked{shell == "bash" ? bash_completion(table()) : zsh_completion(table())};
            },
            "print what bash or zsh completes by; `source` it")
        ->check(CLI::IsMember({"bash", "zsh"}))
        ->type_name("SHELL");
    app_.add_flag_callback(
        "--man-page", [this] { throw TextAsked{manual_page(table())}; },
        "print the manual page, as `man -l -` reads it");
    app_.require_subcommand(1);
    app_.footer("Example: heapcast forecast pile.toml --report pile.html\n\n"
                "`heapcast COMMAND --help` says more of each command.\n" +
                wrapped("Exit codes: " + joined(exit_code_texts(), "; ") + ".", 0));
    app_.get_formatter()->column_width(28);
    add_forecast();
    add_compare();
    add_size();
    add_check();
    add_units(add_listing("materials", "list the materials with their properties and sources",
                          "straw", materials_),
              materials_.units);
    add_listing("parameters", "list the model's parameters with their ranges and sources",
                "fast_rate", parameters_);
    add_schema();
    add_report();
    add_sweep();
    add_gather();
  }

  int run(int argc, const char* const* argv) {
    try {
      app_.parse(argc, argv);
    } catch (const CLI::CallForHelp&) {
      write_stdout(app_.help());
      return done;
    } catch (const CLI::CallForVersion&) {
      write_stdout("heapcast " HEAPCAST_VERSION "\n");
      return done;
    } catch (const TextAsked& asked) {
      write_stdout(asked.text);
      return done;
    } catch (const CLI::ParseError& error) {
      write_stderr(fmt::format("heapcast: {}\n", usage_fault(error, {argv + 1, argv + argc})));
      return user_can_fix;
    }
    const std::string command = app_.get_subcommands().front()->get_name();
    return command == "forecast"    ? forecast_command(complete(forecast_))
           : command == "compare"   ? compare_command(complete(compare_))
           : command == "size"      ? size()
           : command == "check"     ? check_command(check_)
           : command == "materials" ? list_materials(materials_)
           : command == "schema"    ? print_schema(schema_)
           : command == "report"    ? report_command(report_)
           : command == "sweep"     ? sweep_command(complete(sweep_))
           : command == "gather"    ? gather_command(gather_)
                                    : list_parameters(parameters_);
  }

private:
  static std::vector<std::string> exit_code_texts() {
    std::vector<std::string> texts;
    for (const ExitCodeRow& row : exit_codes()) {
      texts.push_back(fmt::format("{} {}", row.code, row.meaning));
    }
    return texts;
  }

  [[nodiscard]] CommandTable table() const {
    CommandTable all = command_table(app_);
    all.version = HEAPCAST_VERSION;
    all.exit_codes = exit_codes();
    return all;
  }

  void add_forecast() {
    CLI::App* command = app_.add_subcommand(
        "forecast", "compute a pile: how hot, how wet, what is lost, what holds it back");
    command->add_option("pile", forecast_.pile, "the pile file")
        ->required()
        ->type_name("PILE.toml");
    command
        ->add_option("-o,--output", forecast_.output,
                     "write all curves and pictures (HDF5, netCDF-4)")
        ->type_name("FILE.h5");
    command->add_option("--report", forecast_.report, "write a report to look at in a browser")
        ->type_name("FILE.html");
    command->add_option("--csv", forecast_.csv_folder, "write the curves as CSV into a folder")
        ->type_name("FOLDER");
    command->add_flag("--json", forecast_.json, "print the summary as JSON and nothing else");
    command->add_option("--resolution", resolution_, "coarse, standard or fine: run.resolution")
        ->type_name("NAME");
    command
        ->add_option("--runs", forecast_.runs,
                     "run it so many times with parameters and years of weather drawn by chance, "
                     "for how sure everything is; 100 is a good number")
        ->check(CLI::Range(1, 10000))
        ->type_name("NUMBER");
    command
        ->add_option("--seed", forecast_.seed,
                     "of what is drawn by chance, weather from monthly normals too")
        ->check(whole_number())
        ->type_name("NUMBER");
    add_set(command, forecast_.overrides);
    command
        ->add_option("--threads", forecast_.threads,
                     "threads at most, else all the machine has; one run takes one")
        ->check(CLI::Range(1, 4096))
        ->type_name("NUMBER");
    add_units(command, forecast_.units);
    command->add_flag("--quiet", forecast_.quiet, "no summary, notes or progress; errors only");
    command->footer("Example: heapcast forecast pile.toml -o pile.h5 --report pile.html\n"
                    "         heapcast forecast pile.toml --set \"turning.every=3 days\"\n"
                    "         heapcast forecast pile.toml --runs 100 --units us");
  }

  void add_compare() {
    CLI::App* command = app_.add_subcommand(
        "compare", "the same pile under its [[variant]] tables, or several piles, side by side");
    command->add_option("files", compare_.files, "a pile file with variants, or several files")
        ->required()
        ->type_name("PILE.toml");
    command
        ->add_option("-o,--output", compare_.output,
                     "write all numbers and curves into one file (HDF5, netCDF-4)")
        ->type_name("FILE.h5");
    command->add_flag("--json", compare_.json, "print everything as JSON and nothing else");
    command
        ->add_option("--runs", compare_.runs,
                     "runs of each pile, all with the same draws; 1: one run without draws")
        ->check(CLI::Range(1, 100000))
        ->capture_default_str()
        ->type_name("NUMBER");
    command->add_option("--resolution", resolution_, "coarse, standard or fine: run.resolution")
        ->type_name("NAME");
    command->add_option("--seed", compare_.seed, "of the draws and of weather made from normals")
        ->check(whole_number())
        ->type_name("NUMBER");
    add_set(command, compare_.overrides);
    command
        ->add_option("--threads", compare_.threads,
                     "threads at most; else as many as the machine has")
        ->check(CLI::Range(1, 4096))
        ->type_name("NUMBER");
    add_units(command, compare_.units);
    command->add_flag("--quiet", compare_.quiet, "no table, notes or progress; errors only");
    command->footer("Example: heapcast compare pile.toml --runs 100 -o compared.h5\n"
                    "         heapcast compare summer.toml winter.toml");
  }

  void add_size() {
    CLI::App* command = app_.add_subcommand(
        "size", "the smallest pile that reaches a goal in this weather, the largest that breathes");
    command->add_option("pile", size_.pile, "the pile file, perhaps with [size]")
        ->required()
        ->type_name("PILE.toml");
    const auto key = [&](const char* option, const char* name, const char* what, const char* type) {
      command
          ->add_option_function<std::string>(
              option,
              [this, name](const std::string& value) {
                size_keys_.push_back(fmt::format("size.{}={}", name, value));
              },
              what)
          ->type_name(type);
    };
    key("--by", "by", "what is changed: height, length or volume", "NAME");
    key("--goal", "goal",
        "what the smallest must reach, a formula over the numbers of a run; or none", "FORMULA");
    key("--limit", "limit", "what the largest must keep to, a formula too; or none", "FORMULA");
    key("--probability", "probability", "in what share of the runs; else 0.9", "NUMBER");
    key("--from", "from", "the smallest size to try; else 0.4 times the pile's", "SIZE");
    key("--to", "to", "the largest size to try; else 2.5 times the pile's", "SIZE");
    command
        ->add_option("-o,--output", size_.output,
                     "write every run of every size into one file (HDF5, netCDF-4)")
        ->type_name("FILE.h5");
    command->add_flag("--json", size_.json, "print everything as JSON and nothing else");
    command->add_option("--runs", size_.runs, "runs of each size, all with the same draws")
        ->check(CLI::Range(10, 10000))
        ->capture_default_str()
        ->type_name("NUMBER");
    command->add_option("--resolution", resolution_, "coarse, standard or fine: run.resolution")
        ->type_name("NAME");
    command->add_option("--seed", size_.seed, "of the draws and of weather made from normals")
        ->check(whole_number())
        ->type_name("NUMBER");
    add_set(command, size_.overrides);
    command
        ->add_option("--threads", size_.threads, "threads at most; else as many as the machine has")
        ->check(CLI::Range(1, 4096))
        ->type_name("NUMBER");
    add_units(command, size_.units);
    command->add_flag("--quiet", size_.quiet, "no table, notes or progress; errors only");
    command->footer(
        "Example: heapcast size pile.toml --by height --goal \"ready_day <= 60\"\n"
        "         heapcast size pile.toml --goal \"heated_fraction >= 0.9\" --limit none\n"
        "         heapcast size pile.toml --goal \"volume_share(days_in_a_row(temperature >= 55) "
        ">= 3) >= 0.9\"\n"
        "         heapcast size pile.toml --limit \"days(core_oxygen < 5) <= 2 and not "
        "fire_risk\"\n\n"
        "Formulas: the results file's numbers by name, in its units; and, or, not; dates; over\n"
        "curves lowest, highest, mean, final, days, days_in_a_row, first_day; over the section\n"
        "volume_share. heated_fraction is the share of the dry matter that has had 55 degC for 3\n"
        "days in a row, wherever turning has brought it since; volume_share looks at places.");
  }

  void add_check() {
    CLI::App* command =
        app_.add_subcommand("check", "say what is wrong with input files, without computing them");
    command->add_option("files", check_.files, "pile files, studies, files of own materials")
        ->required()
        ->type_name("FILE");
    add_set(command, check_.overrides);
    add_units(command, check_.units);
    command->add_flag("--quiet", check_.quiet, "say nothing of files in order");
    command->footer("Example: heapcast check pile.toml");
  }

  CLI::App* add_listing(const std::string& name, const std::string& what,
                        const std::string& example, ListingOptions& options) {
    CLI::App* command = app_.add_subcommand(name, what);
    command->add_option("word", options.words, "a name, or words to look for: with all details");
    command->add_flag("--json", options.json, "print as JSON, with all details");
    command->footer(fmt::format("Example: heapcast {} {}", name, example));
    return command;
  }

  void add_schema() {
    CLI::App* command = app_.add_subcommand(
        "schema",
        "print the JSON Schema of pile files or studies: editors then complete and check");
    command->add_option("kind", schema_, "pile or study; else pile")->type_name("KIND");
    command->footer("Example: heapcast schema pile > pile.schema.json\n\n"
                    "With \"#:schema ./pile.schema.json\" in the first line of a pile file, "
                    "editors that know\nTOML and JSON Schema show what a key means and mark what "
                    "is wrong.");
  }

  void add_report() {
    CLI::App* command = app_.add_subcommand("report", "write the report of a results file again");
    command->add_option("results", report_.results, "the results file")
        ->required()
        ->type_name("RESULTS.h5");
    command->add_option("-o,--output", report_.output, "the report; else RESULTS.html")
        ->type_name("FILE.html");
    add_units(command, report_.units);
    command->footer("Example: heapcast report pile.h5 -o pile.html");
  }

  void add_sweep() {
    CLI::App* command = app_.add_subcommand(
        "sweep", "run a study: a pile with other values of its keys and parameters, again and "
                 "again; goes on where it was left");
    command->add_option("study", sweep_.study, "the study file")
        ->required()
        ->type_name("STUDY.toml");
    command
        ->add_option("-o,--output", sweep_.output,
                     "the results (HDF5, netCDF-4); else the study's name with .h5")
        ->type_name("FILE.h5");
    command
        ->add_option("--shard", sweep_.shard,
                     "make one part of the runs alone; `heapcast gather` joins the parts")
        ->type_name("N/PARTS");
    command->add_option("--resolution", resolution_, "coarse, standard or fine: run.resolution")
        ->type_name("NAME");
    add_set(command, sweep_.overrides);
    command
        ->add_option("--threads", sweep_.threads,
                     "threads at most; else as many as the machine has")
        ->check(CLI::Range(1, 4096))
        ->type_name("NUMBER");
    command->add_flag("--quiet", sweep_.quiet, "no summary, notes or progress; errors only");
    command->footer("Example: heapcast sweep study.toml -o study.h5\n"
                    "         heapcast sweep study.toml --shard 3/40");
  }

  void add_gather() {
    CLI::App* command =
        app_.add_subcommand("gather", "join the results of all shards of a study into one file");
    command->add_option("shards", gather_.shards, "the results of the shards, in any order")
        ->required()
        ->type_name("SHARD.h5");
    command->add_option("-o,--output", gather_.output, "the joined results")
        ->required()
        ->type_name("ALL.h5");
    command->add_flag("--quiet", gather_.quiet, "errors only");
    command->footer("Example: heapcast gather study_*_of_40.h5 -o study.h5");
  }

  /// CLI11 reads "-1" as the largest unsigned number, and takes that for all above it.
  static CLI::Validator whole_number() {
    return {[](const std::string& text) {
              std::uint64_t number = 0;
              const char* end = text.data() + text.size();
              const auto [stop, error] = std::from_chars(text.data(), end, number);
              return error == std::errc{} && stop == end
                         ? std::string()
                         : fmt::format("{} is no whole number from 0 to {}", text,
                                       std::numeric_limits<std::uint64_t>::max());
            },
            ""};
  }

  static void add_units(CLI::App* command, DisplayUnits& units) {
    command
        ->add_option_function<std::string>(
            "--units",
            [&units](const std::string& name) {
              units = name == "us" ? DisplayUnits::us : DisplayUnits::metric;
            },
            "of what is shown: metric, or us for °F, feet, cubic yards and pounds; results files, "
            "CSV and JSON stay in the units they are labelled with")
        ->check(CLI::Validator(
            [](const std::string& name) {
              return name == "metric" || name == "us"
                         ? std::string()
                         : fmt::format("\"{}\" are no units to show; write metric or us", name);
            },
            ""))
        ->type_name("NAME");
  }

  static void add_set(CLI::App* command, std::vector<std::string>& overrides) {
    command
        ->add_option("--set", overrides,
                     "put another value for a key of the pile file, again and again")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false);
  }

  /// Options with what is said of all commands that run piles.
  template <class Options> const Options& complete(Options& options) const {
    options.program_version = HEAPCAST_VERSION;
    if (!resolution_.empty()) {
      options.overrides.push_back("run.resolution=" + resolution_);
    }
    return options;
  }

  int size() {
    // Apart from those of --set until all are read: CLI11 puts these in place of what is there.
    size_.overrides.insert(size_.overrides.end(), size_keys_.begin(), size_keys_.end());
    return size_command(complete(size_));
  }

  /// What is wrong with the arguments, with the nearest command or option.
  std::string usage_fault(const CLI::ParseError& error, const std::vector<std::string>& arguments) {
    const std::vector<CLI::App*> chosen = app_.get_subcommands();
    const CLI::App* command = chosen.empty() ? nullptr : chosen.front();
    std::vector<std::string> names;
    if (command == nullptr) {
      for (const CLI::App* one : app_.get_subcommands({})) {
        names.push_back(one->get_name());
      }
      if (arguments.empty()) {
        return fmt::format("say what to do: {}; `heapcast --help` says more", joined(names));
      }
      const std::string first = arguments.front().substr(0, arguments.front().find('='));
      if (app_.get_option_no_throw(first) != nullptr) {
        return fmt::format("{}; `heapcast --help` says more", error.what());
      }
      if (first.starts_with("-")) {
        return fmt::format("there is no option {}{}; `heapcast --help` lists them", first,
                           meant(first, option_names(app_)));
      }
      return fmt::format("\"{}\" is no command{}; `heapcast --help` lists them", arguments.front(),
                         meant(arguments.front(), names));
    }
    const std::string help = fmt::format("`heapcast {} --help` says more", command->get_name());
    for (const std::string& argument : command->remaining()) {
      if (argument.starts_with("-")) {
        return fmt::format("{} has no option {}{}; {}", command->get_name(), argument,
                           meant(argument, option_names(*command)), help);
      }
    }
    return fmt::format("{}: {}; {}", command->get_name(), error.what(), help);
  }

  static std::vector<std::string> option_names(const CLI::App& command) {
    std::vector<std::string> names;
    for (const CLI::Option* option : command.get_options()) {
      for (const std::string& name : option->get_lnames()) {
        names.push_back("--" + name);
      }
    }
    return names;
  }

  static std::string meant(const std::string& word, const std::vector<std::string>& names) {
    const std::string near = engine::nearest(word, names);
    return near.empty() ? "" : fmt::format("; did you mean \"{}\"?", near);
  }

  CLI::App app_;
  ForecastOptions forecast_;
  CompareOptions compare_;
  SizeOptions size_;
  std::vector<std::string> size_keys_;
  CheckOptions check_;
  ListingOptions materials_;
  ListingOptions parameters_;
  std::string schema_ = "pile";
  ReportOptions report_;
  SweepOptions sweep_;
  GatherOptions gather_;
  std::string resolution_;
};

} // namespace

int run_program(int argc, const char* const* argv) {
  prepare_streams();
  try {
    return Program().run(argc, argv);
  } catch (const ReaderGone&) {
    return done;
  } catch (const InputError& error) {
    write_stderr(fmt::format("{}\n", error.what()));
    return user_can_fix;
  } catch (const NumericsError& error) {
    write_stderr(fmt::format("heapcast: the computation failed: {}\n", error.what()));
    return computation_failed;
  } catch (const FileError& error) {
    write_stderr(fmt::format("{}\n", error.what()));
    return file_failed;
  } catch (const std::bad_alloc&) {
    write_stderr("heapcast: not enough memory; a coarser resolution or fewer days need less\n");
    return computation_failed;
  } catch (const std::exception& error) {
    write_stderr(fmt::format("heapcast: a fault of the program itself: {}\n", error.what()));
    return computation_failed;
  }
}

} // namespace heapcast::cli
