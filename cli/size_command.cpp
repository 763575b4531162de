#include "cli/size_command.hpp"

#include "cli/console.hpp"
#include "cli/ensemble_options.hpp"
#include "cli/goal.hpp"
#include "cli/input/units.hpp"
#include "cli/output/size_output.hpp"
#include "cli/sizing.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "models/operations/build.hpp"
#include "models/weather/calendar.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <system_error>
#include <utility>

#include <fmt/format.h>

namespace heapcast::cli {

namespace {

using models::PileDescription;

/// Sizes are tried so far apart at first, in ln(size), and then nearer, to 3 %.
constexpr std::size_t first_sizes = 5;
constexpr double nearness = 0.03;

/// Thrown out of the search when the user wants no more.
struct Stopped {};

/// What is run with which changes of the pile file.
struct Help {
  std::string what;
  std::vector<std::string> overrides;
  std::function<void(PileDescription&)> change;
};

class Sizer {
public:
  explicit Sizer(const SizeOptions& options)
      : options_(options), file_(read_pile_file(options.pile, options.overrides, options.seed)),
        seed_(options.seed.value_or(file_.seed.value_or(1))), line_(!options.quiet) {
    sizing_.title = file_.pile->title;
    sizing_.request = file_.size;
    sizing_.runs = options.runs;
  }

  [[nodiscard]] const PileFile& file() const { return file_; }
  [[nodiscard]] std::uint64_t seed() const { return seed_; }

  Sizing compute() {
    const SizeRequest& request = file_.size;
    if (request.goal.empty() && request.limit.empty()) {
      throw InputError(
          options_.pile, "does not say what the size must be fit for",
          "add [size] with a goal, or write for example --goal \"ready_day <= 60\" for the "
          "smallest, --limit \"days(core_oxygen < 5) <= 2\" for the largest that breathes");
    }
    const double written = models::size_of(*file_.pile, request.by);
    constexpr double least = 0.4;
    constexpr double most = 2.5;
    sizing_.from = std::isnan(request.from) ? least * written : request.from;
    sizing_.to = std::isnan(request.to) ? most * written : request.to;
    if (!(sizing_.from < sizing_.to)) {
      throw InputError(options_.pile,
                       fmt::format("there is no size between {:.3g} and {:.3g} {}", sizing_.from,
                                   sizing_.to, size_unit(request.by)),
                       "give both from and to in [size], or as --from and --to");
    }
    read_goals(file_, goal_, limit_);

    search(sizing_.smallest, true);
    search(sizing_.largest, false);
    for (auto& [place, tried] : tried_) {
      sizing_.sizes.push_back(std::move(tried));
    }
    sizing_.smallest.tried = place_of(sizing_.smallest, true);
    sizing_.largest.tried = place_of(sizing_.largest, false);
    if (missing(sizing_.smallest, true) || missing(sizing_.largest, false) ||
        sizing_.contradicts()) {
      try_helps();
    }
    return std::move(sizing_);
  }

private:
  [[nodiscard]] bool is_asked(bool goal) const {
    return goal ? goal_ != nullptr : limit_ != nullptr;
  }

  [[nodiscard]] bool missing(const SizeAnswer& answer, bool goal) const {
    return is_asked(goal) && !answer.search.found;
  }

  /// The formulas with the names that a run of this pile has.
  void read_goals(const PileFile& file, std::unique_ptr<Goal>& goal, std::unique_ptr<Goal>& limit) {
    PileDescription short_run = *file.pile;
    short_run.resolution = models::Resolution::coarse;
    const models::ForecastResult sample =
        models::run_forecast(short_run, [](double) { return interrupt() == 0; });
    if (interrupt() != 0) {
      throw Stopped{};
    }
    std::vector<Fault> faults;
    const auto read = [&](const std::string& text, const std::string& where) {
      std::unique_ptr<Goal> read_goal;
      try {
        if (!text.empty()) {
          read_goal = std::make_unique<Goal>(text, sample, file.pile->start);
        }
      } catch (const UnitError& error) {
        faults.push_back(error.fault(where));
      }
      return read_goal;
    };
    goal = read(file.size.goal, file.size.goal_where);
    limit = read(file.size.limit, file.size.limit_where);
    if (!faults.empty()) {
      throw InputError(std::move(faults));
    }
  }

  /// Looks over ln(size) upwards for the goal, downwards for the limit.
  void search(SizeAnswer& answer, bool goal) {
    if (!is_asked(goal)) {
      return;
    }
    const double low = std::log(sizing_.from);
    const double high = std::log(sizing_.to);
    // Half a run less: shares are compared as counts.
    const double level = file_.size.probability - 0.5 / static_cast<double>(options_.runs) * 1e-6;
    answer.search = engine::find_threshold(
        [&](double place) {
          const TriedSize& tried = at(goal ? place : -place);
          return (goal ? tried.goal : tried.limit).share();
        },
        {.low = goal ? low : -high,
         .high = goal ? high : -low,
         .level = level,
         .first_points = first_sizes,
         .tolerance = nearness});
  }

