#include "cli/size_command.hpp"

#include "cli/console.hpp"
#include "cli/ensemble_options.hpp"
#include "cli/goal.hpp"
#include "cli/joined.hpp"
#include "cli/output/size_output.hpp"
#include "cli/sizing.hpp"
#include "engine/atomic_file.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "models/operations/build.hpp"
#include "models/weather/calendar.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <numeric>
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

/// A change that may help.
struct Help {
  std::string what;
  std::string of; ///< what it changes: two that change the same cannot go together
  std::vector<std::string> overrides;
  std::function<void(PileDescription&)> change;
};

/// A pile to be tried at many sizes: as written, or with helps.
struct Candidate {
  PileFile file;
  PileDescription pile;
  std::string help;
  Goals goals;
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
    sizing_.written = search({file_, *file_.pile, "", read_goals(file_)});
    if (!sizing_.is_answered()) {
      look_for_help();
    }
    return std::move(sizing_);
  }

private:
  SizeSearch search(const Candidate& candidate) {
    std::map<long, TriedSize> tried; // by a millionth of ln(size)
    // The runs of a size, made once. Places that differ by rounding are the same.
    const auto at = [&](double log_size) -> const TriedSize& {
      const long key = std::lround(log_size * 1e6);
      const auto found = tried.find(key);
      return found != tried.end()
                 ? found->second
                 : tried.emplace(key, run(candidate, std::exp(log_size))).first->second;
    };
    SizeSearch search;
    search.help = candidate.help;
    // Over ln(size) upwards for the goal, downwards for the limit.
    const double low = std::log(sizing_.from);
    const double high = std::log(sizing_.to);
    const auto look = [&](bool goal) {
      return engine::find_threshold(
          [&](double place) {
            const TriedSize& one = at(goal ? place : -place);
            return (goal ? one.goal : one.limit).share();
          },
          {.low = goal ? low : -high,
           .high = goal ? high : -low,
           .level = level(),
           .first_points = first_sizes,
           .tolerance = nearness});
    };
    if (candidate.goals.goal) {
      search.smallest.search = look(true);
    }
    if (candidate.goals.limit) {
      search.largest.search = look(false);
    }
    for (auto& [place, one] : tried) {
      search.sizes.push_back(std::move(one));
    }
    search.smallest.tried = place_of(search, search.smallest, true);
    search.largest.tried = place_of(search, search.largest, false);
    return search;
  }

  /// The share that is asked. Half a run less: shares are compared as counts.
  [[nodiscard]] double level() const {
    return file_.size.probability - 0.5 / static_cast<double>(options_.runs) * 1e-6;
  }

  [[nodiscard]] static std::size_t place_of(const SizeSearch& search, const SizeAnswer& answer,
                                            bool goal) {
    if (!answer.search.found) {
      return 0;
    }
    const double size = std::exp(goal ? *answer.search.found : -*answer.search.found);
    const auto nearest = std::ranges::min_element(search.sizes, {}, [size](const TriedSize& tried) {
      return std::abs(std::log(tried.size / size));
    });
    return static_cast<std::size_t>(nearest - search.sizes.begin());
  }

  TriedSize run(const Candidate& candidate, double size) {
    const Goal* goal = candidate.goals.goal.get();
    const Goal* limit = candidate.goals.limit.get();
    TriedSize tried;
    tried.size = size;
    tried.help = candidate.help;
    auto pile =
        std::make_shared<PileDescription>(models::resized(candidate.pile, file_.size.by, size));
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
    begin(goal, tried.goal);
    begin(limit, tried.limit);
    std::mutex mutex;
    models::EnsembleOptions ensemble =
        ensemble_options(candidate.file, {options_.runs, seed_, options_.threads});
    ensemble.look = [&](std::size_t, std::size_t run, const models::ForecastResult& result) {
      const std::scoped_lock lock(mutex);
      note(goal, *pile, result, run, tried.goal);
      note(limit, *pile, result, run, tried.limit);
    };
    const std::string name = fmt::format("{:.4g} {}{}{}", size, size_unit(file_.size.by),
                                         candidate.help.empty() ? "" : ", ", candidate.help);
    const std::shared_ptr<const PileDescription> shared = pile;
    ++tries_;
    std::vector<models::EnsembleResult> results =
        models::run_ensembles({&shared, 1}, ensemble, [&](double share) {
          line_.show(fmt::format("try {}: {}: {:.0f} %", tries_, name, 100.0 * share));
          return interrupt() == 0;
        });
    if (results.front().stopped || interrupt() != 0) {
      throw Stopped{};
    }
    tried.runs = {name, pile, std::move(results.front())};
    return tried;
  }

  /// Nothing reached yet: a run that fails reaches nothing.
  void begin(const Goal* goal, RunsMet& met) const {
    if (goal == nullptr) {
      return;
    }
    met.by_run.assign(options_.runs, false);
    for (const Goal::Condition& one : goal->conditions()) {
      met.conditions.push_back({one, 0, std::vector<double>(options_.runs, models::unset)});
    }
  }

  static void note(const Goal* goal, const PileDescription& pile,
                   const models::ForecastResult& result, std::size_t run, RunsMet& met) {
    if (goal == nullptr) {
      return;
    }
    const Goal::Outcome outcome = goal->outcome(pile, result);
    met.by_run[run] = outcome.met;
    for (std::size_t i = 0; i < met.conditions.size(); ++i) {
      met.conditions[i].kept += outcome.kept[i] ? 1 : 0;
      met.conditions[i].values[run] = outcome.measured[i];
    }
  }

  /// What may help, as far as it is another than what is there already.
  [[nodiscard]] std::vector<Help> helps() const {
    const PileDescription& pile = *file_.pile;
    std::vector<Help> all;
    if (pile.cover.kind != models::CoverKind::blanket) {
      all.push_back({"covered with 20 cm of straw", "cover", {}, [](PileDescription& p) {
                       p.cover = {models::CoverKind::blanket, 0.2, 0.08};
                       p.cover_changes.clear();
                     }});
    }
    if (pile.cover.kind != models::CoverKind::roof) {
      all.push_back({"under a roof", "cover", {}, [](PileDescription& p) {
                       p.cover = {};
                       p.cover.kind = models::CoverKind::roof;
                       p.cover_changes.clear();
                     }});
    }
    const double mix = models::mix_moisture(pile);
    const double moisture = std::isnan(pile.build_water_to_moisture)
                                ? mix
                                : std::max(mix, pile.build_water_to_moisture);
    constexpr double usual = 0.55;
    constexpr double near_usual = 0.03;
    if (std::abs(moisture - usual) > near_usual) {
      all.push_back(
          {fmt::format("a {} mix, {:.0f} % instead of {:.0f} %",
                       moisture > usual ? "drier" : "wetter", 100.0 * usual, 100.0 * moisture),
           "moisture",
           {},
           [](PileDescription& p) {
             p = models::at_moisture(p, usual);
             p.build_water_to_moisture = models::unset;
           }});
    }
    if (pile.shape.kind == models::ShapeKind::bin) {
      all.push_back({"insulated walls and a lid", "walls", {}, [](PileDescription& p) {
                       p.walls = {.open_fraction = 0.0, .conductance_W_m2K = 0.5, .lid = true};
                     }});
    }
    if (!pile.aeration.pipes) {
      all.push_back({"open pipes under it", "pipes", {}, [](PileDescription& p) {
                       p.aeration.pipes = true;
                     }});
    }
    if (pile.turning) {
      all.push_back({"not turned", "turning", {}, [](PileDescription& p) { p.turning.reset(); }});
    } else if (pile.shape.kind != models::ShapeKind::one_cell) {
      all.push_back({"turned every 7 days", "turning", {}, [](PileDescription& p) {
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
                       "start",
                       // To the same end: the coldest weeks stay in it.
                       {fmt::format("site.start={}", date),
                        fmt::format("run.days={}", pile.horizon_days + days)},
                       {}});
      }
    }
    return all;
  }

  /// The pile with these changes. As large as the pile as written: drier stuff is no smaller a
  /// pile.
  [[nodiscard]] Candidate with(const std::vector<const Help*>& helps) const {
    std::vector<std::string> overrides = options_.overrides;
    std::vector<std::string> names;
    for (const Help* help : helps) {
      overrides.insert(overrides.end(), help->overrides.begin(), help->overrides.end());
      names.push_back(help->what);
    }
    Candidate candidate;
    candidate.file = read_pile_file(options_.pile, overrides, options_.seed);
    candidate.pile = *candidate.file.pile;
    for (const Help* help : helps) {
      if (help->change) {
        help->change(candidate.pile);
      }
    }
    candidate.help = joined(names, help_between);
    candidate.goals = read_goals(candidate.file);
    return candidate;
  }

  /// The chance of the worse of goal and limit, then of both, then how often their conditions hold,
  /// then how much the goal comes to.
  using Score = std::array<double, 4>;
  static Score score(const TriedSize& tried) {
    const double goal = tried.goal.asked() ? tried.goal.share() : 1.0;
    const double limit = tried.limit.asked() ? tried.limit.share() : 1.0;
    double kept = 0.0;
    for (const RunsMet* met : {&tried.goal, &tried.limit}) {
      for (const ConditionMet& one : met->conditions) {
        kept += static_cast<double>(one.kept);
      }
    }
    const ConditionMet* one = tried.goal.one_measured();
    const double comes_to = one == nullptr || one->condition.wanted == 0
                                ? 0.0
                                : one->condition.wanted * models::spread(one->values).mid;
    return {std::min(goal, limit), goal + limit, kept, comes_to};
  }

  /// Tries what may help at the size that comes nearest: each help by itself, then the best of them
  /// with the next best, and so on as far as that comes nearer; then all sizes with these. Where
  /// none does by itself, what serves the goal may cost the limit: then it begins with two.
  void look_for_help() {
    const std::vector<TriedSize>& sizes = sizing_.written.sizes;
    const auto nearest = std::ranges::max_element(sizes, {}, score);
    sizing_.nearest = static_cast<std::size_t>(nearest - sizes.begin());
    const double size = nearest->size;
    const std::vector<Help> all = helps();
    std::vector<std::size_t> tried; // by place in sizing_.helps
    for (std::size_t i = 0; i < all.size(); ++i) {
      try {
        sizing_.helps.push_back(run(with({&all[i]}), size));
        tried.push_back(i);
      } catch (const InputError& error) {
        sizing_.cannot.push_back(
            fmt::format("Not tried, {}: {}", all[i].what, error.faults().front().what));
      }
    }
    std::vector<std::size_t> order(tried.size());
    std::iota(order.begin(), order.end(), 0U);
    std::ranges::stable_sort(order, std::greater<>(),
                             [&](std::size_t i) { return score(sizing_.helps[i]); });
    Score reached = score(*nearest);
    std::vector<const Help*> chosen;
    const auto try_with = [&](std::vector<const Help*> more) {
      TriedSize one = run(with(more), size);
      if (score(one) > reached) {
        reached = score(one);
        chosen = std::move(more);
        sizing_.together.push_back(std::move(one));
      }
    };
    if (!order.empty() && score(sizing_.helps[order.front()]) > reached) {
      sizing_.best_help = order.front();
      reached = score(sizing_.helps[order.front()]);
      chosen = {&all[tried[order.front()]]};
    } else if (!file_.size.goal.empty() && !file_.size.limit.empty()) {
      for (const std::size_t i : best_two(order, &TriedSize::goal)) {
        for (const std::size_t j : best_two(order, &TriedSize::limit)) {
          if (all[tried[i]].of != all[tried[j]].of) {
            try_with({&all[tried[i]], &all[tried[j]]});
          }
        }
      }
      if (!sizing_.together.empty()) { // the best pair came last
        sizing_.together.erase(sizing_.together.begin(), sizing_.together.end() - 1);
      }
    }
    if (chosen.empty()) {
      return;
    }
    for (const std::size_t i : order) {
      const Help& next = all[tried[i]];
      if (reached.front() < level() && std::ranges::count(chosen, next.of, &Help::of) == 0) {
        std::vector<const Help*> more = chosen;
        more.push_back(&next);
        try_with(std::move(more));
      }
    }
    sizing_.helped = search(with(chosen));
  }

  /// The helps that do most for one of goal and limit.
  [[nodiscard]] std::vector<std::size_t> best_two(std::vector<std::size_t> helps,
                                                  RunsMet TriedSize::*which) const {
    std::ranges::stable_sort(helps, std::greater<>(),
                             [&](std::size_t i) { return (sizing_.helps[i].*which).count(); });
    helps.resize(std::min<std::size_t>(helps.size(), 2));
    return helps;
  }

  const SizeOptions& options_;
  PileFile file_;
  std::uint64_t seed_;
  ProgressLine line_;
  Sizing sizing_;
  std::size_t tries_ = 0;
};

} // namespace

int size_command(const SizeOptions& options) {
  std::error_code not_there;
  if (!options.output.empty() &&
      std::filesystem::equivalent(options.output, options.pile, not_there)) {
    throw InputError(fmt::format("--output {}", options.output), "is the pile file itself",
                     "write to another name");
  }
  if (!options.output.empty()) {
    // That it cannot be written is told before the work and not after it.
    const engine::AtomicFile probe(options.output);
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
  std::string not_saved;
  if (!options.output.empty()) {
    try {
      engine::write_results_file(options.output, sizing_dataset(sizing, context));
      saved.push_back(options.output);
    } catch (const FileError& error) {
      not_saved = error.what();
    }
  }
  if (options.json) {
    write_stdout(sizing_json(sizing, context).dump(2) + "\n");
  } else if (!options.quiet) {
    write_stdout(sizing_text(sizing, saved, locale_is_utf8(), options.units));
  }
  if (!not_saved.empty()) { // the answer stands all the same
    throw FileError(not_saved);
  }
  return 0;
}

} // namespace heapcast::cli