  /// The runs of a size, made once. Places that differ by rounding are the same.
  const TriedSize& at(double log_size) {
    const long key = std::lround(log_size * 1e6);
    const auto found = tried_.find(key);
    if (found != tried_.end()) {
      return found->second;
    }
    const double size = std::exp(log_size);
    return tried_.emplace(key, run(file_, *file_.pile, size, "", goal_.get(), limit_.get()))
        .first->second;
  }

  [[nodiscard]] std::size_t place_of(const SizeAnswer& answer, bool goal) const {
    if (!answer.search.found) {
      return 0;
    }
    const double size = std::exp(goal ? *answer.search.found : -*answer.search.found);
    const auto nearest =
        std::ranges::min_element(sizing_.sizes, {}, [size](const TriedSize& tried) {
          return std::abs(std::log(tried.size / size));
        });
    return static_cast<std::size_t>(nearest - sizing_.sizes.begin());
  }

  TriedSize run(const PileFile& file, const PileDescription& written, double size,
                const std::string& help, const Goal* goal, const Goal* limit) {
    TriedSize tried;
    tried.size = size;
    tried.help = help;
    auto pile = std::make_shared<PileDescription>(models::resized(written, file_.size.by, size));
    if ((goal != nullptr && goal->needs_pictures()) ||
        (limit != nullptr && limit->needs_pictures())) {
      // Days count by these: a quarter of a day, when it fits the output.
      constexpr double picture_hours = 6.0;
      if (std::fmod(picture_hours, pile->output_hours) == 0.0) {
        pile->field_output_hours = std::min(pile->field_output_hours, picture_hours);
      }
    }
    tried.volume_m3 = models::ingredients_volume_m3(*pile);
    for (const models::Ingredient& ingredient : pile->ingredients) {
      tried.mass_kg += ingredient.wet_mass_kg;
    }
    tried.goal.by_run.assign(goal == nullptr ? 0 : options_.runs, false);
    tried.limit.by_run.assign(limit == nullptr ? 0 : options_.runs, false);
    std::mutex mutex;
    models::EnsembleOptions ensemble =
        ensemble_options(file, {options_.runs, seed_, options_.threads});
    ensemble.look = [&](std::size_t, std::size_t run, const models::ForecastResult& result) {
      const std::scoped_lock lock(mutex);
      if (goal != nullptr) {
        tried.goal.by_run[run] = goal->met(*pile, result);
      }
      if (limit != nullptr) {
        tried.limit.by_run[run] = limit->met(*pile, result);
      }
    };
    const std::shared_ptr<const PileDescription> shared = pile;
    std::vector<models::EnsembleResult> results =
        models::run_ensembles({&shared, 1}, ensemble, [this](double share) {
          constexpr double usual_count = 12.0; // of sizes until the answer is found
          line_.show(std::min(0.99, (static_cast<double>(done_) + share) / usual_count));
          return interrupt() == 0;
        });
    if (results.front().stopped || interrupt() != 0) {
      throw Stopped{};
    }
    ++done_;
    tried.runs = {fmt::format("{:.4g} {}{}{}", size, size_unit(file_.size.by),
                              help.empty() ? "" : ", ", help),
                  pile, std::move(results.front())};
    return tried;
  }

  /// What may help, as far as it is another than what is there already.
  [[nodiscard]] std::vector<Help> helps() const {
    const PileDescription& pile = *file_.pile;
    std::vector<Help> all;
    if (pile.cover.kind != models::CoverKind::blanket) {
      all.push_back({"covered with 20 cm of straw", {}, [](PileDescription& p) {
                       p.cover = {models::CoverKind::blanket, 0.2, 0.08};
                       p.cover_changes.clear();
                     }});
    }
    if (pile.cover.kind != models::CoverKind::roof) {
      all.push_back({"under a roof", {}, [](PileDescription& p) {
                       p.cover = {};
                       p.cover.kind = models::CoverKind::roof;
                       p.cover_changes.clear();
                     }});
    }
    const double moisture = models::mix_moisture(pile);
    constexpr double usual = 0.55;
    constexpr double near_usual = 0.03;
    if (std::abs(moisture - usual) > near_usual) {
      all.push_back(
          {fmt::format("a {} mix, {:.0f} % instead of {:.0f} %",
                       moisture > usual ? "drier" : "wetter", 100.0 * usual, 100.0 * moisture),
           {},
           [](PileDescription& p) { p = models::at_moisture(p, usual); }});
    }
    if (pile.shape.kind == models::ShapeKind::bin) {
      all.push_back({"insulated walls and a lid", {}, [](PileDescription& p) {
                       p.walls = {.open_fraction = 0.0, .conductance_W_m2K = 0.5, .lid = true};
                     }});
    }
    if (!pile.aeration.pipes) {
      all.push_back(
          {"open pipes under it", {}, [](PileDescription& p) { p.aeration.pipes = true; }});
    }
    if (pile.turning) {
      all.push_back({"not turned", {}, [](PileDescription& p) { p.turning.reset(); }});
    } else if (pile.shape.kind != models::ShapeKind::one_cell) {
      all.push_back({"turned every 7 days", {}, [](PileDescription& p) {
                       models::Turning weekly;
                       weekly.schedule.every_days = weekly.schedule.from_day = 7.0;
                       p.turning = weekly;
                     }});
    }
    for (const int days : {30, 60}) {
      if (const auto start = models::parse_time(pile.start)) {
        const std::string date =
            models::format_time(*start - std::chrono::hours{24 * days}).substr(0, 10);
        all.push_back({fmt::format("built {} days earlier, on {}", days, date),
                       // To the same end: the coldest weeks stay in it.
                       {fmt::format("site.start={}", date),
                        fmt::format("run.days={}", pile.horizon_days + days)},
                       {}});
      }
    }
    return all;
  }

  /// Where the pile as written comes nearest: the size with the best chance of what no size does,
  /// or the smallest that reaches the goal, where that is too large for the limit.
  [[nodiscard]] double size_for_helps() const {
    if (sizing_.contradicts()) {
      return sizing_.sizes[sizing_.smallest.tried].size;
    }
    const bool goal = missing(sizing_.smallest, true);
    return std::ranges::max_element(
               sizing_.sizes, {},
               [goal](const TriedSize& tried) { return (goal ? tried.goal : tried.limit).count(); })
        ->size;
  }

  /// Runs what may help, each by itself.
  void try_helps() {
    const double size = size_for_helps();
    for (const Help& help : helps()) {
      try {
        std::vector<std::string> overrides = options_.overrides;
        overrides.insert(overrides.end(), help.overrides.begin(), help.overrides.end());
        const PileFile other = read_pile_file(options_.pile, overrides, options_.seed);
        PileDescription pile = *other.pile;
        // As large as the pile as written: drier stuff is no smaller a pile.
        if (help.change) {
          help.change(pile);
        }
        std::unique_ptr<Goal> goal;
        std::unique_ptr<Goal> limit;
        read_goals(other, goal, limit);
        sizing_.helps.push_back(run(other, pile, size, help.what, goal.get(), limit.get()));
      } catch (const InputError& error) {
        sizing_.cannot.push_back(
            fmt::format("Not tried, {}: {}", help.what, error.faults().front().what));
      }
    }
  }

  const SizeOptions& options_;
  PileFile file_;
  std::uint64_t seed_;
  ProgressLine line_;
  Sizing sizing_;
  std::unique_ptr<Goal> goal_, limit_;
  std::map<long, TriedSize> tried_; ///< by a millionth of ln(size)
  std::size_t done_ = 0;
};

} // namespace

int size_command(const SizeOptions& options) {
  std::error_code not_there;
  if (!options.output.empty() &&
      std::filesystem::equivalent(options.output, options.pile, not_there)) {
    throw InputError(fmt::format("--output {}", options.output), "is the pile file itself",
                     "write to another name");
  }
  note_interrupts();
  Sizing sizing;
  OutputContext context;
  try {
    Sizer sizer(options);
    if (!options.quiet) {
      write_notes(notes_in_brief(options.pile, sizer.file()), options.units);
    }
    context = {.program_version = options.program_version,
               .seed = static_cast<std::int64_t>(sizer.seed()),
               .command_options = command_options(options.overrides, options.seed, options.runs)};
    sizing = sizer.compute();
  } catch (const Stopped&) {
    write_stderr("stopped; nothing is shown or written, for the answer was not found\n");
    return 128 + interrupt();
  }
  std::vector<std::string> saved;
  if (!options.output.empty()) {
    engine::write_results_file(options.output, sizing_dataset(sizing, context));
    saved.push_back(options.output);
  }
  if (options.json) {
    write_stdout(sizing_json(sizing, context).dump(2) + "\n");
  } else if (!options.quiet) {
    write_stdout(sizing_text(sizing, saved, locale_is_utf8(), options.units));
  }
  return 0;
}

} // namespace heapcast::cli
